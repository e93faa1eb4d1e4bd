"""Write files so that no reader ever sees half of one."""

import os
from pathlib import Path
from tempfile import NamedTemporaryFile

from frostalert.errors import StoreError


def save_files(folder: Path, content: dict[str, bytes]) -> None:
    """Write files into a folder, each whole or not at all, in the order given.

    Raises
    ------
    StoreError
        If the folder cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in content.items():
            _save(folder / name, data)
    except OSError as error:
        message = f"{folder} cannot be written: {error.strerror}"
        raise StoreError(message) from error


def _save(path: Path, data: bytes) -> None:
    """Write one file beside its place, then put it there."""
    with NamedTemporaryFile(dir=path.parent, prefix=f".{path.name}-", delete=False) as (
        file
    ):
        beside = Path(file.name)
        try:
            file.write(data)
            file.flush()
            # A web server of another user must be able to read it.
            beside.chmod(0o644)
            os.replace(beside, path)  # noqa: PTH105 - replaces in one step
        except BaseException:
            beside.unlink(missing_ok=True)
            raise
