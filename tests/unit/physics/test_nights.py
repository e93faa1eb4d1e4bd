"""Nights in local time: length, naming, sun."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

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


# One night a year events move across midnight UTC there, and the library that works
# them out leaves one of the two of that date out.
@pytest.mark.parametrize(
    ("place", "zone", "night", "expected"),
    [
        # NOAA solar calculator, from memory, so checked to ten minutes: Denver's sunset
        # of late October is about 17:00 standard, 18:00 summer time.
        ((39.74, -104.99), "America/Denver", date(2026, 10, 29), (18, 0)),
        ((31.10, 77.17), "Asia/Kolkata", date(2026, 5, 9), (5, 30)),
    ],
)
def test_a_night_of_two_events_on_one_date_has_both(
    place: tuple[float, float], zone: str, night: date, expected: tuple[int, int]
) -> None:
    window = night_window(night, ZoneInfo(zone))
    suns = night_sun(window, *place)
    assert None not in suns
    locals_ = [sun.astimezone(ZoneInfo(zone)) for sun in suns if sun is not None]
    minutes = expected[0] * 60 + expected[1]
    assert any(abs(i.hour * 60 + i.minute - minutes) <= 10 for i in locals_)


def _zone_at(longitude: float) -> ZoneInfo:
    # Zones of that name count westwards.
    return ZoneInfo(f"Etc/GMT{round(-longitude / 15):+d}")


def _assert_ordinary(night: date, latitude: float, longitude: float) -> None:
    window = night_window(night, _zone_at(longitude))
    sunset, sunrise = night_sun(window, latitude, longitude)
    where = (night, latitude, longitude)
    assert sunset is not None, where
    assert sunrise is not None, where
    assert window.start_utc < sunset < sunrise < window.end_utc, where
    for days in (-1, 1):
        other = night_window(night + timedelta(days=days), _zone_at(longitude))
        beside = night_sun(other, latitude, longitude)
        for event, neighbour in zip((sunset, sunrise), beside, strict=True):
            assert neighbour is not None, where
            apart = abs(neighbour - event - timedelta(days=days))
            assert apart < timedelta(minutes=6), where


@example(night=date(2026, 9, 18), latitude=43.07, longitude=-89.4)
@example(night=date(2027, 5, 9), latitude=31.1, longitude=77.17)
@given(
    night=st.dates(date(2025, 1, 1), date(2027, 12, 31)),
    latitude=st.floats(-59.9, 59.9),
    longitude=st.floats(-180.0, 180.0),
)
def test_every_night_below_sixty_degrees_has_its_sun(
    night: date, latitude: float, longitude: float
) -> None:
    _assert_ordinary(night, latitude, longitude)


@pytest.mark.parametrize("latitude", [-44.0, 0.0, 39.74, 59.9])
def test_no_night_of_a_grid_of_three_years_lacks_its_sun(latitude: float) -> None:
    first = date(2025, 1, 1)
    for longitude in range(-180, 181, 15):
        zone = _zone_at(longitude)
        # Every third night of three years, another third at the next longitude.
        for days in range((longitude // 15) % 3, 3 * 365, 3):
            window = night_window(first + timedelta(days=days), zone)
            assert None not in night_sun(window, latitude, float(longitude))


def test_cooling_begins_an_hour_before_sunset_and_is_full_an_hour_after() -> None:
    first = datetime(2026, 4, 12, 19, tzinfo=UTC)
    dark = darkness(first, 24, first + timedelta(hours=7), first + timedelta(hours=17))
    assert dark[6] == 0.0
    assert dark[7] == 0.5
    assert dark[8] == 1.0
    assert dark[17] == 1.0
    assert dark[18] == 0.0
    assert dark.max() == 1.0


@given(
    sunset_h=st.floats(3.0, 11.0), night_h=st.floats(2.0, 11.0), shift_h=st.floats(0, 1)
)
def test_darkness_has_no_step(sunset_h: float, night_h: float, shift_h: float) -> None:
    first = datetime(2026, 4, 12, 12, tzinfo=UTC)
    sunset = first + timedelta(hours=sunset_h)
    sun = (sunset, sunset + timedelta(hours=night_h))
    here = darkness(first, 26, *sun)
    there = darkness(first + timedelta(hours=shift_h), 26, *sun)
    assert ((here >= 0.0) & (here <= 1.0)).all()
    # It falls within an hour, and rises within two.
    assert (abs(here - there) <= shift_h + 1e-9).all()


def test_hours_whose_sun_is_not_known_count_as_dark() -> None:
    first = datetime(2026, 4, 12, 19, tzinfo=UTC)
    moment = first + timedelta(hours=7)
    assert darkness(first, 12, None, None).tolist() == [1.0] * 12
    assert darkness(first, 12, moment, None)[[5, 8, 11]].tolist() == [0.0, 1.0, 1.0]
    assert darkness(first, 12, None, moment)[[0, 7, 8]].tolist() == [1.0, 1.0, 0.0]
