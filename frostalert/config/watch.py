"""Schema of what watches the service, and of the page to answer on."""

import re
from ipaddress import ip_address
from urllib.parse import urlsplit

from pydantic import Field, field_validator, model_validator

from frostalert.config.section import LOOPBACK, Section, checked_https

_HOST = re.compile(r"^[A-Za-z0-9.:-]+$")
_ADDRESS = re.compile(
    r"https?://(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9.-]+)(:[0-9]+)?(/[\w.~/-]*)?"
)


class WatcherSection(Section):
    """Who notices when the service dies. A dead service looks like good weather."""

    url: str | None = Field(
        default=None,
        description="Address that is asked for after each complete healthy cycle; "
        "whoever runs it should raise an alarm when two hours pass without.",
        examples=["https://watch.example/heron-bench?state=well"],
    )
    fail_url: str | None = Field(
        default=None,
        description="Address to which the reason is posted when something is wrong.",
        examples=["https://watch.example/heron-bench?state=wrong"],
    )
    checked_by: str | None = Field(
        default=None,
        min_length=3,
        max_length=120,
        description="Or what runs `frostalert health` from another machine, in words.",
        examples=["cron on the barn computer, every 30 min"],
    )

    @field_validator("url", "fail_url")
    @classmethod
    def _is_https(cls, value: str | None) -> str | None:
        """Refuse a plain connection to another machine."""
        return None if value is None else checked_https(value)

    @model_validator(mode="after")
    def _names_one(self) -> "WatcherSection":
        """Refuse a watcher that nobody is."""
        if self.url is None and self.checked_by is None:
            message = "give url, or say in checked_by what runs frostalert health"
            raise ValueError(message)
        return self


class StatusSection(Section):
    """A status page of static files, written after every look at the forecast."""

    directory: str | None = Field(
        default=None,
        description="Folder that the page is written to; let a web server of yours "
        "show it. Off without one.",
        examples=["/var/lib/frostalert/status"],
    )


class WebSection(Section):
    """The page on which people answer (needs the extra "web" and its own process)."""

    host: str = Field(
        default="127.0.0.1",
        description="Address to listen on; this machine alone unless you change it.",
        examples=["127.0.0.1"],
    )
    port: int = Field(
        default=8437, ge=1, le=65535, description="Port to listen on.", examples=[8437]
    )
    public_url: str = Field(
        description="How people's phones reach the page; it stands in the messages.",
        examples=["https://frost.heron-bench.example"],
    )

    @field_validator("host")
    @classmethod
    def _a_host(cls, value: str) -> str:
        """Refuse what is not a name or a number."""
        if not _HOST.fullmatch(value):
            message = f'"{value}" is not an address to listen on, like "127.0.0.1"'
            raise ValueError(message)
        return value

    @field_validator("public_url")
    @classmethod
    def _an_address(cls, value: str) -> str:
        """Refuse what is not an address; plain http is for a network of one's own."""
        if not _is_plain_address(value):
            message = (
                f'"{value}" is not an address that begins with https://; it may have a '
                "port and a path, and neither a name to log in by nor ? or #"
            )
            raise ValueError(message)
        parts = urlsplit(value)
        if parts.scheme == "http" and not _is_own_network(parts.hostname or ""):
            message = "outside your own network the page needs https://"
            raise ValueError(message)
        return value.rstrip("/")


def _is_plain_address(value: str) -> bool:
    """Return whether links can be made of an address by writing on."""
    if not _ADDRESS.fullmatch(value):
        return False
    try:
        parts = urlsplit(value)
        return bool(parts.hostname) and parts.port != 0
    except ValueError:
        return False


def _is_own_network(host: str) -> bool:
    """Return whether an address lies in a network of one's own."""
    if host in LOOPBACK or host.endswith(".local"):
        return True
    try:
        return ip_address(host).is_private
    except ValueError:
        return False
