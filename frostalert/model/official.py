"""What the weather service itself says for a place: its warnings, its thermometer."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class OfficialAlert:
    """One warning of freezing in force, as its office issued it.

    Attributes
    ----------
    identity : str
        Office, kind and number: renewals of one warning share it.
    event, sender : str
        Its name and its office, as given.
    onset_utc, ends_utc : datetime
        From when to when it holds.
    """

    identity: str
    event: str
    sender: str
    sent_utc: datetime
    onset_utc: datetime
    ends_utc: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class StationReport:
    """What the nearest official station measured last.

    Attributes
    ----------
    distance_km : float
        From the site. [km]
    air_c : float
        Air temperature at about 2 m. [degC]
    """

    station: str
    name: str
    distance_km: float
    at_utc: datetime
    air_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OfficialWord:
    """What the weather service said when it was last asked.

    Attributes
    ----------
    asked_utc : datetime or None
        When its warnings were last had; None if never.
    """

    asked_utc: datetime | None
    alerts: tuple[OfficialAlert, ...] = ()
    report: StationReport | None = None
