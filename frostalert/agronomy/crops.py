"""Crop tables: read from a parsed file, packaged or the user's own.

A crop file is TOML with `name`, `title`, `exposure`, `notes` and one `[[stages]]` table
a stage, the hardiest first; DEVELOPERS.md and README.md describe it.
"""

import tomllib
from collections.abc import Mapping
from difflib import get_close_matches
from functools import cache
from importlib import resources

from frostalert.errors import (
    CropFileError,
    QuantityError,
    UnknownCropError,
    UnknownStageError,
)
from frostalert.model.crop import Crop, Organ, StageThreshold
from frostalert.physics.units import parse_quantity

_CROP_KEYS = {
    "name",
    "title",
    "exposure",
    "notes",
    "stages",
    "same_as",
    "needed_pct",
    "needed_source",
}
_STAGE_KEYS = {
    "stage",
    "organ",
    "t10",
    "t90",
    "damage_begins",
    "warning",
    "source",
    "note",
}
_HALF_HOUR_MIN = 30.0
_ALL_PCT = 100.0
FROM_MEMORY = "from memory"


def packaged_crop_names() -> list[str]:
    """Return the names of the crops that come with the package, sorted."""
    folder = resources.files(__package__) / "crops"
    return sorted(
        entry.name.removesuffix(".toml")
        for entry in folder.iterdir()
        if entry.name.endswith(".toml")
    )


def plain_name(name: str) -> str:
    """Return a crop's name as it is looked up: small letters, hyphens for spaces."""
    return "-".join(name.lower().split())


def find_crop(name: str, own: Mapping[str, Crop]) -> Crop:
    """Return a crop by name, the user's own before the packaged ones.

    Parameters
    ----------
    name : str
        Name as in the configuration; spaces count as hyphens.
    own : mapping of str to Crop
        The user's own crops.

    Returns
    -------
    Crop
        The crop.

    Raises
    ------
    UnknownCropError
        If there is none; it carries the nearest names.
    """
    wanted = plain_name(name)
    if wanted in own:
        return own[wanted]
    packaged = packaged_crop_names()
    if wanted in packaged:
        return _packaged_crop(wanted)
    valid = sorted({*packaged, *own})
    raise UnknownCropError(name, get_close_matches(wanted, valid, n=3), valid)


def find_stage(crop: Crop, stage: str, beside: tuple[str, ...] = ()) -> str:
    """Return a stage's name as the crop's table spells it.

    Parameters
    ----------
    crop : Crop
        The crop.
    stage : str
        What was written.
    beside : tuple of str
        Further names that are allowed, such as "dormant".

    Returns
    -------
    str
        The name.

    Raises
    ------
    UnknownStageError
        If the table has no such stage; it carries the nearest names.
    """
    wanted = " ".join(stage.lower().replace("-", " ").split())
    valid = [*crop.stage_names, *beside]
    by_plain_name = {name.replace("-", " "): name for name in valid}
    if wanted in by_plain_name:
        return by_plain_name[wanted]
    near = [by_plain_name[n] for n in get_close_matches(wanted, by_plain_name, n=3)]
    raise UnknownStageError(stage, near, valid)


def parse_crop(content: Mapping[str, object], path: str) -> Crop:
    """Return a crop from a parsed crop file.

    Parameters
    ----------
    content : mapping
        The parsed file.
    path : str
        Where it came from, for messages.

    Returns
    -------
    Crop
        The crop.

    Raises
    ------
    CropFileError
        If a key is missing, unknown or not meant; the message says which.
    """
    _refuse_unknown(content, _CROP_KEYS, path)
    rows = content.get("stages")
    if not isinstance(rows, list) or not rows:
        raise CropFileError(path, "needs at least one [[stages]] table")
    minutes = _quantity(content.get("exposure", "30 min"), "duration", path) / 60.0
    if minutes <= 0 or minutes % _HALF_HOUR_MIN:
        raise CropFileError(path, "exposure must be a whole number of half hours")
    return Crop(
        name=_text(content, "name", path),
        title=_text(content, "title", path),
        exposure_minutes=minutes,
        stages=tuple(
            _parse_stage(row, f"{path}: stages[{index}]")
            for index, row in enumerate(rows)
        ),
        needed_pct=_needed_pct(content, path),
        needed_source=str(content.get("needed_source", "")),
        notes=_notes(content),
    )


@cache
def _packaged_crop(name: str) -> Crop:
    """Return a crop that comes with the package."""
    path = resources.files(__package__) / "crops" / f"{name}.toml"
    content = tomllib.loads(path.read_text(encoding="utf-8"))
    original = content.get("same_as")
    if original is None:
        return parse_crop(content, f"{name}.toml")
    base = _packaged_crop(original)
    return Crop(
        name=content["name"],
        title=content["title"],
        exposure_minutes=base.exposure_minutes,
        stages=base.stages,
        needed_pct=base.needed_pct,
        needed_source=base.needed_source,
        notes=(*_notes(content), *base.notes),
    )


def _parse_stage(row: object, path: str) -> StageThreshold:
    """Return one stage of a crop file."""
    if not isinstance(row, dict):
        raise CropFileError(path, "is not a table")
    _refuse_unknown(row, _STAGE_KEYS, path)
    try:
        organ = Organ(row.get("organ", "bud"))
    except ValueError as error:
        raise CropFileError(path, 'organ must be "bud" or "leaf"') from error
    try:
        return StageThreshold(
            stage=_text(row, "stage", path).lower(),
            organ=organ,
            t10_c=_temperature(row, "t10", path),
            t90_c=_temperature(row, "t90", path),
            damage_begins_c=_temperature(row, "damage_begins", path),
            warning_c=_temperature(row, "warning", path),
            source=_text(row, "source", path),
            note=str(row.get("note", "")),
        )
    except ValueError as error:
        raise CropFileError(path, str(error)) from error


def _temperature(row: Mapping[str, object], key: str, path: str) -> float | None:
    """Return a temperature of a stage row, or None if it has none. [degC]"""
    if key not in row:
        return None
    return _quantity(row[key], "temperature", f"{path}.{key}")


def _quantity(value: object, kind: str, path: str) -> float:
    """Return a quantity of a crop file."""
    try:
        return parse_quantity(value, kind)
    except QuantityError as error:
        raise CropFileError(path, str(error)) from error


def _text(content: Mapping[str, object], key: str, path: str) -> str:
    """Return a text that must be there."""
    value = content.get(key)
    if not isinstance(value, str) or not value.strip():
        raise CropFileError(path, f"needs {key}, a text in quotes")
    return value.strip()


def _needed_pct(content: Mapping[str, object], path: str) -> float | None:
    """Return the share of blossoms that makes a full crop, if it is given. [%]"""
    if "needed_pct" not in content:
        return None
    value = content["needed_pct"]
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if not is_number or not 0.0 < float(str(value)) <= _ALL_PCT:
        raise CropFileError(path, "needed_pct must be a number above 0, at most 100")
    _text(content, "needed_source", path)
    return float(str(value))


def _notes(content: Mapping[str, object]) -> tuple[str, ...]:
    """Return the notes of a crop file."""
    notes = content.get("notes", [])
    return tuple(str(note) for note in notes) if isinstance(notes, list) else ()


def _refuse_unknown(content: Mapping[str, object], known: set[str], path: str) -> None:
    """Raise if a key is not known."""
    for key in content:
        if key not in known:
            near = get_close_matches(key, known, n=1)
            hint = f'; did you mean "{near[0]}"?' if near else ""
            raise CropFileError(path, f'unknown key "{key}"{hint}')
