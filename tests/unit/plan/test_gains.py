"""What a method gains here, by two thermometers."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from frostalert.model.learned import GainNight
from frostalert.model.plan import GainFacts
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.model.site import Farm
from frostalert.plan.gains import night_gains, with_measured_gains
from tests.support.plans import (
    COVERS,
    STRAWBERRIES,
    night_grid,
    plan_of,
    planting,
    words_of,
)

NIGHT = date(2026, 4, 12)
SUNSET = datetime(2026, 4, 13, 2, 40, tzinfo=UTC)
SUNRISE = datetime(2026, 4, 13, 13, 10, tzinfo=UTC)
UNDER = Sensor(
    name="Under",
    kind=SensorKind.SHELTERED,
    block="Strawberries",
    is_treated=True,
    equipment="Covers",
)
OPEN = Sensor(name="Open", kind=SensorKind.SHELTERED, block="Strawberries")
POST = Sensor(name="Post", kind=SensorKind.REFERENCE)


def farm(*sensors: Sensor) -> Farm:
    return replace(planting(STRAWBERRIES), sensors=sensors)


def series(name: str, air_c: float, count: int = 12, shift: int = 0) -> list[Reading]:
    return [
        Reading(
            sensor=name,
            at_utc=SUNSET + timedelta(hours=2, minutes=20 * n + shift),
            air_c=air_c - 0.1 * n,
        )
        for n in range(count)
    ]


USED = frozenset({("Covers", "Strawberries")})


def gains(
    readings: list[Reading],
    *sensors: Sensor,
    in_use: frozenset[tuple[str, str]] = USED,
) -> list[float]:
    found = night_gains(farm(*sensors), readings, NIGHT, SUNSET, SUNRISE, in_use=in_use)
    assert {item.equipment for item in found} <= {"Covers"}
    return [item.delta_c for item in found]


def test_the_median_difference_of_pairs_counts() -> None:
    wild = [replace(series("Under", 9.0)[3], air_c=30.0)]
    under = [item for n, item in enumerate(series("Under", 1.5, shift=5)) if n != 3]
    readings = series("Open", -1.0) + under + wild
    assert gains(readings, UNDER, OPEN, POST) == [pytest.approx(2.5, abs=0.15)]


def test_only_the_block_s_own_open_air_is_compared_and_only_what_was_used() -> None:
    readings = series("Under", 1.5) + series("Open", -1.0) + series("Post", 1.0)
    assert gains(readings, UNDER, OPEN, POST) == [pytest.approx(2.5)]
    assert gains(readings, UNDER, POST) == []
    assert gains(readings, UNDER, OPEN, in_use=frozenset()) == []
    assert gains(readings, UNDER) == []


@pytest.mark.parametrize(
    ("open_c", "count", "shift"),
    [(8.0, 12, 0), (-1.0, 5, 0), (-1.0, 12, 600)],
    ids=["a mild night", "too few", "not together"],
)
def test_what_measures_nothing_is_left_out(
    open_c: float, count: int, shift: int
) -> None:
    readings = series("Open", open_c) + series("Under", open_c + 2.0, count, shift)
    assert gains(readings, UNDER, OPEN) == []


def nights(*deltas: float) -> list[GainNight]:
    return [
        GainNight(equipment="Covers", night=NIGHT + timedelta(days=n), delta_c=delta)
        for n, delta in enumerate(deltas)
    ]


def test_from_three_nights_on_the_plan_uses_the_lower_quartile() -> None:
    plain = planting(STRAWBERRIES)
    assert with_measured_gains(plain, nights(2.0, 3.0)) == plain
    measured = with_measured_gains(plain, nights(2.0, 3.0, 4.0, 1.0, 2.0))
    [covers] = [item for item in measured.equipment if item.name == "Covers"]
    assert (covers.gain_delta_c, covers.gain_nights) == (2.0, 5)
    plan = plan_of(measured, night_grid(-1.0, high_c=14.0))
    facts = plan.chosen[0].facts
    assert isinstance(facts, GainFacts)
    # As published it is 4 to 6 F: what was measured lowers the lower end alone.
    assert facts.low_delta_c == 2.0
    assert facts.high_delta_c == pytest.approx(6.0 / 1.8)
    assert "measured here on 5 nights" in words_of(plan, measured)


def test_what_was_measured_never_refuses_nor_outdoes_what_is_published() -> None:
    poor = with_measured_gains(planting(STRAWBERRIES), nights(0.0, 0.1, 0.0))
    plan = plan_of(poor, night_grid(-1.0, high_c=14.0))
    assert [item.equipment for item in plan.chosen] == ["Covers"]
    rich = with_measured_gains(planting(STRAWBERRIES), nights(9.0, 9.0, 9.0))
    facts = plan_of(rich, night_grid(-1.0, high_c=14.0)).chosen[0].facts
    assert isinstance(facts, GainFacts)
    assert facts.high_delta_c == pytest.approx(6.0 / 1.8)
    assert facts.low_delta_c <= facts.high_delta_c


def test_what_never_helped_gains_nothing_and_what_is_told_stands() -> None:
    cold = with_measured_gains(planting(STRAWBERRIES), nights(-1.0, -2.0, -1.0))
    assert {i.gain_delta_c for i in cold.equipment if i.name == "Covers"} == {0.0}
    told = replace(COVERS, gain_delta_c=3.0, is_measured=True)
    kept = planting(STRAWBERRIES, equipment=(told,))
    assert with_measured_gains(kept, nights(1.0, 1.0, 1.0)) == kept
