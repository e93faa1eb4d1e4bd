"""The nights as one look judged them: made once, and handed on to all who speak."""

from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from frostalert.model.assessment import Assessment
from frostalert.model.forecast import FloatArray, ForecastRun
from frostalert.model.hours import BlockHours, SiteHours
from frostalert.model.learned import ForecastObservation, GainNight, NowcastPair
from frostalert.model.official import OfficialWord
from frostalert.model.reading import Reading
from frostalert.model.site import Farm
from frostalert.model.warmth import DayAir, Sighting


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """All that a judgement may rest on.

    Attributes
    ----------
    runs : tuple of ForecastRun
        Runs of every source, the newest first, earlier ones for the hours gone by.
    pairs : tuple of ForecastObservation
        What past nights taught of each source.
    nowcasts : tuple of NowcastPair
        What past nights taught of the nowcast from a thermometer.
    readings : tuple of Reading
        Thermometers of the last hours, believed or not.
    days_air : tuple of DayAir
        How warm the past days were.
    sightings : tuple of Sighting
        When stages were seen, in all years.
    gain_nights : tuple of GainNight
        What equipment gained here.
    official : OfficialWord or None
        What the weather service itself says: quoted, never counted.
    has_history : bool
        Whether the service's state was read: without it nothing was learned or read.
    """

    runs: tuple[ForecastRun, ...]
    pairs: tuple[ForecastObservation, ...] = ()
    nowcasts: tuple[NowcastPair, ...] = ()
    readings: tuple[Reading, ...] = ()
    days_air: tuple[DayAir, ...] = ()
    sightings: tuple[Sighting, ...] = ()
    gain_nights: tuple[GainNight, ...] = ()
    official: OfficialWord | None = None
    has_history: bool = False


class TermName(StrEnum):
    """What a correction of the air is called."""

    NIGHT_MINIMUM = "night minimum"
    USUAL_DEFICIT = "usual deficit"
    LEARNED = "learned"
    POOLED = "pooled"
    READING = "reading"
    NOWCAST = "nowcast"
    LAPSE = "lapse"
    COLD_SPOT = "cold spot"
    GROUND = "ground"


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One named correction of the air, from the source's grid to the plants.

    Attributes
    ----------
    value_c : float
        Its greatest effect. [degC]
    weights : ndarray
        The share of it that each hour takes, 0 to 1. Shape (hours,).
    origin : str
        Where it comes from: a source, a sensor, a kind of night, the configuration.
    night : date or None
        The night that it belongs to; None for a correction of all hours.
    block : str or None
        The block whose air it changes; None for the whole site's.
    """

    name: TermName
    value_c: float
    weights: FloatArray
    origin: str
    night: date | None = None
    block: str | None = None

    def at_c(self, hour: int) -> float:
        """Return its effect in one hour of the grid. [degC]"""
        return self.value_c * float(self.weights[hour])


@dataclass(frozen=True, slots=True, kw_only=True)
class Nights:
    """What one look found.

    Attributes
    ----------
    assessment : Assessment
        Every night and block with its numbers, tier and reason.
    farm : Farm
        The grower's side as it was judged: with the warmth since stages were seen, and
        the error that was learned.
    facts : Facts
        What it rests on.
    site_hours, block_hours : SiteHours, BlockHours or None
        The hours that were judged, one row a block of the farm; None where there was no
        forecast to judge by.
    terms : tuple of Term
        What was added to the source's air, one by one: they sum to the blocks' air.
    confirmed : Nights or None
        The same without a reading that lowers the hours and that nobody has borne out:
        people are warned by it, and what they do is chosen without it, begun by its
        hour. None where there is no such reading.
    """

    assessment: Assessment
    farm: Farm
    facts: Facts
    site_hours: SiteHours | None = None
    block_hours: BlockHours | None = None
    terms: tuple[Term, ...] = field(default=())
    confirmed: "Nights | None" = None
