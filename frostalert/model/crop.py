"""What a crop's table says: one row a stage, every number with its source."""

from dataclasses import dataclass
from enum import StrEnum

COLDEST_C, WARMEST_C = -45.0, 3.0


class Organ(StrEnum):
    """What freezes first at the stage: decides how fast it loses heat."""

    BUD = "bud"
    LEAF = "leaf"


# Compared by identity: rows live as long as the program, and are looked up often.
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StageThreshold:
    """Critical temperatures of one stage.

    Attributes
    ----------
    t10_c, t90_c : float or None
        Tissue temperature that kills 10 % or 90 % of buds in 30 minutes. [degC]
    damage_begins_c : float or None
        Where only a single "damage begins" or "can tolerate" value is published. [degC]
    warning_c : float or None
        A warmer 10 % value from another published table, used for warnings only. [degC]
    source : str
        Where the numbers were published, or "from memory".
    is_bloom : bool
        Whether the stage lies between first pink and petal fall, where buds hurry.
    is_alike : bool
        Whether cultivars are published to be alike here, so that none is hardier.
    aged_c : float or None
        Where damage begins after `aged_days` at the stage, though it looks the same.
        [degC]
    aged_days : int
        Age from which that counts. [d]
    """

    stage: str
    organ: Organ
    t10_c: float | None
    t90_c: float | None
    damage_begins_c: float | None
    warning_c: float | None
    source: str
    note: str = ""
    is_bloom: bool = False
    is_alike: bool = False
    aged_c: float | None = None
    aged_days: int = 0

    def __post_init__(self) -> None:
        """Refuse a row that says nothing, or in which 90 % is lost before 10 %."""
        if self.t10_c is None and self.damage_begins_c is None:
            message = f"stage {self.stage!r} has neither t10 nor damage_begins"
            raise ValueError(message)
        if not COLDEST_C <= self.alarm_c <= WARMEST_C:
            message = (
                f"stage {self.stage!r} warns at {self.alarm_c:.1f} degC, which cannot "
                "be meant: a point between -45 and 3 degC is"
            )
            raise ValueError(message)
        if (
            self.t10_c is not None
            and self.t90_c is not None
            and self.t90_c >= self.t10_c
        ):
            message = f"stage {self.stage!r} has a t90 that is not colder than its t10"
            raise ValueError(message)
        if self.aged_c is not None and not self.alarm_c < self.aged_c <= WARMEST_C:
            message = f"stage {self.stage!r} has an aged value that is not warmer"
            raise ValueError(message)

    @property
    def alarm_c(self) -> float:
        """The temperature that warnings are measured against. [degC]"""
        for value in (self.warning_c, self.t10_c, self.damage_begins_c):
            if value is not None:
                return value
        raise AssertionError  # pragma: no cover - refused by __post_init__

    @property
    def alarm_name(self) -> str:
        """What that temperature is called."""
        if self.warning_c is not None:
            return "10 % kill, the warmer of two published tables"
        return "10 % kill" if self.t10_c is not None else "damage begins"

    @property
    def has_curve(self) -> bool:
        """Whether a kill curve can be drawn."""
        return self.t10_c is not None and self.t90_c is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstStage:
    """The least warmth since midwinter after which a stage was seen.

    Attributes
    ----------
    stage : str
        Stage of the crop's table.
    need_cd : float
        Degree-days since 1 January, 1 July in the south. [degC d]
    base_c : float
        Temperature above which warmth counts. [degC]
    source : str
        Where it was published.
    """

    stage: str
    need_cd: float
    base_c: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop:
    """A crop with its stages, the hardiest first.

    Attributes
    ----------
    exposure_minutes : float
        The exposure that the table speaks of. [min]
    needed_pct : float or None
        Share of the blossoms that makes a full crop. [%] None where none is published.
    needed_source : str
        Where that share was published.
    aliases : tuple of str
        Other names of the same plant.
    is_evergreen : bool
        Whether it keeps its leaves, so that no calendar makes it dormant.
    dormant : StageThreshold or None
        What dormant buds or wood bear. None where it was not published.
    first_stage : FirstStage or None
        The fastest published warmth to a stage. None where none is published.
    """

    name: str
    title: str
    exposure_minutes: float
    stages: tuple[StageThreshold, ...]
    needed_pct: float | None = None
    needed_source: str = ""
    notes: tuple[str, ...] = ()
    aliases: tuple[str, ...] = ()
    is_evergreen: bool = False
    dormant: StageThreshold | None = None
    first_stage: FirstStage | None = None

    @property
    def stage_names(self) -> list[str]:
        """Names of the stages, in order."""
        return [row.stage for row in self.stages]
