"""Where each time zone's own place is, as the zone tables have it."""

import re
from datetime import datetime, timedelta
from difflib import get_close_matches
from functools import cache
from importlib import resources
from zoneinfo import ZoneInfo, available_timezones

from frostalert.physics.geo import distance_km

_PLACE = re.compile(r"^([+-])(\d{2})(\d{2})\d*([+-])(\d{3})(\d{2})\d*$")
_RULES_OF_YEAR = 2036
"""A year to which the tables' last rules apply."""
_WINTER, _SUMMER = 1, 7
_UNIVERSAL = frozenset({"UTC", "UCT", "Universal", "Zulu", "GMT", "Greenwich"})
_COUNTRIES, _OF_A_COUNTRY = 2, 2
_SUN_SLACK_H, _KM_PER_H = 0.75, 3000.0
"""A zone whose clock is off the sun's by more than the slack counts as farther away.
[h, km/h] Our own."""
_EXAMPLE = ["America/New_York"]


def is_universal(zone: str) -> bool:
    """Return whether a zone is that of servers, and nobody's own."""
    return zone.removeprefix("Etc/") in _UNIVERSAL


def standard_offset_h(zone: str) -> float:
    """Return by how much a zone is ahead of universal time without summer time."""
    return min(_offsets(zone)) / timedelta(hours=1)


def place_of(zone: str) -> tuple[float, float] | None:
    """Return latitude and longitude of the place that a zone is named after."""
    places = _places()
    found = places.get(zone)
    return found if found is not None else places.get(_other_names().get(zone, ""))


def nearest_zones(latitude: float, longitude: float) -> list[str]:
    """Return the likeliest zones of a place: two clocks each of the two countries next.

    Where borders run the tables do not say: the nearest town may be another country's,
    and a country's own zone may be named after a town far away. The likelier are those
    near by whose clock goes with the sun.
    """
    here, places = (latitude, longitude), _places()
    nearest = min(places, key=lambda zone: distance_km(here, places[zone]))
    likely = sorted(places, key=lambda zone: _how_far_km(zone, latitude, longitude))
    ranked = [nearest, *(zone for zone in likely if zone != nearest)]
    chosen: dict[tuple[str, tuple[timedelta, ...]], str] = {}
    for zone in ranked:
        country = _countries()[zone]
        countries = {name for name, _ in chosen}
        own = sum(name == country for name, _ in chosen)
        is_full = country not in countries and len(countries) == _COUNTRIES
        if not is_full and own < _OF_A_COUNTRY:
            chosen.setdefault((country, _offsets(zone)), zone)
        if len(chosen) == _COUNTRIES * _OF_A_COUNTRY:
            break
    return list(chosen.values())


def goes_with_the_sun(zone: str, longitude: float) -> bool:
    """Return whether a zone's standard clock is near the sun's at a longitude."""
    return _hours_off(zone, longitude) <= _SUN_SLACK_H


def _hours_off(zone: str, longitude: float) -> float:
    """Return how far a zone's standard clock is off the sun's. [h]"""
    return abs(standard_offset_h(zone) - longitude / 15.0)


def _how_far_km(zone: str, latitude: float, longitude: float) -> float:
    """Return how far a zone is, with what its clock is off the sun. [km]"""
    off_h = max(0.0, _hours_off(zone, longitude) - _SUN_SLACK_H)
    return distance_km((latitude, longitude), _places()[zone]) + _KM_PER_H * off_h


def has_clock_of(zone: str, other: str) -> bool:
    """Return whether two zones show one time, in winter and in summer."""
    return _offsets(zone) == _offsets(other)


def near_zone_names(written: str) -> list[str]:
    """Return the zones that may be meant by a name that is none, or an example."""
    wanted = _plain(written)
    known = {_plain(zone): zone for zone in sorted(available_timezones())}
    by_town = {zone.rpartition("/")[2]: zone for zone in known if "/" in zone}
    exact = known.get(wanted) or known.get(by_town.get(wanted, ""))
    if exact is not None:
        return [exact]
    return [known[by_town[town]] for town in _near(wanted, by_town)] or _EXAMPLE


def _near(wanted: str, towns: dict[str, str]) -> list[str]:
    """Return the towns that may be meant."""
    return get_close_matches(wanted.rpartition("/")[2], towns, n=2, cutoff=0.8)


def _plain(zone: str) -> str:
    """Return a zone's name as it is looked up."""
    return "_".join(zone.lower().split())


@cache
def _offsets(zone: str) -> tuple[timedelta, ...]:
    """Return how far a zone is ahead of universal time, in January and in July."""
    moments = (
        datetime(_RULES_OF_YEAR, month, 1, tzinfo=ZoneInfo(zone))
        for month in (_WINTER, _SUMMER)
    )
    return tuple(moment.utcoffset() or timedelta(0) for moment in moments)


@cache
def _countries() -> dict[str, str]:
    """Return the zones' countries, by their codes."""
    rows = (line.split("\t") for line in _table("zone.tab") if line[:1] != "#")
    return {zone: country for country, _, zone, *_ in rows}


@cache
def _places() -> dict[str, tuple[float, float]]:
    """Return the zones' places."""
    places = {}
    for line in _table("zone.tab"):
        if line.startswith("#"):
            continue
        _, coordinates, zone, *_ = line.split("\t")
        match = _PLACE.match(coordinates)
        if match is not None:
            south, latitude, minutes, west, longitude, more = match.groups()
            places[zone] = (
                float(f"{south}1") * (int(latitude) + int(minutes) / 60.0),
                float(f"{west}1") * (int(longitude) + int(more) / 60.0),
            )
    return places


@cache
def _other_names() -> dict[str, str]:
    """Return what zones with several names are called in the table of places."""
    links = (line.split() for line in _table("tzdata.zi") if line.startswith("L "))
    return {other: zone for _, zone, other in links}


def _table(name: str) -> list[str]:
    """Return the lines of a table of the zones' package."""
    path = resources.files("tzdata") / "zoneinfo" / name
    return path.read_text(encoding="utf-8").splitlines()
