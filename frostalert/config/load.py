"""Read the configuration, check all of it, and say everything that is wrong at once."""

import re
import tomllib
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from frostalert.agronomy.crop_file import parse_crop
from frostalert.agronomy.crop_names import plain_name
from frostalert.config.cross_checks import cross_checks, place_checks
from frostalert.config.lines import Lines
from frostalert.config.paths import beside
from frostalert.config.problems import Problem, schema_problems, told
from frostalert.config.schema import ConfigFile
from frostalert.config.to_model import secret_problems, to_settings
from frostalert.config.toml_faults import toml_problem
from frostalert.errors import (
    ConfigFileError,
    ConfigValueError,
    CropFileError,
    reason_of,
)
from frostalert.model.crop import Crop
from frostalert.model.settings import Settings

# The folder in a file that is no TOML any more: under [storage], or at the top.
_STORAGE = re.compile(r"^\s*\[storage\][^\n]*\n(.*?)(?=^\s*\[|\Z)", re.M | re.S)
_DIRECTORY = re.compile(r"""^\s*directory\s*=\s*["']([^"'\n]+)["']""", re.M)
_AT_THE_TOP = re.compile(r"""^\s*storage\.directory\s*=\s*["']([^"'\n]+)["']""", re.M)


def load_settings(path: Path, *, needs_secrets: bool = True) -> Settings:
    """Return the checked configuration.

    Parameters
    ----------
    path : Path
        The file.
    needs_secrets : bool
        Whether a password that cannot be read is a mistake; commands that send
        nothing can do without.

    Returns
    -------
    Settings
        The configuration.

    Raises
    ------
    ConfigFileError
        If the file is missing or is not TOML.
    ConfigValueError
        If anything in it cannot be used; every problem is listed.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError as error:
        raise ConfigFileError(str(path), "no such file") from error
    except IsADirectoryError as error:
        raise ConfigFileError(str(path), "is a folder; name the file in it") from error
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        problem = f"is not UTF-8 text at line {line}; save it as UTF-8"
        raise ConfigFileError(str(path), problem) from error
    except OSError as error:
        problem = f"cannot be read: {reason_of(error)}"
        raise ConfigFileError(str(path), problem) from error
    return parse_settings(text, path, needs_secrets=needs_secrets)


def parse_settings(
    text: str,
    path: Path,
    *,
    needs_secrets: bool,
    crops: Path | None = None,
    was_accepted: bool = False,
) -> Settings:
    """Return the checked configuration from its text; as `load_settings`.

    `crops` takes the place of the folder of own crops that the file names. What
    `was_accepted` is not asked again whether its place can be meant: a service that
    ran by it must run.
    """
    text = text.removeprefix("\ufeff")
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ConfigFileError(str(path), toml_problem(text, error)) from error
    if not raw:
        problem = "is empty; frostalert init writes a first one"
        raise ConfigFileError(str(path), problem)
    own, crop_faults = _own_crops(crops or crops_folder(raw, path.parent))
    problems = [Problem(("storage", "crops"), words) for words in crop_faults]
    problems += [Problem(*found) for found in cross_checks(raw, own)]
    if not was_accepted:
        problems += [Problem(*found) for found in place_checks(raw)]
    content = _content(raw, problems)
    if content is not None and needs_secrets:
        problems += [Problem(*found) for found in secret_problems(content, path.parent)]
    if problems or content is None:
        reasons = [problem.words for problem in problems]
        raise ConfigValueError(str(path), told(problems, raw, Lines(text)), reasons)
    return to_settings(content, own, path.parent, needs_secrets=needs_secrets)


def _content(raw: dict[str, Any], problems: list[Problem]) -> ConfigFile | None:
    """Return what the schema makes of a file; what it refuses joins the problems."""
    try:
        return ConfigFile.model_validate(raw)
    except ValidationError as error:
        known = {problem.location for problem in problems}
        # What was said with a remedy is not said again without.
        problems += [
            problem
            for problem in schema_problems(error)
            if problem.location not in known
        ]
        return None


def named_state_directory(path: Path) -> str | None:
    """Return the state folder that a file names, however broken the rest of it is.

    The copy of the last accepted file is kept there, and is needed just then.
    """
    try:
        text = path.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return None
    try:
        storage = tomllib.loads(text.removeprefix("\ufeff")).get("storage")
    except tomllib.TOMLDecodeError:
        named = _directory_in_broken(text)
    else:
        named = storage.get("directory") if isinstance(storage, dict) else None
    return str(beside(path.parent, named)) if isinstance(named, str) else None


def _directory_in_broken(text: str) -> str | None:
    """Return the state folder that a file names which is no TOML."""
    section = _STORAGE.search(text)
    match = _DIRECTORY.search(section[1]) if section else _AT_THE_TOP.search(text)
    return match[1] if match else None


def own_crops_folder(text: str, path: Path) -> Path | None:
    """Return the folder of own crops that a good file names, if it names one."""
    return crops_folder(tomllib.loads(text.removeprefix("\ufeff")), path.parent)


def own_crops(path: Path) -> dict[str, Crop]:
    """Return the crops of one's own that a configuration names, by plain name.

    Raises
    ------
    ConfigFileError, ConfigValueError
        If the file or one of the crops cannot be read.
    """
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8").removeprefix("\ufeff"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        problem = f"cannot be read: {reason_of(error)}"
        raise ConfigFileError(str(path), problem) from error
    found, problems = _own_crops(crops_folder(raw, path.parent))
    if problems:
        words = [f"storage.crops: {problem}" for problem in problems]
        raise ConfigValueError(str(path), words)
    return found


def crops_folder(raw: dict[str, Any], folder: Path) -> Path | None:
    """Return the folder of own crops that is named, if one is."""
    storage = raw.get("storage")
    named = storage.get("crops") if isinstance(storage, dict) else None
    return beside(folder, named) if isinstance(named, str) else None


def _own_crops(place: Path | None) -> tuple[dict[str, Crop], list[str]]:
    """Return the user's own crops and what is wrong with their files."""
    if place is None:
        return {}, []
    try:
        files = sorted(file for file in place.iterdir() if file.suffix == ".toml")
    except (FileNotFoundError, NotADirectoryError):
        return {}, [f"there is no folder {place}; create it"]
    except (OSError, ValueError) as error:
        return {}, [f"{place} cannot be read: {reason_of(error)}"]
    crops, problems = {}, []
    for file in files:
        try:
            content = tomllib.loads(file.read_text(encoding="utf-8"))
            crop = parse_crop(content, str(file))
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
            problems.append(f"{file}: cannot be read: {reason_of(error)}")
        except CropFileError as error:
            problems.append(f"{error}")
        else:
            crops[plain_name(crop.name)] = crop
    return crops, problems
