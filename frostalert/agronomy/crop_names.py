"""Spelling neighbours of a crop's name: the same plant, never another one."""

from collections.abc import Iterable

from frostalert.agronomy.spelling import allowed_slips, slips

_MOST_NEAR = 3
_OTHER_PLANTS = frozenset({"crowberry"})
"""Plants of their own whose names are two letters from a crop's."""


def plain_name(name: str) -> str:
    """Return a crop's name as it is looked up: small letters, hyphens for spaces.

    Parameters
    ----------
    name : str
        What was written.

    Returns
    -------
    str
        The name.
    """
    return "-".join(name.lower().replace("_", " ").split())


def near_crop_names(wanted: str, known: Iterable[str]) -> list[str]:
    """Return the known names that may be another spelling of a name.

    A wrong letter or two are taken for a slip, and a plant's bare name for any of its
    kinds ("cherry" is near to "sweet-cherry"). Likeness alone is not enough: a
    raspberry is no strawberry.

    Parameters
    ----------
    wanted : str
        What was written.
    known : iterable of str
        Names and other names of the crops.

    Returns
    -------
    list of str
        At most three, the nearest first.
    """
    wanted = plain_name(wanted)
    if _singular(wanted) in _OTHER_PLANTS:
        return []
    found = [(_wrong(wanted, name), name) for name in sorted(set(known))]
    near = sorted((count, name) for count, name in found if count is not None)
    return [name for _, name in near][:_MOST_NEAR]


def _wrong(wanted: str, name: str) -> int | None:
    """Return how many letters are wrong; None if it may be another plant."""
    # The plant stands first or last: "cranberry-stevens", "sweet-cherry".
    plant, words = wanted.rpartition("-")[2], name.split("-")
    pairs = [(wanted, name), (plant, words[0]), (plant, words[-1])]
    counts = [
        count
        for left, right in pairs
        if (count := slips(_singular(left), right)) <= allowed_slips(left)
    ]
    return min(counts, default=None)


def _singular(word: str) -> str:
    """Return a word without the ending of the plural."""
    if word.endswith("ies"):
        return word.removesuffix("ies") + "y"
    return word.removesuffix("s")
