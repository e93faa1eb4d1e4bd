"""Random looks at random holdings: weather, gaps, ages, crops, stakes, thermometers."""

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

import numpy as np

from frostalert.forecast.nws import parse_grid
from frostalert.model.equipment import Readiness
from frostalert.model.forecast import ForecastRun, Hours
from frostalert.model.nights import Facts
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.model.site import HARVESTED, AlarmAt, Block, Farm, Rules, StartBy
from tests.support.grids import FIRST, frosty_hours, grid_text
from tests.support.holdings import make_block, make_holding

CROPS = (
    ("apricot", "full bloom"),
    ("sweet-cherry", "first white"),
    ("concord-grape", "second leaf"),
    ("strawberry", "popcorn"),
    ("apple", "full bloom"),
    ("apple", "full pink"),
    ("walnut", "dormant"),
    ("pear", HARVESTED),
)
HEIGHTS_M = (0.15, 1.6, 3.0)
COSTS = (("heaters", 35.0), ("wind machine", 20.0))
POST = Sensor(name="post", kind=SensorKind.SHELTERED, block="block 0")
CHECKED = Readiness(thermometers_checked=date(2026, 3, 1))
EVERY = timedelta(minutes=10)
_BEFORE_SUNSET = datetime(2026, 4, 13, 1, 40, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Look:
    """A holding, what is known of it, and the moment."""

    farm: Farm
    facts: Facts
    now_utc: datetime


def draw_look(seed: int, *, most_blocks: int = 12) -> Look:
    """Return the look of a seed."""
    random = np.random.default_rng([seed, 24])
    has_post = bool(random.random() < 0.4)
    now = _moment(random, in_the_night=has_post)
    warmer_c = float(random.normal(1.5, 3.0))
    runs = [_run(random, "nws", now, warmer_c, is_clear=has_post)]
    if random.random() < 0.4:
        runs.append(_run(random, "open-meteo", now, warmer_c + random.normal(0, 2.0)))
    count = int(random.integers(1, most_blocks + 1))
    farm = make_holding(
        *(_block(random, n) for n in range(count)), rules=_rules(random)
    )
    farm = replace(farm, sources=tuple(run.source for run in runs))
    if has_post:
        waits = replace(farm.blocks[0], start_by=StartBy.THERMOMETER)
        rest = farm.blocks[1:]
        farm = replace(farm, blocks=(waits, *rest), sensors=(POST,), readiness=CHECKED)
    if random.random() < 0.05:
        over = (replace(block, stage=HARVESTED) for block in farm.blocks)
        farm = replace(farm, blocks=tuple(over))
    return Look(
        farm,
        Facts(
            runs=tuple(runs),
            readings=_readings(random, now, runs[0]) if has_post else (),
            has_history=bool(random.random() < 0.5),
        ),
        now,
    )


def _moment(random: np.random.Generator, *, in_the_night: bool) -> datetime:
    """Return the moment of a look; on whole hours too, where boundaries lie."""
    if in_the_night:
        now = _BEFORE_SUNSET + timedelta(minutes=int(random.integers(80, 660)))
    else:
        now = FIRST + timedelta(minutes=int(random.integers(6 * 60, 40 * 60)))
    return now.replace(minute=0) if random.random() < 0.5 else now


def _run(
    random: np.random.Generator,
    source: str,
    now: datetime,
    warmer_c: float,
    *,
    is_clear: bool = False,
) -> ForecastRun:
    """Return a forecast, now and then with gaps, with frost in its text, or too old."""
    count = int(random.integers(30, 170))
    frosty = frosty_hours(low_c=-1.0 + warmer_c, high_c=12.0 + warmer_c, hours=count)
    off_c = (
        random.normal(0.0, 1.5, count)
        + np.repeat(random.normal(0.0, 2.0, count // 24 + 1), 24)[:count]
    )
    air = [round(v + o, 2) for v, o in zip(frosty, off_c, strict=True) if v is not None]
    age_h = float(random.choice([2.0, 9.0, 16.0, 30.0], p=[0.7, 0.1, 0.1, 0.1]))
    minimum = float(random.choice([np.nan, -3.0, 0.5], p=[0.7, 0.15, 0.15]))
    body = grid_text(
        air_c=air,
        dewpoint_c=[round(v - float(random.uniform(0.2, 8.0)), 2) for v in air],
        minimum_c=None if np.isnan(minimum) else minimum,
        wind_kmh=1.8 if is_clear else float(random.choice([1.8, 5.0, 30.0])),
        cloud_pct=0.0 if is_clear else float(random.choice([0.0, 10.0, 90.0])),
        updated=now - timedelta(hours=age_h),
    )
    run = parse_grid(body, now)
    hours = _with_gaps(random, run.hours)
    if random.random() < 0.2:
        hours = replace(hours, is_frost=random.random(hours.count) < 0.1)
    return replace(run, source=source, source_title=f"the {source}", hours=hours)


def _with_gaps(random: np.random.Generator, hours: Hours) -> Hours:
    """Return hours of which some lack the air, and some the dew point."""
    air, dew = hours.air_c.copy(), hours.dewpoint_c.copy()
    for column in (air, dew):
        if random.random() < 0.25:
            start = int(random.integers(0, hours.count))
            column[start : start + int(random.integers(1, 12))] = np.nan
    if random.random() < 0.05:
        dew[:] = np.nan
    return replace(hours, air_c=air, dewpoint_c=dew)


def _block(random: np.random.Generator, place: int) -> Block:
    """Return a block with stakes of its own."""
    crop, stage = CROPS[int(random.integers(0, len(CROPS)))]
    block = make_block(
        f"block {place}",
        crop,
        stage,
        seen=date(2026, 4, 11) - timedelta(days=int(random.integers(0, 12))),
        height_m=float(random.choice(HEIGHTS_M)),
        cold_spot_delta_c=round(float(random.uniform(-3.0, 0.0)), 1),
        methods=("micro-sprinklers",) if random.random() < 0.4 else (),
    )
    return replace(
        block,
        buds_lost_pct=float(random.choice([0.0, 40.0])),
        alarm_at=AlarmAt.CROP_LOSS if random.random() < 0.4 else AlarmAt.FIRST_HARM,
        crop_value=float(random.uniform(100.0, 4000.0))
        if random.random() < 0.5
        else None,
        night_costs=COSTS if random.random() < 0.7 else (),
        start_by=StartBy.THERMOMETER if random.random() < 0.4 else StartBy.FORECAST,
    )


def _rules(random: np.random.Generator) -> Rules:
    """Return the rules, or others."""
    if random.random() < 0.6:
        return Rules()
    return Rules(
        set_up=timedelta(minutes=int(random.integers(10, 180))),
        notice=timedelta(minutes=int(random.integers(5, 60))),
        near_probability=float(random.uniform(0.05, 0.4)),
        start_probability=float(random.uniform(0.1, 0.5)),
    )


def _readings(
    random: np.random.Generator, now: datetime, run: ForecastRun
) -> tuple[Reading, ...]:
    """Return what the post read from before sunset on, falling evenly.

    At sunset it reads about what is forecast: else it would not be believed.
    """
    steps = (now - _BEFORE_SUNSET) // EVERY
    at_first_c = float(np.nan_to_num(run.hours.air_c[14]) + random.normal(1.0, 1.0))
    fallen_c = float(random.uniform(2.0, 12.0))
    return tuple(
        Reading(
            sensor=POST.name,
            at_utc=_BEFORE_SUNSET + n * EVERY,
            air_c=round(at_first_c - fallen_c * n / steps, 2),
        )
        for n in range(steps + 1)
        if steps > 0
    )
