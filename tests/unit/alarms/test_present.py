"""Which night is meant by "tonight", hour by hour."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from frostalert.alarms.present import nights_meant
from frostalert.forecast.nws import parse_grid
from frostalert.model.assessment import Assessment, Tier
from frostalert.model.notice import NightHistory
from tests.support.grids import FIRST, frosty_hours, grid_text
from tests.support.holdings import make_holding
from tests.support.judged import assess, cannot_judge_anything

SUNDAY, MONDAY = date(2026, 4, 12), date(2026, 4, 13)
TOLD = NightHistory(night=SUNDAY, told=Tier.ACT, said=Tier.ACT)
CLOSED = replace(TOLD, is_closed=True)


def local(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 4, day, hour, minute, tzinfo=UTC) + timedelta(hours=7)


def found(now: datetime) -> Assessment:
    """Two frosty nights, by a forecast that is fresh at that moment."""
    grid = grid_text(
        air_c=frosty_hours(low_c=-4.0, hours=96), first=FIRST, updated=now, wind_kmh=1.8
    )
    return assess(make_holding(), parse_grid(grid, now), now)


@pytest.mark.parametrize(
    ("now", "history", "meant"),
    [
        (local(12, 15), None, [SUNDAY]),
        (local(12, 23), TOLD, [SUNDAY]),
        (local(13, 5), TOLD, [SUNDAY]),
        # The sun is up and it is still cold enough to harm.
        (local(13, 7, 10), TOLD, [SUNDAY]),
        (local(13, 10, 40), None, [MONDAY]),
        (local(13, 10, 40), TOLD, [SUNDAY, MONDAY]),
        (local(13, 10, 40), CLOSED, [MONDAY]),
        (local(13, 11, 59), CLOSED, [MONDAY]),
        (local(13, 12, 1), CLOSED, [MONDAY]),
    ],
)
def test_tonight_is_the_night_that_lasts_then_the_coming_one(
    now: datetime, history: NightHistory | None, meant: list[date]
) -> None:
    told = {} if history is None else {SUNDAY: history}
    assert [item.night for item in nights_meant(found(now), told)] == meant


def test_a_night_that_was_ended_is_over_though_the_forecast_is_cold_again() -> None:
    now = local(13, 7, 10)
    assert found(now).nights[0].tier.rank
    assert [n.night for n in nights_meant(found(now), {SUNDAY: CLOSED})] == [MONDAY]


def test_an_ended_night_is_not_over_before_the_sun_is_up() -> None:
    now = local(13, 4)
    assert [n.night for n in nights_meant(found(now), {SUNDAY: CLOSED})] == [SUNDAY]


def test_at_sunrise_the_sun_is_up() -> None:
    ended = {SUNDAY: CLOSED}
    sunrise = found(local(13, 4)).nights[0].sunrise_utc
    assert sunrise is not None
    for now, meant in ((sunrise, MONDAY), (sunrise - timedelta(seconds=1), SUNDAY)):
        assert [n.night for n in nights_meant(found(now), ended)] == [meant]


def test_a_morning_that_cannot_be_judged_hides_neither_night() -> None:
    blind = cannot_judge_anything(make_holding(), local(13, 9), "nothing came")
    assert [item.night for item in nights_meant(blind, {})] == [SUNDAY, MONDAY]
