"""Nights in local time: length, naming, sun."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from frostalert.physics.nights import darkness, night_of, night_sun, night_window

EASTERN = ZoneInfo("America/New_York")


@pytest.mark.parametrize(
    ("zone", "night", "hours"),
    [
        ("America/New_York", date(2026, 3, 7), 23),
        ("America/New_York", date(2026, 10, 31), 25),
        ("Europe/Oslo", date(2026, 3, 28), 23),
        ("Australia/Lord_Howe", date(2026, 4, 4), 24.5),
        ("Asia/Kathmandu", date(2028, 2, 28), 24),
        ("Pacific/Kiritimati", date(2026, 12, 31), 24),
    ],
)
def test_nights_have_their_length_across_clock_changes(
    zone: str, night: date, hours: float
) -> None:
    window = night_window(night, ZoneInfo(zone))
    assert (window.end_utc - window.start_utc) == timedelta(hours=hours)


def test_nights_join_without_gap_or_overlap_for_a_year() -> None:
    for days in range(365):
        night = date(2026, 1, 1) + timedelta(days=days)
        following = night_window(night + timedelta(days=1), EASTERN)
        assert night_window(night, EASTERN).end_utc == following.start_utc


@pytest.mark.parametrize(
    ("moment", "night"),
    [
        ("2026-04-12T16:00:00+00:00", date(2026, 4, 12)),  # noon, local
        ("2026-04-12T15:59:00+00:00", date(2026, 4, 11)),
        ("2026-04-13T09:00:00+00:00", date(2026, 4, 12)),
    ],
)
def test_a_morning_belongs_to_the_evening_before(moment: str, night: date) -> None:
    assert night_of(datetime.fromisoformat(moment), EASTERN) == night


def test_sunset_and_sunrise_agree_with_the_almanac() -> None:
    # NOAA solar calculator, Washington DC (38.9 N, 77.0 W), 19-20 March 2024: sunset
    # 19:19 and sunrise 07:12 local time; from memory, so checked to five minutes.
    window = night_window(date(2024, 3, 19), EASTERN)
    sunset, sunrise = night_sun(window, 38.9, -77.0)
    assert sunset is not None
    assert sunrise is not None
    expected_set = datetime(2024, 3, 19, 19, 19, tzinfo=EASTERN)
    expected_rise = datetime(2024, 3, 20, 7, 12, tzinfo=EASTERN)
    assert abs(sunset - expected_set) < timedelta(minutes=5)
    assert abs(sunrise - expected_rise) < timedelta(minutes=5)


def test_the_midnight_sun_has_no_sunset() -> None:
    window = night_window(date(2026, 6, 20), ZoneInfo("America/Anchorage"))
    assert night_sun(window, 70.0, -150.0) == (None, None)


@pytest.mark.parametrize("longitude", [179.9, -179.9])
def test_both_sun_events_are_found_near_the_date_line(longitude: float) -> None:
    zone = ZoneInfo("Pacific/Auckland" if longitude > 0 else "Pacific/Midway")
    window = night_window(date(2026, 9, 10), zone)
    sunset, sunrise = night_sun(window, -40.0, longitude)
    assert sunset is not None
    assert sunrise is not None
    assert window.start_utc < sunset < sunrise < window.end_utc


def test_darkness_rises_and_falls_without_a_step() -> None:
    first = datetime(2026, 4, 12, 19, tzinfo=UTC)
    dark = darkness(first, 24, first + timedelta(hours=7), first + timedelta(hours=17))
    assert dark[7] == 0.0
    assert dark[8] == 0.5
    assert dark[9] == 1.0
    assert dark[17] == 1.0
    assert dark[18] == 0.0
    assert dark.max() == 1.0
