"""Plantings with equipment, all invented, and nights to plan for."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from frostalert.agronomy.methods import METHODS
from frostalert.forecast.nws import parse_grid
from frostalert.messages.plan_words import plan_text
from frostalert.messages.wording import Wording
from frostalert.model.equipment import Compass, Equipment, Fuel, Readiness, Supplies
from frostalert.model.plan import Plan
from frostalert.model.progress import UNKNOWN_PROGRESS, Progress
from frostalert.model.site import Block, Farm
from frostalert.model.start import Start, StartKey, StartState
from frostalert.plan.plan import make_plan
from tests.support.grids import frosty_hours, grid_text, layer
from tests.support.holdings import SITE, make_block, make_holding
from tests.support.judged import nights_of

TWO_IN_THE_AFTERNOON = datetime(2026, 4, 12, 21, tzinfo=UTC)
CALM_KMH, WINDY_KMH = 1.8, 32.0
APRICOTS = replace(
    make_block("Apricots", methods=("micro-sprinklers",)),
    plants=36,
    canopy_m=2.7,
    crop_value=3200.0,
)
CHERRIES = replace(
    make_block("Cherries", "sweet-cherry", "first white", methods=("propane heaters",)),
    plants=24,
    canopy_m=3.0,
    crop_value=1900.0,
)
STRAWBERRIES = replace(
    make_block(
        "Strawberries", "strawberry", "popcorn", height_m=0.15, methods=("row cover",)
    ),
    plants=800,
    area_m2=80.0,
    crop_value=2600.0,
    has_straw=True,
)
LINE = Equipment(
    name="Lane line",
    method=METHODS["micro-sprinklers"],
    flow_l_per_h=2500.0,
    area_m2=206.119894,  # what 36 crowns cover, so that either gives one rate
)
HEATERS = Equipment(
    name="Heaters",
    method=METHODS["propane heaters"],
    count=12,
    heat_each_w=11_700.0,
    area_m2=180.0,
    time_each=timedelta(minutes=3),
    fuel=Fuel(burned_per_h=1.7, stock=210.0, unit="L"),
)
COVERS = Equipment(
    name="Covers",
    method=METHODS["row cover"],
    area_m2=84.0,
    weight_g_per_m2=50.0,
    hands=0,
)
READY = Readiness(
    pump_tried=datetime(2026, 3, 14, tzinfo=UTC).date(),
    thermometers_checked=datetime(2026, 3, 14, tzinfo=UTC).date(),
    wake_up_tried=datetime(2026, 3, 15, tzinfo=UTC).date(),
)


def planting(
    *blocks: Block,
    equipment: tuple[Equipment, ...] = (LINE, HEATERS, COVERS),
    supplies: Supplies | None = None,
    readiness: Readiness = READY,
) -> Farm:
    """A planting with equipment and two hands."""
    site = replace(SITE, uphill=Compass.NW)
    return replace(
        make_holding(*blocks, site=site),
        equipment=equipment,
        supplies=supplies or Supplies(hands=2, crew=("Ines", "Tobias")),
        readiness=readiness,
    )


def planned(*keys: StartKey, since: datetime | None = None) -> dict[StartKey, Start]:
    """Starts that people were told of with "prepare"."""
    since = since or TWO_IN_THE_AFTERNOON
    return {
        key: Start(key=key, state=StartState.PLANNED, planned_utc=since) for key in keys
    }


def called(
    *keys: StartKey,
    at_utc: datetime | None = None,
    since: datetime | None = None,
    state: StartState = StartState.CALLED,
) -> dict[StartKey, Start]:
    """Starts that people were called to at their hour."""
    return {
        key: replace(start, state=state, called_utc=at_utc, revision=2)
        for key, start in planned(*keys, since=since).items()
    }


def night_grid(
    low_c: float = -3.0,
    *,
    high_c: float = 12.0,
    dry_by_c: float = 3.0,
    wind_kmh: float = CALM_KMH,
    **changes: Any,
) -> str:
    """A grid answer with a night of our own making."""
    air = frosty_hours(low_c=low_c, high_c=high_c)
    dew = [None if value is None else value - dry_by_c for value in air]
    return grid_text(air_c=air, dewpoint_c=dew, wind_kmh=wind_kmh, **changes)


def rainy_evening() -> dict[str, Any]:
    """Rain until an hour before midnight, local time."""
    chances = [90.0] * 18 + [0.0] * 54
    amounts = [1.0] * 18 + [0.0] * 54
    return {
        "probabilityOfPrecipitation": layer("wmoUnit:percent", list(chances)),
        "quantitativePrecipitation": layer("wmoUnit:mm", list(amounts)),
    }


def plan_of(
    farm: Farm,
    grid: str,
    now: datetime = TWO_IN_THE_AFTERNOON,
    progress: Progress = UNKNOWN_PROGRESS,
) -> Plan:
    """The plan of the night that a moment belongs to."""
    run = parse_grid(grid, now)
    nights = nights_of(farm, run, now)
    return make_plan(nights, nights.assessment.nights[0], progress=progress)


def words_of(plan: Plan, farm: Farm) -> str:
    """The plan as people read it."""
    return plan_text(plan, farm, Wording(farm.site, plan.made_utc))
