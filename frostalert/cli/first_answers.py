"""The answers of a newcomer: how each may be written, and what to write instead."""

import re
from contextlib import suppress
from difflib import get_close_matches
from math import inf
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from frostalert.agronomy.crops import find_crop, find_stage
from frostalert.agronomy.methods import METHODS
from frostalert.cli.answer_checks import refuse_unusable
from frostalert.config.place import place_doubt
from frostalert.config.ready_made import HOUSEHOLD
from frostalert.config.zones import near_zone_names
from frostalert.errors import UnknownCropError, UsageError
from frostalert.model.crop import Crop
from frostalert.model.site import DORMANT, HARVESTED

_MINUSES = str.maketrans("\u2212\u2013\u2019\u2032\u201d\u2033", "--''\"\"")
_NUMBER = (
    r"([-+]?\d+(?:\.\d+)?)\s*\u00b0?\s*"
    r"(?:(\d+(?:\.\d+)?)\s*'\s*)?(?:(\d+(?:\.\d+)?)\s*\"\s*)?"
)
_BETWEEN = r"\s*[,;\s]\s*"
_LETTER = r"([NSEW])\s*"
_FORMS = tuple(
    (re.compile(rf"^\s*{form}{_BETWEEN}{form}$", re.I), letter, number)
    for form, letter, number in (
        (_NUMBER, None, 0),
        (_NUMBER + _LETTER, 3, 0),
        (_LETTER + _NUMBER, 0, 1),
    )
)
"""How a place may be written: without letters, with them behind, or before."""
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")
_WHOLE_DEGREES = re.compile(r"^\s*-?\d+\s*[,;\s]\s*-?\d+\s*$")
_MOST_LONGITUDE_DEG = 180.0
_EXAMPLE = 'write it like "46.2205, -119.2412"'


def read_place(text: str) -> tuple[float, float]:
    """Return latitude and longitude.

    Raises
    ------
    UsageError
        If they cannot be meant; it says what to write.
    """
    if _WHOLE_DEGREES.match(text):
        words = "is one number, or two whole degrees, which are 100 km wide"
        message = f'"{text}" {words}; {_EXAMPLE}'
        raise UsageError(message)
    found = _coordinates(text)
    if found is not None:
        return _on_the_globe(text, found)
    meant = _coordinates(_DECIMAL_COMMA.sub(".", text))
    message = f'"{text}" is not a place; {_EXAMPLE}'
    if meant is not None:
        message = (
            f'"{text}" has commas where points belong; did you mean '
            f'"{meant[0]!r}, {meant[1]!r}"? Then write that'
        )
    raise UsageError(message)


def _coordinates(text: str) -> tuple[float, float] | None:
    """Return two numbers that a text gives as a place, if it is one."""
    plain = text.translate(_MINUSES).strip()
    for pattern, letter, number in _FORMS:
        match = pattern.match(plain)
        if match is None:
            continue
        parts = match.groups()
        size = len(parts) // 2
        halves = (parts[:size], parts[size:])
        values = [_degrees(*half[number : number + 3]) for half in halves]
        if letter is None:
            return values[0], values[1]
        marks = [str(half[letter]).upper() for half in halves]
        signed = {
            mark in "NS": abs(value) * (-1.0 if mark in "SW" else 1.0)
            for mark, value in zip(marks, values, strict=True)
        }
        return (signed[True], signed[False]) if len(signed) == len(marks) else None
    return None


def _degrees(whole: str, minutes: str | None, seconds: str | None) -> float:
    """Return degrees of degrees, minutes and seconds."""
    more = float(minutes or 0.0) / 60.0 + float(seconds or 0.0) / 3600.0
    value = float(whole)
    return round(value - more if whole.startswith("-") else value + more, 6)


def _on_the_globe(text: str, place: tuple[float, float]) -> tuple[float, float]:
    """Return a place that there is."""
    latitude, longitude = place
    if abs(latitude) <= 90.0 and abs(longitude) <= _MOST_LONGITUDE_DEG:  # noqa: PLR2004
        return place
    if abs(longitude) <= 90.0 and abs(latitude) <= _MOST_LONGITUDE_DEG:  # noqa: PLR2004
        message = (
            f'"{text}" looks swapped: latitude comes first; write "{longitude!r}, '
            f'{latitude!r}"'
        )
    else:
        message = f'"{text}" is nowhere on the globe; {_EXAMPLE}'
    raise UsageError(message)


def read_zone(text: str) -> str:
    """Return a time zone by its name."""
    try:
        return ZoneInfo(text.strip()).key
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        near = " or ".join(f'"{zone}"' for zone in near_zone_names(text))
        message = f'"{text}" is no time zone; write it like {near}'
        raise UsageError(message) from error


def read_elevation(text: str) -> str:
    """Return a height as it was given, if it is one."""
    refuse_unusable(elevation=text.strip())
    return text.strip()


def read_crop(text: str) -> tuple[Crop, str | None]:
    """Return a crop and its stage, if one is given; the comma may be forgotten."""
    kind, _, stage = (part.strip() for part in text.partition(","))
    found, rest = _crop_and_rest(kind)
    named = " ".join(filter(None, [*rest, stage]))
    return found, read_stage(found, named) if named else None


def _crop_and_rest(text: str) -> tuple[Crop, list[str]]:
    """Return the crop that most of the first words name, and the words after it."""
    words = text.split()
    for count in range(len(words), 0, -1):
        with suppress(UnknownCropError):
            return find_crop(" ".join(words[:count]), {}), words[count:]
    return find_crop(text, {}), []


def read_stage(crop: Crop, text: str) -> str:
    """Return a stage of a crop as its table names it."""
    stage = find_stage(crop, text, (DORMANT, HARVESTED))
    refuse_unusable(crop=crop.name, stage=stage)
    return stage


def read_email(text: str) -> str:
    """Return an address, if it is one."""
    refuse_unusable(email=text.strip())
    return text.strip()


def read_name(text: str) -> str:
    """Return the name of a place, if it can be one."""
    refuse_unusable(name=text)
    return text


def read_protection(text: str) -> tuple[str, ...]:
    """Return the methods that somebody can use, household things by their own names."""
    said = [part.strip().lower() for part in re.split(r"[,;]| and ", text)]
    known = {**HOUSEHOLD, **{name: name for name in METHODS}}
    found = []
    for word in said:
        if word in known:
            found.append(known[word])
        elif word and word != "nothing":
            near = get_close_matches(word, known, n=2) or known
            message = f'"{word}" is not known; write {" or ".join(near)}'
            raise UsageError(message)
    return tuple(dict.fromkeys(found))


def read_money(text: str) -> float | None:
    """Return an amount of money; none where it is left out."""
    plain = text.strip()
    if not plain:
        return None
    try:
        amount = float(plain)
    except ValueError:
        amount = 0.0
    if 0.0 < amount < inf:
        return amount
    message = f'"{text}" is no amount; write a number alone, such as 35, or nothing'
    raise UsageError(message)


def fits(place: tuple[float, float], zone: str) -> str | None:
    """Return why a place and a time zone do not go together, if so."""
    doubt = place_doubt(*place, zone)
    return None if doubt is None else doubt.words
