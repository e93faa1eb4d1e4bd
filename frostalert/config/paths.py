"""Paths that the configuration names."""

from pathlib import Path


def beside(folder: Path, name: str) -> Path:
    """Return the absolute path of a name that counts from a folder, "~" being home.

    Parameters
    ----------
    folder : Path
        Folder of the configuration.
    name : str
        What it names.

    Returns
    -------
    Path
        Where that is.
    """
    try:
        path = Path(name).expanduser()
    except RuntimeError:
        # There is no such user: then it is a name like another, and is not found.
        path = Path(name)
    return (folder / path).absolute()
