"""Spelling neighbours of a crop's name: the same plant, never another one."""

from collections.abc import Iterable

_SHORT, _LONG = 4, 7
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

    References
    ----------
    .. [1] Damerau, "A technique for computer detection and correction of spelling
       errors," Communications of the ACM 7(3), 1964, 171-176: four slips in five are
       one letter wrong, missing, too many or two exchanged.
    """
    wanted = plain_name(wanted)
    if _singular(wanted) in _OTHER_PLANTS:
        return []
    found = [(_slips(wanted, name), name) for name in sorted(set(known))]
    near = sorted((slips, name) for slips, name in found if slips is not None)
    return [name for _, name in near][:_MOST_NEAR]


def _slips(wanted: str, name: str) -> int | None:
    """Return how many letters are wrong; None if it may be another plant."""
    # The plant stands first or last: "cranberry-stevens", "sweet-cherry".
    plant, words = wanted.rpartition("-")[2], name.split("-")
    pairs = [(wanted, name), (plant, words[0]), (plant, words[-1])]
    counts = [
        count
        for left, right in pairs
        if (count := _distance(_singular(left), right)) <= _allowed(left)
    ]
    return min(counts, default=None)


def _allowed(word: str) -> int:
    """Return how many slips a word of its length may have."""
    if len(word) < _SHORT:
        return 0
    return 1 if len(word) < _LONG else 2


def _singular(word: str) -> str:
    """Return a word without the ending of the plural."""
    if word.endswith("ies"):
        return word.removesuffix("ies") + "y"
    return word.removesuffix("s")


def _distance(left: str, right: str) -> int:
    """Return the letters wrong, missing, too many or exchanged between two words.

    Examples
    --------
    >>> _distance("kitten", "sitting"), _distance("plum", "plmu"), _distance("", "fig")
    (3, 1, 3)
    >>> _distance("plum", "lpum")
    1
    """
    before: list[int] = []
    last = list(range(len(right) + 1))
    for i, a in enumerate(left, 1):
        row = [i]
        for j, b in enumerate(right, 1):
            best = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (a != b))
            if i > 1 and j > 1 and a == right[j - 2] and left[i - 2] == b:
                best = min(best, before[j - 2] + 1)
            row.append(best)
        before, last = last, row
    return last[-1]
