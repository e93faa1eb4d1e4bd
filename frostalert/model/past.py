"""Past springs: what archives held of them, and what would have been said."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from frostalert.model.forecast import ForecastRun
from frostalert.model.warmth import Sighting

LATEST = 0
LEAD_DAYS = (1, 2, 3)
"""How long before its hours a forecast was made. [d]"""

Archive = Mapping[int, ForecastRun]
"""One source's hours of a spring by lead: `LATEST` as it had them at last, and those of
`LEAD_DAYS` before. Each holds hours of many runs."""


@dataclass(frozen=True, slots=True, order=True)
class SpringSpan:
    """The nights of one spring that are looked at, by their evenings' dates."""

    first: date
    last: date

    @property
    def year(self) -> int:
        """The year that it is called by."""
        return self.first.year


class TruthKind(StrEnum):
    """What measured the lows that came, the best first."""

    OWN = "own thermometer"
    STATION = "station"
    REANALYSIS = "reanalysis"


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """The lows that came.

    Attributes
    ----------
    name : str
        The file, or the station.
    lows_c : mapping of date to float
        By the evening's date. [degC]
    distance_km, above_m : float or None
        How far a station stands from the site, and how much higher; None where that
        is not known.
    left_out : int
        Nights whose low could not be told from what was measured.
    notes : tuple of str
        How it was read, and what was tried before.
    """

    kind: TruthKind
    name: str
    lows_c: Mapping[date, float]
    distance_km: float | None = None
    above_m: float | None = None
    left_out: int = 0
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PastFacts:
    """All that archives and the user told of some springs.

    Attributes
    ----------
    archives : mapping of SpringSpan to tuple of Archive
        What each source with an archive had said.
    sightings : tuple of Sighting
        When stages were seen; empty where they are estimated.
    without_archive : tuple of str
        Sources of the configuration that keep no archive.
    is_source_asked : bool
        Whether the service asks the archive's source as well, and so can use what its
        pairs teach.
    """

    archives: Mapping[SpringSpan, tuple[Archive, ...]]
    truth: Truth
    sightings: tuple[Sighting, ...] = ()
    without_archive: tuple[str, ...] = ()
    is_source_asked: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockHarm:
    """What a night's low would have done to an unprotected block.

    Attributes
    ----------
    is_harmed : bool
        Whether its buds came down to the alarm temperature.
    is_worth_hands : bool
        Whether hands were needed by what the block is called for.
    kill_pct : float or None
        Share of its living buds. [%] None where no curve is published.
    """

    block: str
    is_harmed: bool
    is_worth_hands: bool
    kill_pct: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PastNight:
    """One night as it would have been judged and called, and what came of it.

    Attributes
    ----------
    source_c, low_c, sigma_c : float or None
        Low of the first source as it gave it a day before, that of all together with
        what past nights had taught, and its standard error. [degC]
    chance : float
        Of harm in the block most at risk. [0..1]
    is_judged : bool
        Whether the archive held its hours.
    is_ready, is_called : bool
        Whether people would have been told to get ready, and called out.
    came_c : float or None
        The low that came. [degC]
    harms : tuple of BlockHarm
        What that would have done; empty where it is not known.
    """

    night: date
    is_judged: bool = False
    source_c: float | None = None
    low_c: float | None = None
    sigma_c: float | None = None
    chance: float = 0.0
    is_ready: bool = False
    is_called: bool = False
    came_c: float | None = None
    harms: tuple[BlockHarm, ...] = ()

    @property
    def is_known(self) -> bool:
        """Whether both what would have been said and what came are known."""
        return self.is_judged and self.came_c is not None

    @property
    def is_harmful(self) -> bool:
        """Whether a block would have been harmed."""
        return any(item.is_harmed for item in self.harms)

    @property
    def is_worth_hands(self) -> bool:
        """Whether hands were needed."""
        return any(item.is_worth_hands for item in self.harms)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """How calls and cold went together, on nights of which both are known.

    Attributes
    ----------
    nights : int
        Nights that are counted.
    harmful, worth_hands : int
        Nights that would have harmed a block, and on which hands were needed.
    ready, ready_needed : int
        Afternoons of getting ready, and those before a harmful night.
    called, called_needed : int
        Nights called out, and those on which hands were needed.
    """

    nights: int = 0
    harmful: int = 0
    worth_hands: int = 0
    ready: int = 0
    ready_needed: int = 0
    called: int = 0
    called_needed: int = 0

    @property
    def ready_missed(self) -> int:
        """Harmful nights for which nobody got ready."""
        return self.harmful - self.ready_needed

    @property
    def called_missed(self) -> int:
        """Nights on which hands were needed and nobody was called."""
        return self.worth_hands - self.called_needed


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockCost:
    """What a spring's nights would have taken from an unprotected block.

    Attributes
    ----------
    lost_pct : float or None
        Share of a full crop. [%] None where no kill curve is published.
    value : float or None
        The same in the site's currency; None where the crop's value is not given.
    """

    block: str
    lost_pct: float | None
    value: float | None


class SettingName(StrEnum):
    """The settings that are compared."""

    PRESENT = "as you have it"
    CAREFUL = "more careful"
    LESS_CAREFUL = "less careful"
    BY_WORTH = "by what it is worth"
    BY_CHANCE = "by the chance alone"
    CROP_LOSS = "by loss of crop"
    FIRST_HARM = "by first harm"


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingResult:
    """One setting, what is to be written for it, and its nights spring by spring.

    Attributes
    ----------
    keys : str
        What the configuration would say.
    why_not : str
        Why it could not be tried; empty if it was.
    """

    name: SettingName
    keys: str = ""
    why_not: str = ""
    springs: Mapping[SpringSpan, tuple[PastNight, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class PastSprings:
    """The answer.

    Attributes
    ----------
    settings : tuple of SettingResult
        The present one first.
    costs : mapping of SpringSpan to tuple of BlockCost
        What each spring would have cost with nothing done.
    stage_years : tuple of int
        Springs of which dates of stages are known; in the others they are estimated.
    sources : tuple of str
        Titles of the archives.
    pairs : int
        Pairs that learning got of it.
    """

    truth: Truth
    settings: tuple[SettingResult, ...]
    costs: Mapping[SpringSpan, tuple[BlockCost, ...]]
    stage_years: tuple[int, ...]
    sources: tuple[str, ...]
    without_archive: tuple[str, ...] = ()
    is_source_asked: bool = True
    pairs: int = 0

    @property
    def present(self) -> SettingResult:
        """The setting as it is."""
        return self.settings[0]
