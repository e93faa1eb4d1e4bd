"""What a site's own nights teach: forecast low against observed low."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from frostalert.model.assessment import NightKind


class LeadClass(StrEnum):
    """How far ahead a low was forecast: other models stand behind other leads."""

    TONIGHT = "tonight"
    TOMORROW = "tomorrow"
    LATER = "later"


class PairOrigin(StrEnum):
    """Whose thermometer a night's low was read on, and whether an archive told it."""

    OWN = "own"
    STATION = "station"
    ARCHIVE = "archive, own thermometer"
    ARCHIVE_STATION = "archive, station"

    @property
    def is_station(self) -> bool:
        """Whether it is of an official station, which stands elsewhere."""
        return self in (PairOrigin.STATION, PairOrigin.ARCHIVE_STATION)

    @property
    def is_archived(self) -> bool:
        """Whether an archive told it, not a forecast that the program saw itself."""
        return self in (PairOrigin.ARCHIVE, PairOrigin.ARCHIVE_STATION)

    @property
    def weight(self) -> float:
        """What such a night counts beside one of the site's own. [1]

        A station tells of the source's error, and of its own place; an archive holds
        each hour as it was forecast a day before. Common practice, no source.
        """
        return 0.5 ** (self.is_station + self.is_archived)


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastObservation:
    """One night's low by one source's forecast, and as it was observed.

    Attributes
    ----------
    kind : NightKind
        What that forecast made of the night.
    lead : LeadClass
        How far ahead it was made.
    forecast_low_c, observed_low_c : float
        The source's uncorrected low, and the reference sensor's. [degC]
    origin : PairOrigin
        Whose thermometer that was.
    station, distance_km : str, float
        Which official station, and how far from the site. [km] Empty, and zero, for the
        site's own thermometer.
    """

    night: date
    source: str
    kind: NightKind
    forecast_low_c: float
    observed_low_c: float
    lead: LeadClass = LeadClass.TONIGHT
    origin: PairOrigin = PairOrigin.OWN
    station: str = ""
    distance_km: float = 0.0

    @property
    def error_c(self) -> float:
        """Observed less forecast: negative where the site is colder. [degC]"""
        return self.observed_low_c - self.forecast_low_c


@dataclass(frozen=True, slots=True, kw_only=True)
class NowcastPair:
    """One clear calm night's low as it was guessed after sunset, and as it came.

    Attributes
    ----------
    guess_c, low_c : float
        By the cooling curve from two hours after sunset, without what the site had
        taught; and by the same thermometer in the morning. [degC]
    version : int
        Of the way to guess: what another one missed says nothing of this one.
    """

    night: date
    guess_c: float
    low_c: float
    version: int

    @property
    def error_c(self) -> float:
        """Low less guess: negative where the air fell further. [degC]"""
        return self.low_c - self.guess_c


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """What is known of one source, or of the nowcast, on one kind of night here.

    Attributes
    ----------
    bias_c : float
        Shrunk mean error. [degC]
    applied_c : float
        What of it is counted. [degC]
    sigma_c : float or None
        Standard error of the low that is left. [degC] None until it may be believed.
    nights, archive_nights : int
        How many nights it rests on, and how many of them come out of an archive.
    """

    bias_c: float
    applied_c: float
    sigma_c: float | None
    nights: int
    archive_nights: int = 0

    @property
    def words(self) -> str:
        """What it rests on."""
        nights = "1 night" if self.nights == 1 else f"{self.nights} nights"
        if not self.archive_nights:
            return nights
        return f"{nights}, {self.archive_nights} of them from archives"


@dataclass(frozen=True, slots=True, kw_only=True)
class GainNight:
    """What one equipment gained over the open air in one night. [degC]"""

    equipment: str
    night: date
    delta_c: float
