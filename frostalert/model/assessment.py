"""What an assessment found: one record a night, one in it for each block."""

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from frostalert.model.crop import StageThreshold
from frostalert.model.official import OfficialWord


class Tier(StrEnum):
    """How urgent a night is. The first four are in order; the others stand beside."""

    NONE = "none"
    OUTLOOK = "outlook"
    PREPARE = "prepare"
    ACT = "act"
    CANNOT_JUDGE = "cannot-judge"
    NOT_COVERED_YET = "not-covered-yet"

    @property
    def rank(self) -> int:
        """Place in the order none < outlook < prepare < act; 0 for those beside it."""
        return _RANKS.get(self, 0)


_RANKS = {Tier.OUTLOOK: 1, Tier.PREPARE: 2, Tier.ACT: 3}


class LowFrom(StrEnum):
    """Which of the source's values gave the low."""

    HOURS = "hours"
    NIGHT_MINIMUM = "night minimum"


class NightKind(StrEnum):
    """Kind of freeze: it decides what can work against it."""

    RADIATION = "radiation frost"
    ADVECTION = "advection freeze"
    MIXED = "mixed"
    WET_THEN_CLEARING = "wet, then clearing"


@dataclass(frozen=True, slots=True, kw_only=True)
class NightSigns:
    """What the kind is told by.

    Attributes
    ----------
    calm : float
        Mean calm weight from sunset to the low, 0 to 1.
    open_sky : float
        Mean open sky over the same hours, 0 to 1.
    wind_mps : float or None
        Mean wind at 10 m. [m/s] None where the forecast has none.
    has_sky : bool
        Whether the forecast has cloud; without it a clear sky is assumed.
    evening_wet_chance : float
        Highest chance of rain or snow from noon to the low, 0 to 1.
    evening_high_c : float
        Highest air temperature from noon on. [degC]
    """

    calm: float
    open_sky: float
    wind_mps: float | None
    has_sky: bool
    evening_wet_chance: float
    evening_high_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StageInForce:
    """The stage that counts, and whether it was seen or assumed.

    `threshold` is None where there is nothing to compare with: dormant, harvested,
    or a "dormant" too old to believe; `is_muted` tells the first two from the last.
    """

    stage: str
    threshold: StageThreshold | None
    is_assumed: bool
    is_muted: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """Where a temperature curve goes against the temperatures that hurt.

    Attributes
    ----------
    low_c : float
        Coldest mean over the table's exposure time, as a rule 30 minutes. [degC]
    low_utc : datetime
        Middle of that time.
    first_below_utc, last_below_utc : datetime or None
        First and last crossing of the alarm temperature; None if it stays above.
    hours_below : float
        Hours at or below the alarm temperature. [h]
    """

    low_c: float
    low_utc: datetime
    first_below_utc: datetime | None
    last_below_utc: datetime | None
    hours_below: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockNight:
    """One block on one night.

    Attributes
    ----------
    air_low_c, site_low_c : float or None
        The source's own low, and the block's air after every correction. [degC]
    dewpoint_at_low_c, wet_bulb_low_c : float or None
        At the hour of the low, and the lowest of the night. [degC]
    dry, wet : Exposure or None
        Buds dry and buds wet. `wet` is None where humidity is missing.
    wet_probability : float or None
        Chance that buds are wet when it is coldest. [0..1]
    deciding : str
        "dry" or "wet": which of the two decides, with the reason in `why_deciding`.
    sigma_c : float
        Standard error of the deciding low, the thresholds' error included. [degC]
    probability : float or None
        Chance that the deciding low reaches the alarm temperature. [0..1]
    probability_below_t10 : float or None
        Chance that it reaches T10, where the crop has one. [0..1]
    hours_below_t10, hours_below_t90 : float or None
        Hours that the deciding bud spends at or below them. [h]
    expected_kill_pct, kill_dry_pct, kill_wet_pct : float or None
        Share of buds killed: mean over the error, and at the dry and wet lows. [%]
    left_before_pct : float or None
        Share of the season's buds left before this night. [%]
    crop_loss_pct : float or None
        Expected loss of crop from this night, by the share of blossoms that a full crop
        needs. [%] None where no such share, or no curve, is published.
    start_air_c : float or None
        Air temperature at which the wet bulb reaches the start of watering, at the dew
        point of the low. [degC] None where no water is planned.
    water_start_utc : datetime or None
        When the wet bulb is forecast to fall to the start of watering, between sunset
        and the first hour of harm. None where no water is expected to be put on.
    danger_start_utc, danger_end_utc : datetime or None
        First hour in which harm can begin, and when it is over.
    wet_bulb_above_zero_utc : datetime or None
        When the wet bulb is forecast to rise above 0 degC for good; None if it never
        falls below, or stays below as far as the night is known.
    why : dict
        For every missing value, the reason; keys are names of the JSON document.
    """

    block: str
    crop: str
    stage: StageInForce
    tier: Tier
    reason: str
    air_low_c: float | None
    air_low_from: LowFrom | None
    why_deciding: str
    site_low_c: float | None = None
    dewpoint_at_low_c: float | None = None
    wet_bulb_low_c: float | None = None
    wet_bulb_above_zero_utc: datetime | None = None
    dry: Exposure | None = None
    wet: Exposure | None = None
    hours_below_t10: float | None = None
    hours_below_t90: float | None = None
    wet_probability: float | None = None
    deciding: str | None = None
    sigma_c: float = 0.0
    probability: float | None = None
    probability_below_t10: float | None = None
    expected_kill_pct: float | None = None
    kill_dry_pct: float | None = None
    kill_wet_pct: float | None = None
    left_before_pct: float | None = None
    crop_loss_pct: float | None = None
    start_air_c: float | None = None
    danger_start_utc: datetime | None = None
    danger_end_utc: datetime | None = None
    water_start_utc: datetime | None = None
    why: dict[str, str] = field(default_factory=dict)

    @property
    def severity(self) -> tuple[bool, bool, float]:
        """What blocks are ranked by: to be started now, at risk, chance of harm."""
        return self.tier is Tier.ACT, self.tier.rank > 0, self.probability or 0.0

    @property
    def running_by_utc(self) -> datetime | None:
        """When protection must be running: water goes on before harm can begin."""
        return self.water_start_utc or self.danger_start_utc

    @property
    def bud(self) -> Exposure | None:
        """The exposure that decides."""
        return self.wet if self.deciding == "wet" else self.dry


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherLow:
    """A night's low by another source, before any correction. [degC]"""

    source: str
    low_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NightAssessment:
    """One night at the site.

    Attributes
    ----------
    kind : NightKind or None
        None where no hour is known, as is `signs`, what it is told by.
    send_by_utc, act_at_utc : datetime or None
        When preparation must be called for and when work must start; None when no
        block is at risk.
    cold_over_utc : datetime or None
        When the last block's cold hours are over.
    stop_not_before_utc : datetime or None
        Earliest hour at which the forecast allows water to stop; only a measurement
        can say that it may. None if the forecast does not show it.
    lacks_past_hours : bool
        Whether hours of this night that have gone by are unknown.
    low_c : float or None
        The source's own low of the night. [degC]
    other_lows : tuple of OtherLow
        What other sources say of it.
    missing : str
        What is missing of the hours to come, in words; empty if every one is known and
        the forecast is not too old.
    """

    night: date
    start_utc: datetime
    end_utc: datetime
    sunset_utc: datetime | None
    sunrise_utc: datetime | None
    tier: Tier
    reason: str
    kind: NightKind | None
    kind_reason: str
    signs: NightSigns | None
    is_frost_forecast: bool
    send_by_utc: datetime | None
    act_at_utc: datetime | None
    cold_over_utc: datetime | None
    stop_not_before_utc: datetime | None
    lacks_past_hours: bool
    missing: str
    blocks: tuple[BlockNight, ...]
    low_c: float | None = None
    other_lows: tuple[OtherLow, ...] = ()

    @property
    def is_complete(self) -> bool:
        """Whether every hour to come is known, by a forecast that is not too old."""
        return not self.missing

    @property
    def at_risk(self) -> tuple[BlockNight, ...]:
        """The blocks at risk, as configured."""
        return tuple(block for block in self.blocks if block.tier.rank)

    @property
    def worst(self) -> BlockNight | None:
        """The block most at risk, or None if no block could be judged."""
        judged = [block for block in self.blocks if block.probability is not None]
        if not judged:
            return None
        return max(judged, key=lambda block: block.severity)


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastFacts:
    """Where the numbers come from and how old they are."""

    source: str
    source_title: str
    place: str
    updated_utc: datetime
    fetched_utc: datetime
    elevation_m: float | None
    age_word: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """All nights that the forecast reaches, the present one first.

    `forecast` is None when there is no forecast to judge by; `problem` says why.
    `official` is what the weather service itself says: quoted, and never counted.
    """

    issued_utc: datetime
    forecast: ForecastFacts | None
    nights: tuple[NightAssessment, ...]
    problem: str | None = None
    official: OfficialWord | None = None
