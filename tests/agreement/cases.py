"""Random states of the world, each drawn from its seed alone."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

import numpy as np

from tests.agreement.weather import Weather

BEGUN_BEFORE = timedelta(hours=6)
"""How long before the earlier forecast a service that hears of it may have begun."""
ZONE = ZoneInfo("America/Los_Angeles")
SITE_ELEVATION_M = 125.0
SENSOR = "Post"
_DAY, HOUR = timedelta(days=1), timedelta(hours=1)


class Trouble(StrEnum):
    """What is wrong with the sources at the moment that counts."""

    NONE = "two fresh sources"
    ONE_SOURCE = "one source is configured"
    FIRST_STALE = "the first source is stale"
    SECOND_OLD = "the second source answers no more, its last run is old"
    FIRST_MISSING = "the first source never answered"
    SECOND_MISSING = "the second source never answered"


class Reads(StrEnum):
    """What a thermometer reads against the forecast."""

    NOTHING = "nothing"
    COLD = "cold"
    WARM = "warm"


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """A block of the planting, with what is there for it."""

    name: str
    crop: str
    stage: str
    stage_age_days: int
    height: str
    cold_spot_f: float
    equipment: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One state of the world.

    Attributes
    ----------
    earlier_utc : datetime or None
        When the service looked first; None if only at `now_utc`.
    now_utc : datetime
        The minute that counts, unless a start of the plan names a nearer one.
    start_lead : timedelta or None
        How long before the first start of the plan it is to be; None leaves `now_utc`.
    grid_age : timedelta
        How old the grid is that is answered at `now_utc`.
    pairs : tuple of (source, nights, error_c)
        What was learned of each source.
    warm_days : float or None
        Warmest air of the past days. [degC] None if nothing of them is known.
    gain_nights, gain_c : int, float
        Nights in which the heaters' gain was measured, `gain_c` in each. [degC]
    """

    seed: int
    night: date
    earlier_utc: datetime | None
    now_utc: datetime
    start_lead: timedelta | None
    trouble: Trouble
    grid: Weather
    point: Weather
    grid_first: bool
    grid_age: timedelta
    is_us: bool
    blocks: tuple[Plant, ...]
    pairs: tuple[tuple[str, int, float], ...]
    reads: Reads
    read_by_c: float
    warm_days: float | None
    gain_nights: int
    gain_c: float
    is_answered: bool
    crop_value: bool

    @property
    def sources(self) -> tuple[str, ...]:
        """Names of the configured sources in order."""
        if self.trouble is Trouble.ONE_SOURCE:
            return ("nws",)
        both = ("nws", "open-meteo")
        return both if self.grid_first else both[::-1]

    @property
    def can_be_replayed(self) -> bool:
        """Whether neither readings nor learning nor answers play a part."""
        return not (self.pairs or self.is_answered or self.gain_nights) and (
            self.reads is Reads.NOTHING and self.warm_days is None
        )


BLOCKS = (
    ("Lane", "apricot", ("first white", "first bloom", "full bloom"), "Line"),
    ("Wall", "sweet-cherry", ("tight cluster", "open cluster", "first white"), "Pots"),
    ("Bed", "strawberry", ("tight bud", "popcorn", "open blossom"), "Cloth"),
)
_HEIGHTS = {"Lane": "9 ft", "Wall": "9 ft", "Bed": "6 in"}


def draw_case(seed: int) -> Case:
    """Return the case of a seed."""
    random = np.random.default_rng([seed, 71])
    day = datetime(2026, 4, 3, tzinfo=UTC) + int(random.integers(0, 24)) * _DAY
    trouble = _trouble(random)
    earlier, now, lead = _moments(random, day.date(), trouble)
    grid, point = _weathers(random, day, -1.0 if lead is not None else 3.0)
    plain = random.random() < 0.22  # nothing that a replay must leave out
    reads = Reads.NOTHING
    if not plain and random.random() < 0.6:
        reads = Reads.COLD if random.random() < 0.55 else Reads.WARM
    is_learned = not plain and random.random() < 0.6
    age = timedelta(minutes=float(random.integers(20, 120)))
    if trouble is Trouble.FIRST_STALE:
        age = timedelta(hours=float(random.uniform(15.0, 20.0)))
    return Case(
        seed=seed,
        night=day.date(),
        earlier_utc=earlier,
        now_utc=now,
        start_lead=lead,
        trouble=trouble,
        grid=grid,
        point=point,
        grid_first=trouble is not Trouble.NONE or bool(random.random() < 0.8),
        grid_age=age,
        is_us=bool(random.random() < 0.6),
        blocks=_blocks(random, needs_start=lead is not None),
        pairs=_pairs(random) if is_learned else (),
        reads=reads,
        read_by_c=float(random.uniform(2.0, 5.0)),
        warm_days=float(random.uniform(14.0, 25.0))
        if not plain and random.random() < 0.7
        else None,
        gain_nights=int(random.integers(3, 7))
        if not plain and random.random() < 0.3
        else 0,
        gain_c=0.1 if random.random() < 0.6 else 2.5,
        is_answered=not plain and bool(random.random() < 0.5),
        crop_value=bool(random.random() < 0.5),
    )


