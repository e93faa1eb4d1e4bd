"""Whether a place and its time zone go together."""

from pathlib import Path

import pytest

from frostalert.config.accepted import AcceptedConfig
from frostalert.config.load import parse_settings
from frostalert.config.place import place_doubt
from frostalert.config.zones import _places, nearest_zones
from frostalert.errors import ConfigError, ConfigValueError
from tests.support.configs import config_text

SITE = 'latitude = 46.2205\nlongitude = -119.2412\nelevation = "410 ft"\n'
ZONE = 'time_zone = "America/Los_Angeles"'


def placed(latitude: str, longitude: str, zone: str) -> str:
    place = f'latitude = {latitude}\nlongitude = {longitude}\nelevation = "410 ft"\n'
    text = config_text().replace(SITE, place)
    return text.replace(ZONE, f'time_zone = "{zone}"')


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "key", "words"),
    [
        ("46.2205", "119.2412", "America/Los_Angeles", "longitude", "= -119.2412"),
        ("46.2205", "119.2412", "US/Pacific", "longitude", "longitude = -119.2412"),
        ("36.0", "-71.5", "America/Santiago", "latitude", "write latitude = -36.0"),
        ("41.2", "173.0", "Pacific/Auckland", "latitude", "write latitude = -41.2"),
        ("5.72", "45.19", "Europe/Paris", "latitude", "latitude = 45.19 and long"),
        ("5.72", "45.19", "Europe/Vilnius", "latitude", "look swapped"),
        ("-119.2412", "46.2205", "America/Los_Angeles", "latitude", "look swapped"),
        ("-71.5", "-36.0", "America/Santiago", "latitude", "longitude = -71.5"),
        ("46.2205", "-119.2412", "Asia/Tokyo", "time_zone", "7 h off the sun"),
        ("45.19", "5.72", "America/New_York", "time_zone", "5 h off the sun"),
        ("45.19", "5.72", "Etc/UTC", "time_zone", "the time of servers"),
        ("51.3", "0.5", "UTC", "time_zone", "the time of servers"),
    ],
)
def test_a_place_that_its_clock_denies_is_a_mistake_with_its_line(
    latitude: str, longitude: str, zone: str, key: str, words: str
) -> None:
    text = placed(latitude, longitude, zone)
    number = next(n for n, x in enumerate(text.splitlines(), 1) if x.startswith(key))
    with pytest.raises(ConfigValueError) as caught:
        parse_settings(text, Path("x.toml"), needs_secrets=False)
    [problem] = caught.value.problems
    assert problem.startswith(f"line {number}, site.{key}: ")
    assert words in problem


@pytest.mark.parametrize(
    ("place", "zone"),
    [
        ((45.19, 5.72), "Europe/Paris"),
        ((42.9, -8.5), "Europe/Madrid"),
        ((39.5, 76.0), "Asia/Shanghai"),
        ((64.5, -165.4), "America/Nome"),
        ((38.5, 43.4), "Europe/Istanbul"),
        ((42.0, 47.0), "Europe/Moscow"),
        ((-15.8, 128.7), "Australia/Perth"),
        ((34.0, 75.0), "Asia/Calcutta"),
        ((-50.0, -73.0), "America/Argentina/Rio_Gallegos"),
    ],
)
def test_a_place_far_from_its_clocks_town_is_right(
    place: tuple[float, float], zone: str
) -> None:
    assert place_doubt(*place, zone) is None


def test_no_zone_denies_its_own_place() -> None:
    assert len(_places()) > 300
    for zone, place in _places().items():
        assert place_doubt(*place, zone) is None, zone


@pytest.mark.parametrize(
    ("place", "first", "own"),
    [
        ((36.6, -120.0), "America/Los_Angeles", "America/Los_Angeles"),
        # The nearest town is Canada's, the country's own zone has its town far away.
        ((47.31, -120.07), "America/Vancouver", "America/Los_Angeles"),
        ((42.3, -122.8), "America/Boise", "America/Los_Angeles"),
        ((44.76, -85.6), "America/Menominee", "America/Detroit"),
        # Its clock is an hour and a quarter before the sun's.
        ((40.4, -3.7), "Europe/Madrid", "Europe/Madrid"),
        ((39.1, -108.5), "America/Denver", "America/Denver"),
    ],
)
def test_a_places_own_zone_is_among_those_that_are_offered(
    place: tuple[float, float], first: str, own: str
) -> None:
    offered = nearest_zones(*place)
    assert offered[0] == first
    assert own in offered
    assert len(offered) <= 4


def test_a_service_that_ran_by_a_doubtful_place_still_runs_by_its_copy(
    tmp_path: Path,
) -> None:
    path = tmp_path / "orchard.toml"
    path.write_text(config_text())
    AcceptedConfig(path, tmp_path)
    copy = tmp_path / "config.accepted.toml"
    copy.write_text(copy.read_text().replace("-119.2412", "119.2412"))
    path.write_text(copy.read_text())
    again = AcceptedConfig(path, tmp_path)
    assert "longitude = -119.2412" in str(again.problem)
    assert again.settings.farm.site.longitude == 119.2412
    copy.unlink()
    with pytest.raises(ConfigError):
        AcceptedConfig(path, tmp_path)
