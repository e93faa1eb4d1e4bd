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
_NEAREST = 3
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
    """Return the zones whose places are nearest, one for each kind of clock."""
    here = (latitude, longitude)
    places = _places()
    chosen: dict[tuple[timedelta, ...], str] = {}
    for zone in sorted(places, key=lambda name: distance_km(here, places[name])):
        chosen.setdefault(_offsets(zone), zone)
        if len(chosen) == _NEAREST:
            break
    return list(chosen.values())


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
