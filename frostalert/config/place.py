"""Whether a place and its time zone go together: a lost minus is the commonest slip.

Beyond it no warning ever comes, or each comes hours too late.
"""

from dataclasses import dataclass

from frostalert.config.zones import is_universal, place_of, standard_offset_h
from frostalert.physics.geo import distance_km

_DEGREES_AN_HOUR = 15.0
_FAR_FROM_SUN_H = 2.0
_NEAR_KM, _FAR_KM = 1000.0, 1500.0
_MUCH_NEARER = 3.0
_MOST_LATITUDE_DEG = 90.0
_REACH_WEST = {"Asia/Shanghai": 3.3}
"""Zones of countries so wide that the clock is more than two hours off the sun."""


@dataclass(frozen=True, slots=True)
class PlaceDoubt:
    """Why a place and a time zone do not go together.

    Attributes
    ----------
    key : str
        The key of the site that is most likely wrong.
    """

    key: str
    words: str


def place_doubt(latitude: float, longitude: float, zone: str) -> PlaceDoubt | None:
    """Return why a place and its time zone cannot both be right, if so.

    Parameters
    ----------
    latitude, longitude : float
        The place; a latitude beyond the pole is swapped. [deg]
    zone : str
        IANA name of the time zone.
    """
    if abs(latitude) > _MOST_LATITUDE_DEG:
        return _swapped(latitude, longitude)
    if is_universal(zone):
        words = (
            f'"{zone}" is the time of servers, and nobody\'s clock; write the zone of '
            'the place, such as "Europe/Paris"'
        )
        return PlaceDoubt("time_zone", words)
    apart_h = abs(
        (standard_offset_h(zone) - longitude / _DEGREES_AN_HOUR + 12.0) % 24.0 - 12.0
    )
    slip = _slip(latitude, longitude, zone, apart_h)
    if slip is not None or apart_h <= _REACH_WEST.get(zone, _FAR_FROM_SUN_H):
        return slip
    there = place_of(zone)
    if there is not None and distance_km((latitude, longitude), there) < _NEAR_KM:
        return None
    words = (
        f"{zone} is {apart_h:.0f} h off the sun at longitude {longitude:g}; one of "
        "them is wrong (west, so all of America, is negative)"
    )
    return PlaceDoubt("time_zone", words)


def _slip(
    latitude: float, longitude: float, zone: str, apart_h: float
) -> PlaceDoubt | None:
    """Return the slip after whose mending a place lies by its time zone's own."""
    there = place_of(zone)
    if there is None:
        return None
    distance = distance_km((latitude, longitude), there)
    others = _others(latitude, longitude)
    best = min(others, key=lambda place: distance_km(place, there))
    if distance < max(_FAR_KM, _MUCH_NEARER * distance_km(best, there)):
        return None
    if apart_h > _FAR_FROM_SUN_H and best == (latitude, -longitude) and best[1] > 0.0:
        # Minuses are lost, hardly ever added: the time zone is wrong.
        return None
    if others[best]:
        return _swapped(latitude, longitude, best)
    key = "latitude" if best[0] != latitude else "longitude"
    value = best[0] if key == "latitude" else best[1]
    sun = f", {apart_h:.0f} h off the sun" if apart_h > _FAR_FROM_SUN_H else ""
    words = (
        f"{latitude:g}, {longitude:g} lies {distance:,.0f} km from {zone}{sun}; write "
        f"{key} = {value!r} (south and west, so all of America, are negative)"
    )
    return PlaceDoubt(key, words)


def _others(latitude: float, longitude: float) -> dict[tuple[float, float], bool]:
    """Return the places that a slip makes of another, and whether it swapped them."""
    return {
        (first * south, second * west): is_swapped
        for south in (1.0, -1.0)
        for west in (1.0, -1.0)
        for is_swapped, (first, second) in (
            (True, (longitude, latitude)),
            (False, (latitude, longitude)),
        )
        if abs(first) <= _MOST_LATITUDE_DEG
    }


def _swapped(
    latitude: float, longitude: float, better: tuple[float, float] | None = None
) -> PlaceDoubt | None:
    """Return that latitude and longitude stand in each other's place, if they can."""
    first, second = better or (longitude, latitude)
    if abs(first) > _MOST_LATITUDE_DEG:
        return None
    words = (
        f"{latitude:g}, {longitude:g}: latitude and longitude look swapped; write "
        f"latitude = {first!r} and longitude = {second!r}"
    )
    return PlaceDoubt("latitude", words)
