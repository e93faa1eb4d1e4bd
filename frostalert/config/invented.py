"""What a configuration still has of the invented example, which reaches nobody."""

from urllib.parse import urlsplit

from frostalert.config.schema import SiteSection
from frostalert.config.section import LOOPBACK
from frostalert.config.tables import examples
from frostalert.model.settings import Settings

_RESERVED = (".example", ".invalid", ".test")
_RESERVED_NAMES = ("example.com", "example.net", "example.org")
"""Names that nobody can own: RFC 2606."""


def invented_remarks(settings: Settings) -> list[str]:
    """Return what the example has made up and a user has not put right.

    Parameters
    ----------
    settings : Settings
        A configuration without mistakes.

    Returns
    -------
    list of str
        Remarks; empty if nothing is invented.
    """
    hosts = _hosts(settings)
    addresses = _addresses(settings)
    invented = [
        f"{key} {value} is invented and reaches nobody: put your own in"
        for key, value in [*hosts, *addresses]
    ]
    site, example = settings.farm.site, examples(SiteSection)
    if hosts and (site.latitude, site.longitude) == (
        example["latitude"],
        example["longitude"],
    ):
        invented.insert(
            0,
            "this is the invented example: its place, blocks and people are not yours; "
            "frostalert init writes a file for your place",
        )
    return invented


def _hosts(settings: Settings) -> list[tuple[str, str]]:
    """Return the servers that do not exist, each with its key."""
    email, sms, watcher, web = (
        settings.email,
        settings.sms,
        settings.watcher,
        settings.web,
    )
    urls = {
        "[email] host": None if email is None else f"//{email.host}",
        "[sms] url": None if sms is None else sms.url,
        "[sms] status_url": None if sms is None else sms.status_url,
        "[watcher] url": None if watcher is None else watcher.url,
        "[watcher] fail_url": None if watcher is None else watcher.fail_url,
        "[web] public_url": None if web is None else web.public_url,
    }
    return [
        (key, host)
        for key, url in urls.items()
        if url is not None and _is_reserved(host := _host(url))
    ]


def _addresses(settings: Settings) -> list[tuple[str, str]]:
    """Return the addresses that no mail server elsewhere can know."""
    email = settings.email
    if email is None or email.host in LOOPBACK:
        return []
    found = [(person.name, person.email or "") for person in settings.farm.people]
    found.append(("[email] sender", email.sender))
    return [pair for pair in found if _is_reserved(pair[1].rpartition("@")[2])]


def _host(url: str) -> str:
    """Return the server of an address."""
    try:
        return urlsplit(url).hostname or ""
    except ValueError:
        return ""


def _is_reserved(host: str) -> bool:
    """Return whether a name belongs to nobody."""
    name = host.lower().rstrip(".")
    return name.endswith(_RESERVED) or name in _RESERVED_NAMES
