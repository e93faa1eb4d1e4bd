"""Slips of the pen: how many letters are wrong, and how many a word may have."""

from collections.abc import Iterable

_SHORT, _LONG = 4, 7


def misspelt(wanted: str, known: Iterable[str]) -> list[str]:
    """Return the names of which another one is a misspelling, the nearest first.

    A shared word is not enough: "full bloom" is no misspelling of "full swell".

    References
    ----------
    .. [1] Damerau, "A technique for computer detection and correction of spelling
       errors," Communications of the ACM 7(3), 1964, 171-176: four slips in five are
       one letter wrong, missing, too many or two exchanged.

    Examples
    --------
    >>> misspelt("full blom", ["full swell", "full bloom", "first bloom"])
    ['full bloom']
    """
    counted = sorted((slips(wanted, name), name) for name in known)
    return [name for count, name in counted if count <= allowed_slips(wanted)]


def allowed_slips(word: str) -> int:
    """Return how many slips a word of its length may have."""
    if len(word) < _SHORT:
        return 0
    return 1 if len(word) < _LONG else 2


def slips(left: str, right: str) -> int:
    """Return the letters wrong, missing, too many or exchanged between two words.

    Examples
    --------
    >>> slips("kitten", "sitting"), slips("plum", "plmu"), slips("", "fig")
    (3, 1, 3)
    >>> slips("plum", "lpum")
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
