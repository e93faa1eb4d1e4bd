"""What an assessment found: one record a night, one in it for each block."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from frostalert.model.block_values import BudLow, MeasuredNight
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
    snow_chance : float
        Highest chance of snow in an hour of the whole night, 0 to 1.
    """

    calm: float
    open_sky: float
    wind_mps: float | None
    has_sky: bool
    evening_wet_chance: float
    evening_high_c: float
    snow_chance: float = 0.0


FAR_APART_C = 3.0
_SNOWS = 0.5
"""Chance of snow from which a night is one that snows; common practice, no source."""
"""Spread of the sources beyond which they are said to disagree. [degC] Common practice,
no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StageInForce:
    """The stage that counts, and whether it was seen or assumed.

    `threshold` is None where there is nothing to compare with: harvested, or dormant
    without a published limit; `is_muted` says so. `unseen_since` is the day from which
    the crop counts as awake, where nobody has looked at the block this season: its
    stage cannot be judged then.
    """

    stage: str
    threshold: StageThreshold | None
    is_assumed: bool
    is_muted: bool
    reason: str
    unseen_since: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockNight(MeasuredNight):
    """One block on one night: what was measured of it, and what that means.

    Attributes
    ----------
    air_low_c : float or None
        The source's own low, before any correction. [degC]
    why_deciding : str
        Why the dry or the wet bud decides.
    calls_hands, hands_reason : bool, str
        Whether the night is worth calling people out for, and why.
    adverse_start_utc, adverse_source : datetime or None, str
        When protection must be running if the source that turns cold first is right,
        and which one that is; None where that is not before the centre's own hour.
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
    dry: BudLow | None = None
    wet: BudLow | None = None
    is_wet: bool = False
    site_low_c: float | None = None
    dewpoint_at_low_c: float | None = None
    wet_bulb_at_low_c: float | None = None
    wet_bulb_low_c: float | None = None
    wet_bulb_above_zero_utc: datetime | None = None
    air_above_zero_utc: datetime | None = None
    past_low_c: float | None = None
    past_low_utc: datetime | None = None
    wet_probability: float | None = None
    low_sigma_c: float = 0.0
    sigma_c: float = 0.0
    probability: float | None = None
    night_probability: float | None = None
    probability_below_t10: float | None = None
    expected_kill_pct: float | None = None
    kill_dry_pct: float | None = None
    kill_wet_pct: float | None = None
    left_before_pct: float | None = None
    crop_loss_pct: float | None = None
    start_air_c: float | None = None
    water_start_utc: datetime | None = None
    calls_hands: bool = False
    hands_reason: str = ""
    adverse_start_utc: datetime | None = None
    adverse_source: str = ""
    why: dict[str, str] = field(default_factory=dict)

    @property
    def severity(self) -> tuple[bool, bool, float]:
        """What blocks are ranked by: to be started now, at risk, chance of harm."""
        return self.tier is Tier.ACT, self.tier.rank > 0, self.probability or 0.0

    @property
    def bud(self) -> BudLow | None:
        """The bud that decides."""
        return self.wet if self.is_wet else self.dry

    @property
    def deciding(self) -> str | None:
        """Which bud that is, "dry" or "wet"; None without numbers."""
        if self.bud is None:
            return None
        return "wet" if self.is_wet else "dry"

    @property
    def danger_start_utc(self) -> datetime | None:
        """First hour in which harm can begin."""
        bud = self.bud
        return None if bud is None else bud.first_below_utc or bud.night_low_utc

    @property
    def danger_end_utc(self) -> datetime | None:
        """When the cold is over."""
        return None if self.bud is None else self.bud.over_utc

    @property
    def running_by_utc(self) -> datetime | None:
        """When protection must be running: water goes on before harm can begin."""
        return self.adverse_start_utc or self.water_start_utc or self.danger_start_utc


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherLow:
    """A night's low by another source.

    Attributes
    ----------
    low_c, corrected_c : float
        As it gives it, and with what its past nights here have taught. [degC]
    """

    source: str
    low_c: float
    corrected_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteLow:
    """What all sources together say of a night's low at the site.

    Attributes
    ----------
    low_c : float or None
        Their centre, by which the night is judged. [degC] None where the first source
        lacks hours and gives no minimum of its own.
    first_c : float or None
        What the first source says, with what its past nights have taught. [degC]
    sigma_c : float
        Standard error of the sources. [degC]
    site_sigma_c : float
        What is not known of the site, to be added once; zero once it is learned. [degC]
    spread_c : float
        From the coldest source to the warmest. [degC]
    others : tuple of OtherLow
        What the other sources say.
    """

    low_c: float | None
    first_c: float | None
    sigma_c: float
    site_sigma_c: float
    spread_c: float = 0.0
    others: tuple[OtherLow, ...] = ()

    @property
    def are_far_apart(self) -> bool:
        """Whether the sources disagree so far that the colder ones count more."""
        return self.spread_c > FAR_APART_C


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
    heat_out_utc : datetime or None
        The same for heat: by the air, whatever the wet bulb.
    lacks_past_hours : bool
        Whether hours of this night that have gone by are unknown.
    low_c : float or None
        The source's own low to come. [degC] None where hours are missing and the source
        gives no minimum of its own: the low of the known ones is not the night's.
    past_low_c : float or None
        The source's low of the hours gone by since it began to cool. [degC]
    site_low : SiteLow or None
        What all sources together say of the night; None where there is no forecast.
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
    heat_out_utc: datetime | None
    lacks_past_hours: bool
    missing: str
    blocks: Sequence[BlockNight]
    low_c: float | None = None
    past_low_c: float | None = None
    site_low: SiteLow | None = None

    @property
    def other_lows(self) -> tuple[OtherLow, ...]:
        """What the other sources say of it."""
        return () if self.site_low is None else self.site_low.others

    @property
    def is_complete(self) -> bool:
        """Whether every hour to come is known, by a forecast that is not too old."""
        return not self.missing

    @property
    def at_risk(self) -> tuple[BlockNight, ...]:
        """The blocks at risk, as configured."""
        return tuple(block for block in self.blocks if block.tier.rank)

    @property
    def snowed_blossom(self) -> tuple[str, ...]:
        """The blocks in blossom, on a night that snows: there snow is left to lie."""
        if self.signs is None or self.signs.snow_chance < _SNOWS:
            return ()
        rows = ((item.block, item.stage.threshold) for item in self.blocks)
        return tuple(name for name, row in rows if row is not None and row.is_bloom)

    @property
    def worst(self) -> BlockNight | None:
        """The block most at risk, or None if no block could be judged.

        One that is at risk by the source's own minimum alone has no chance of harm.
        """
        judged = [block for block in self.blocks if block.probability is not None]
        return max(
            judged or self.at_risk, key=lambda block: block.severity, default=None
        )

    @property
    def likeliest(self) -> BlockNight | None:
        """The block whose numbers stand at the head: the likeliest to be harmed.

        Not the first that must be started: then the numbers would change from one
        message to the next while the forecast does not.
        """
        judged = [block for block in self.blocks if block.probability is not None]
        return max(
            judged or self.at_risk,
            key=lambda block: (block.tier.rank > 0, block.probability or 0.0),
            default=None,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastFacts:
    """Where the numbers come from and how old they are.

    `doubts` are the notes that somebody should look into: they stand in a warning
    itself, the others where all numbers do.
    """

    source: str
    source_title: str
    place: str
    updated_utc: datetime
    fetched_utc: datetime
    elevation_m: float | None
    age_word: str
    notes: tuple[str, ...]
    doubts: tuple[str, ...] = ()


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
