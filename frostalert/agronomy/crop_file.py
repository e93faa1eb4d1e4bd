"""A crop file: TOML that becomes a crop, every wrong key named.

It holds `name`, `title`, `exposure`, `notes` and one `[[stages]]` table a stage, the
hardiest first; DEVELOPERS.md and config/README.md describe it.
"""

from collections.abc import Mapping
from difflib import get_close_matches

from frostalert.agronomy.crop_names import plain_name
from frostalert.errors import CropFileError, QuantityError
from frostalert.model.crop import Crop, FirstStage, Organ, StageThreshold
from frostalert.physics.units import parse_quantity

_CROP_KEYS = {
    "name",
    "title",
    "aliases",
    "exposure",
    "notes",
    "stages",
    "same_as",
    "needed_pct",
    "needed_source",
    "evergreen",
    "dormant",
    "first_stage",
}
_STAGE_KEYS = {
    "stage",
    "organ",
    "t10",
    "t90",
    "damage_begins",
    "warning",
    "aged",
    "aged_after_days",
    "bloom",
    "cultivars_alike",
    "source",
    "note",
}
_DORMANT_KEYS = {"damage_begins", "source", "note"}
_FIRST_STAGE_KEYS = {"stage", "degree_days_degf", "base", "source"}
_HALF_HOUR_MIN = 30.0
_ALL_PCT = 100.0
_DEGF_IN_DEGC = 1.8
FROM_MEMORY = "from memory"


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
        notes=read_notes(content),
        aliases=_texts(content, "aliases", path),
        is_evergreen=_flag(content, "evergreen", path),
        dormant=_dormant(content, path),
        first_stage=_first_stage(content, path),
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
            is_bloom=_flag(row, "bloom", path),
            is_alike=_flag(row, "cultivars_alike", path),
            aged_c=_temperature(row, "aged", path),
            aged_days=_aged_days(row, path),
        )
    except ValueError as error:
        raise CropFileError(path, str(error)) from error


def _dormant(content: Mapping[str, object], path: str) -> StageThreshold | None:
    """Return what dormant buds bear, if it is given."""
    if "dormant" not in content:
        return None
    row = _table(content, "dormant", _DORMANT_KEYS, path)
    _text(row, "damage_begins", f"{path}: dormant")
    return _parse_stage({"stage": "dormant", **row}, f"{path}: dormant")


def _first_stage(content: Mapping[str, object], path: str) -> FirstStage | None:
    """Return the fastest published warmth to a stage, if it is given."""
    if "first_stage" not in content:
        return None
    row = _table(content, "first_stage", _FIRST_STAGE_KEYS, path)
    place = f"{path}: first_stage"
    need = row.get("degree_days_degf")
    if isinstance(need, bool) or not isinstance(need, int | float) or need <= 0:
        raise CropFileError(place, "degree_days_degf must be a number above 0")
    stage = _text(row, "stage", place).lower()
    rows = content["stages"]
    assert isinstance(rows, list)  # noqa: S101 - checked by parse_crop
    if stage not in {str(item.get("stage", "")).strip().lower() for item in rows}:
        raise CropFileError(place, f'there is no stage "{stage}" in [[stages]]')
    base_c = _temperature(row, "base", place)
    if base_c is None:
        raise CropFileError(place, 'needs base, such as "43 degF"')
    return FirstStage(
        stage=stage,
        need_cd=float(need) / _DEGF_IN_DEGC,
        base_c=base_c,
        source=_text(row, "source", place),
    )


def _table(
    content: Mapping[str, object], key: str, known: set[str], path: str
) -> dict[str, object]:
    """Return a table of a crop file, its keys checked."""
    row = content[key]
    if not isinstance(row, dict):
        raise CropFileError(path, f"{key} is not a table: write [{key}]")
    _refuse_unknown(row, known, f"{path}: {key}")
    return row


def _aged_days(row: Mapping[str, object], path: str) -> int:
    """Return the age from which a row's aged value counts. [d]"""
    days = row.get("aged_after_days", 0)
    is_number = isinstance(days, int) and not isinstance(days, bool)
    if ("aged" in row) != (is_number and int(str(days)) > 0):
        raise CropFileError(path, "aged and aged_after_days, whole days, go together")
    return int(str(days))


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


def _flag(content: Mapping[str, object], key: str, path: str) -> bool:
    """Return a yes or no; no where it is not given."""
    value = content.get(key, False)
    if not isinstance(value, bool):
        raise CropFileError(path, f"{key} must be true or false")
    return value


def _texts(content: Mapping[str, object], key: str, path: str) -> tuple[str, ...]:
    """Return a list of texts; empty where it is not given."""
    values = content.get(key, [])
    if not isinstance(values, list) or not all(isinstance(v, str) for v in values):
        raise CropFileError(path, f"{key} must be a list of texts in quotes")
    return tuple(plain_name(value) for value in values)


def read_notes(content: Mapping[str, object]) -> tuple[str, ...]:
    """Return the notes of a crop file.

    Parameters
    ----------
    content : mapping
        The parsed file.

    Returns
    -------
    tuple of str
        As they are written.
    """
    notes = content.get("notes", [])
    return tuple(str(note) for note in notes) if isinstance(notes, list) else ()


def _refuse_unknown(content: Mapping[str, object], known: set[str], path: str) -> None:
    """Raise if a key is not known."""
    for key in content:
        if key not in known:
            near = get_close_matches(key, known, n=1)
            hint = f'; did you mean "{near[0]}"?' if near else ""
            raise CropFileError(path, f'unknown key "{key}"{hint}')
