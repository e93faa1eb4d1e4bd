"""What the configuration says, as plain values for the parts that need them."""

from dataclasses import dataclass, field
from datetime import timedelta
from typing import assert_never

from frostalert.model.channel import ChannelKind
from frostalert.model.secret import Secret
from frostalert.model.site import Farm


@dataclass(frozen=True, slots=True, kw_only=True)
class EmailSettings:
    """The mail server; `security` is "starttls", "tls" or "none"."""

    host: str
    port: int
    security: str
    sender: str
    username: str | None
    password: Secret | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SmsSettings:
    """The HTTP service for text messages; `body` is "form" or "json"."""

    url: str
    body: str
    fields: dict[str, str]
    id_pointer: str
    username: str | None
    password: Secret | None
    status_url: str | None = None
    status_pointer: str = "/status"
    status_delivered: tuple[str, ...] = ()
    status_failed: tuple[str, ...] = ()


ChannelSettings = EmailSettings | SmsSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class WatcherSettings:
    """Who notices when the service dies."""

    url: str | None
    fail_url: str | None
    checked_by: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WebSettings:
    """The page to answer on."""

    host: str
    port: int
    public_url: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceSettings:
    """Where forecasts are asked for; `names` in the order of preference."""

    names: tuple[str, ...]
    contact: str
    nws_url: str
    met_norway_url: str
    open_meteo_url: str
    open_meteo_ensemble_url: str | None = None
    open_meteo_key: Secret | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PastSettings:
    """Where past springs are read from.

    Attributes
    ----------
    csv : str or None
        The thermometer's own file; the columns and the form of its times are named.
    station : str or None
        Identifier of the station to take; None for the nearest.
    at_start : bool
        Whether the service does it once by itself.
    """

    csv: str | None = None
    unit: str = "degF"
    time_column: str = "time"
    value_column: str = "value"
    sensor: str | None = None
    sensor_column: str = "sensor"
    time_format: str | None = None
    zone: str | None = None
    station: str | None = None
    at_start: bool = False
    previous_runs_url: str = "https://previous-runs-api.open-meteo.com"
    reanalysis_url: str = "https://archive-api.open-meteo.com"
    stations_url: str = "https://www.ncei.noaa.gov"


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """The whole configuration, checked.

    Attributes
    ----------
    readings_csv : str or None
        File that thermometers write to, and the unit of its values.
    status_directory : str or None
        Where the status page is written; None for nowhere.
    state_directory : str or None
        Where the state is kept; None for the usual place.
    """

    farm: Farm
    email: EmailSettings | None
    sms: SmsSettings | None
    fetch_every: timedelta
    sources: SourceSettings
    state_directory: str | None
    readings_csv: str | None = None
    readings_unit: str = "degF"
    status_directory: str | None = None
    watcher: WatcherSettings | None = None
    web: WebSettings | None = None
    past: PastSettings = field(default_factory=PastSettings)

    def of_channel(self, kind: ChannelKind) -> ChannelSettings | None:
        """Return what a channel was set up with, if it was."""
        match kind:
            case ChannelKind.EMAIL:
                return self.email
            case ChannelKind.SMS:
                return self.sms
            case _:
                assert_never(kind)
