"""Crops by name, packaged or the user's own, and their stages by name."""

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from importlib import resources

from frostalert.agronomy.crop_file import parse_crop, read_notes
from frostalert.agronomy.crop_names import near_crop_names, plain_name
from frostalert.agronomy.spelling import misspelt
from frostalert.errors import UnknownCropError, UnknownStageError
from frostalert.model.crop import Crop


def packaged_crop_names() -> list[str]:
    """Return the names of the crops that come with the package, sorted."""
    folder = resources.files(__package__) / "crops"
    return sorted(
        entry.name.removesuffix(".toml")
        for entry in folder.iterdir()
        if entry.name.endswith(".toml")
    )


def find_crop(name: str, own: Mapping[str, Crop]) -> Crop:
    """Return a crop by name, the user's own before the packaged ones.

    Parameters
    ----------
    name : str
        Name as in the configuration, or another name of the plant that its file
        gives; spaces count as hyphens.
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
    own_names = {
        **{alias: crop for crop in own.values() for alias in crop.aliases},
        **own,
    }
    if wanted in own_names:
        return own_names[wanted]
    packaged = packaged_crop_names()
    if wanted in packaged:
        return _packaged_crop(wanted)
    others = _other_names()
    if wanted in others:
        return _packaged_crop(others[wanted])
    valid = sorted({*packaged, *own_names})
    near = near_crop_names(wanted, [*valid, *others])
    # A crop's other name says nothing beside its own.
    near = [item for item in near if others.get(item) not in near]
    raise UnknownCropError(name, near, valid)


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
        If the table has no such stage; it carries those of which it is a misspelling.
    """
    wanted = " ".join(stage.lower().replace("-", " ").split())
    valid = [*crop.stage_names, *beside]
    by_plain_name = {name.replace("-", " "): name for name in valid}
    if wanted in by_plain_name:
        return by_plain_name[wanted]
    near = [by_plain_name[name] for name in misspelt(wanted, by_plain_name)]
    raise UnknownStageError(stage, near, valid)


@cache
def _packaged_crop(name: str) -> Crop:
    """Return a crop that comes with the package."""
    path = resources.files(__package__) / "crops" / f"{name}.toml"
    content = tomllib.loads(path.read_text(encoding="utf-8"))
    original = content.get("same_as")
    if original is None:
        return parse_crop(content, f"{name}.toml")
    base = _packaged_crop(original)
    return replace(
        base,
        name=content["name"],
        title=content["title"],
        notes=(*read_notes(content), *base.notes),
        aliases=(),
    )


@cache
def _other_names() -> dict[str, str]:
    """Return the packaged crops by their other names."""
    return {
        alias: name
        for name in packaged_crop_names()
        for alias in _packaged_crop(name).aliases
    }