def _trouble(random: np.random.Generator) -> Trouble:
    """Return what is wrong with the sources: in half of the cases nothing."""
    kinds = list(Trouble)
    chances = (0.48, 0.2, 0.09, 0.08, 0.07, 0.08)
    return kinds[int(random.choice(len(kinds), p=chances))]


def _moments(
    random: np.random.Generator, night: date, trouble: Trouble
) -> tuple[datetime | None, datetime, timedelta | None]:
    """Return when the service looked first, the minute that counts, and its lead."""
    noon = datetime.combine(night, datetime.min.time(), tzinfo=ZONE).replace(hour=12)
    drawn = random.random()
    minute = timedelta(minutes=int(random.integers(0, 60)))
    lead = None
    if drawn < 0.65:
        earlier: datetime | None = noon + 5 * HOUR + minute
        now = noon + 12 * HOUR + minute
        if trouble not in (Trouble.FIRST_STALE, Trouble.SECOND_OLD):
            lead = timedelta(minutes=int(random.integers(0, 10)))
    elif drawn < 0.8:
        earlier = noon + 3 * HOUR + minute
        now = noon + int(random.integers(8, 18)) * HOUR + minute
    else:
        earlier = None if random.random() < 0.6 else noon - 3 * HOUR
        now = noon + int(random.integers(1, 7)) * HOUR + minute
    if trouble is Trouble.SECOND_OLD:
        earlier = now - timedelta(hours=float(random.uniform(15.0, 18.0)))
    return (
        earlier.astimezone(UTC) if earlier is not None else None,
        now.astimezone(UTC),
        lead,
    )


def _weathers(
    random: np.random.Generator, day: datetime, mildest_c: float
) -> tuple[Weather, Weather]:
    """Return what the two sources say; of the first the mildest low of tonight."""
    lows = [float(random.uniform(-3.5, mildest_c))]
    lows += [float(random.uniform(-2.0, 7.0)) for _ in range(4)]
    highs = [low + float(random.uniform(9.0, 15.0)) for low in lows]
    apart = float(random.normal(0.0, 2.5))
    is_calm = random.random() < 0.75
    dry, wind = float(random.uniform(1.0, 6.0)), 1.0 if is_calm else 6.5
    cloud = float(random.choice([0.0, 10.0, 40.0])) if is_calm else 60.0
    height = SITE_ELEVATION_M + float(random.choice([0.0, 150.0, -120.0]))
    deficit = float(random.uniform(0.4, 2.2)) if random.random() < 0.6 else None
    grid = Weather(
        first_day_utc=day,
        lows_c=tuple(lows),
        highs_c=tuple(highs),
        dry_by_c=dry,
        wind_mps=wind,
        cloud_pct=cloud,
        minimum_deficit_c=deficit,
        cell_elevation_m=height,
    )
    point = Weather(
        first_day_utc=day,
        lows_c=tuple(low + apart for low in lows),
        highs_c=tuple(high + apart / 2.0 for high in highs),
        dry_by_c=dry + 0.5,
        wind_mps=wind + 0.5,
        cloud_pct=cloud,
        minimum_deficit_c=None,
        cell_elevation_m=SITE_ELEVATION_M,
    )
    return grid, point


def _blocks(random: np.random.Generator, *, needs_start: bool) -> tuple[Plant, ...]:
    """Return two or three blocks, most of them with something to protect them."""
    kept = sorted(random.permutation(len(BLOCKS))[: int(random.integers(2, 4))])
    found = []
    for place in kept:
        name, crop, stages, equipment = BLOCKS[place]
        has_it = random.random() < 0.75 or (needs_start and equipment == "Pots")
        found.append(
            Plant(
                name=name,
                crop=crop,
                stage=str(random.choice(stages)),
                stage_age_days=int(random.integers(0, 11)),
                height=_HEIGHTS[name],
                cold_spot_f=float(random.choice([0.0, -1.0, -2.0, -3.0])),
                equipment=equipment if has_it else None,
            )
        )
    return tuple(found)


def _pairs(random: np.random.Generator) -> tuple[tuple[str, int, float], ...]:
    """Return what was learned: for one source or for both, mostly colder."""
    found = []
    for source in ("nws", "open-meteo"):
        if source == "nws" or random.random() < 0.7:
            error = float(random.uniform(-3.0, 1.5))
            found.append((source, int(random.integers(4, 22)), error))
    return tuple(found)
