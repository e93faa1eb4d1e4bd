"""What is wrong between tables, whatever else may be wrong inside them."""

from collections.abc import Iterator, Mapping
from typing import Any

from frostalert.agronomy.crops import find_crop, find_stage
from frostalert.config.lines import Location
from frostalert.config.place import place_doubt
from frostalert.config.references import tables, unknown_names
from frostalert.errors import AgronomyError
from frostalert.model.channel import CHANNELS, AddressKey
from frostalert.model.crop import Crop
from frostalert.model.reading import SensorKind
from frostalert.model.site import DORMANT, HARVESTED, StartBy

Found = Iterator[tuple[Location, str]]
"""Places, each with what is wrong there and what to write."""


def cross_checks(raw: Mapping[str, Any], own: Mapping[str, Crop]) -> Found:
    """Give what is wrong between the tables of a file.

    Parameters
    ----------
    raw : mapping of str to object
        The file as it was read.
    own : mapping of str to Crop
        The user's own crops.
    """
    for section in ("blocks", "people", "equipment", "sensors"):
        yield from _used_twice(raw, section, "name")
    for key in AddressKey:
        yield from _used_twice(raw, "people", key)
    yield from _crops(raw, own)
    yield from channel_checks(raw)
    yield from _thermometers(raw)
    yield from unknown_names(raw)


def place_checks(raw: Mapping[str, Any]) -> Found:
    """Give whether place and time zone do not go together."""
    site = raw.get("site")
    if not isinstance(site, dict):
        return
    latitude, longitude = site.get("latitude"), site.get("longitude")
    zone = site.get("time_zone")
    if not (_is_number(latitude) and _is_number(longitude) and isinstance(zone, str)):
        return
    try:
        doubt = place_doubt(float(latitude), float(longitude), zone)  # type: ignore[arg-type]
    except (ValueError, OSError, KeyError):
        # The zone is none, which is said elsewhere.
        return
    if doubt is not None:
        yield ("site", doubt.key), doubt.words


def _is_number(value: Any) -> bool:
    """Return whether a value is a number."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def _used_twice(raw: Mapping[str, Any], section: str, key: str) -> Found:
    """Give what two tables of a list share; a shared address would warn twice."""
    places: dict[str, list[int]] = {}
    shown: dict[str, str] = {}
    for place, table in tables(raw, section):
        value = table.get(key)
        if isinstance(value, str):
            plain = value.strip().lower()
            places.setdefault(plain, []).append(place)
            shown.setdefault(plain, value.strip())
    for plain, found in places.items():
        if len(found) > 1:
            what = "the name " if key == "name" else ""
            words = (
                f'{what}"{shown[plain]}" is used {len(found)} times; give each its own'
            )
            yield (section, found[-1], key), words


def _crops(raw: Mapping[str, Any], own: Mapping[str, Crop]) -> Found:
    """Give unknown crops and stages."""
    for place, block in tables(raw, "blocks"):
        crop_name, stage = block.get("crop"), block.get("stage")
        if not isinstance(crop_name, str) or not isinstance(stage, str):
            continue
        key = "crop"
        try:
            crop = find_crop(crop_name, own)
            key = "stage"
            find_stage(crop, stage, (DORMANT, HARVESTED))
        except AgronomyError as error:
            yield ("blocks", place, key), f"{error}"


def _thermometers(raw: Mapping[str, Any]) -> Found:
    """Give blocks that wait for a thermometer which they do not have."""
    hung = {
        str(sensor.get("block", "")).strip().lower()
        for _, sensor in tables(raw, "sensors")
        if sensor.get("kind") == SensorKind.SHELTERED
        and not sensor.get("treated")
        and "equipment" not in sensor
    }
    for place, block in tables(raw, "blocks"):
        name = str(block.get("name", "")).strip()
        if block.get("start_by") == StartBy.THERMOMETER and name.lower() not in hung:
            words = (
                'no thermometer hangs in it; add [[sensors]] with kind = "sheltered" '
                f'and block = "{name}", or write start_by = "forecast"'
            )
            yield ("blocks", place, "start_by"), words


def channel_checks(raw: Mapping[str, Any]) -> Found:
    """Give channels that people have and the file does not set up."""
    used = {
        channel
        for _, person in tables(raw, "people")
        if isinstance(person.get("channels"), list)
        for channel in person["channels"]
        if isinstance(channel, str)
    }
    for row in CHANNELS:
        if row.kind in used and row.section not in raw:
            words = (
                f"missing; somebody is told by {row.kind}, so it needs a "
                f"[{row.section}] section"
            )
            yield (row.section,), words
