"""A block that waits for its own thermometer: when it is called, and when it is not."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from frostalert.forecast.nws import parse_grid
from frostalert.model.assessment import BlockNight, Tier
from frostalert.model.equipment import Readiness
from frostalert.model.nights import Facts
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.model.site import Farm, Rules, StartBy
from frostalert.risk.assess import assess_all
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import make_block, make_holding

SUNSET = datetime(2026, 4, 13, 2, 40, tzinfo=UTC)  # 19:40 local
NIGHT_HOUR = datetime(2026, 4, 13, 9, tzinfo=UTC)  # 02:00 local
HOLLOW = Sensor(name="hollow", kind=SensorKind.SHELTERED, block="Cherries")
WAITS = replace(
    make_block("Cherries", "sweet-cherry", "full bloom"), start_by=StartBy.THERMOMETER
)
RULES = Rules(set_up=timedelta(minutes=45), notice=timedelta(minutes=30))


def holding(**changes: object) -> Farm:
    farm = make_holding(WAITS, rules=RULES)
    checked = Readiness(thermometers_checked=date(2026, 3, 1))
    given = {"sensors": (HOLLOW,), "readiness": checked} | changes
    return replace(farm, **given)  # type: ignore[arg-type]


def cooling(now: datetime, air_c: float, every_min: int = 10) -> tuple[Reading, ...]:
    """Readings from an hour before sunset on, falling evenly to what is read now."""
    first, at_sunset = SUNSET - timedelta(hours=1), 11.0
    count = int((now - first) / timedelta(minutes=every_min))
    return tuple(
        Reading(
            sensor="hollow",
            at_utc=first + n * timedelta(minutes=every_min),
            air_c=round(at_sunset + (air_c - at_sunset) * n / count, 2),
        )
        for n in range(count + 1)
    )


def judged(
    readings: tuple[Reading, ...],
    farm: Farm | None = None,
    now: datetime = NIGHT_HOUR,
    low_c: float = -1.2,
    wind_kmh: float = 1.8,
) -> BlockNight:
    body = grid_text(
        air_c=frosty_hours(low_c=low_c),
        updated=now - timedelta(hours=2),
        wind_kmh=wind_kmh,
    )
    facts = Facts(runs=(parse_grid(body, now),), readings=readings, has_history=True)
    return assess_all(farm or holding(), facts, now).assessment.nights[0].blocks[0]


def test_a_warm_thermometer_holds_the_call_back_and_leaves_the_night_told() -> None:
    record = judged(cooling(NIGHT_HOUR, 5.0))
    assert record.probability is not None
    assert 0.15 < record.probability < 0.6
    assert not record.calls_hands
    assert "hollow is not near the reading to start at yet" in record.hands_reason
    assert record.tier is Tier.PREPARE


def test_hands_are_called_once_it_nears_the_reading() -> None:
    record = judged(cooling(NIGHT_HOUR, 0.0), low_c=0.8)
    assert record.probability is not None
    assert record.probability < 0.6
    assert record.calls_hands
    assert record.tier is Tier.ACT
    assert "hollow nears the reading to start at" in record.hands_reason


def test_a_likely_harm_is_called_whatever_it_reads() -> None:
    record = judged(cooling(NIGHT_HOUR, 5.0), low_c=-4.0)
    assert record.probability is not None
    assert record.probability > 0.6
    assert record.calls_hands


def test_it_never_makes_the_night_less_than_it_is() -> None:
    plain = judged(cooling(NIGHT_HOUR, 5.0), farm=make_holding(rules=RULES))
    waiting = judged(cooling(NIGHT_HOUR, 5.0))
    assert waiting.tier.rank >= Tier.PREPARE.rank
    assert plain.tier.rank >= Tier.PREPARE.rank


SILENT = tuple(
    item
    for item in cooling(NIGHT_HOUR, 5.0)
    if NIGHT_HOUR - item.at_utc >= timedelta(minutes=30)
)
STUCK = tuple(
    replace(item, air_c=5.0) if NIGHT_HOUR - item.at_utc <= timedelta(hours=1) else item
    for item in cooling(NIGHT_HOUR, 5.0)
)
WARM_AT_SUNSET = tuple(
    replace(item, air_c=item.air_c + 6.0) for item in cooling(NIGHT_HOUR, 5.0)
)


@pytest.mark.parametrize(
    ("readings", "changes", "wind_kmh", "why"),
    [
        (SILENT, {}, 1.8, "it is silent"),
        (STUCK, {}, 1.8, "it has not moved for an hour"),
        ((), {}, 1.8, "nothing was read of it"),
        (WARM_AT_SUNSET, {}, 1.8, "warmer than the forecast allows"),
        (cooling(NIGHT_HOUR, 5.0), {"sensors": ()}, 1.8, "no thermometer hangs in it"),
        (
            cooling(NIGHT_HOUR, 5.0),
            {"sensors": (replace(HOLLOW, is_treated=True),)},
            1.8,
            "no thermometer hangs in it",
        ),
        (
            cooling(NIGHT_HOUR, 5.0),
            {"readiness": Readiness()},
            1.8,
            "not checked in ice water this season",
        ),
        (
            cooling(NIGHT_HOUR, 5.0),
            {"rules": replace(RULES, set_up=timedelta(hours=2))},
            1.8,
            "take more than 2 h",
        ),
        (cooling(NIGHT_HOUR, 5.0), {}, 25.0, "not clear and calm"),
    ],
)
def test_where_it_cannot_be_trusted_the_forecast_counts(
    readings: tuple[Reading, ...],
    changes: dict[str, object],
    wind_kmh: float,
    why: str,
) -> None:
    record = judged(readings, farm=holding(**changes), wind_kmh=wind_kmh)
    assert record.probability is not None
    if record.probability < 0.6:
        assert "its thermometer does not count: " in record.hands_reason
        assert why in record.hands_reason
        assert record.calls_hands is (record.probability >= 0.3)
