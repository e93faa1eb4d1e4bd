"""A text message of ranked parts: the least is left out where room is short."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from frostalert.messages.repeat import REPEAT_MARK
from frostalert.messages.sms import ONE_SEGMENT, gsm_length, shorten, to_gsm
from frostalert.messages.wording import tight_hours

_STEPS = (
    *((places, 3) for places in (30, 22, 16)),
    *((places, 2) for places in (30, 22, 16)),
    *((places, 1) for places in (30, 22, 16, 12, 10)),
    *((places, 0) for places in (16, 12, 10, 9, 8)),
)
"""Places that a name gets, and the ranks up to which nothing is left out: what counts
less goes before a name is cut to less than most methods' names."""
_WORD = 9
"""The places from which on the first word of a name stays whole. [1] Our own rule."""
_LONGEST_WORD = 16
_BRIEF_FROM = 1
"""The step from which on parts are brief: all else that is left is what counts."""
_SHORT_LINK = 45
"""The most characters of a link that jobs give way to. [1] Our own rule."""
Short = Callable[[str], str]
"""Cuts a name to the places that it gets."""


@dataclass(frozen=True, slots=True)
class Part:
    """Some words, and their rank: the highest goes first where room is short.

    Rank 0 stays whatever happens. `brief` is what it comes down to where even what
    counts has no room; as its words by default.
    """

    rank: int
    words: str
    brief: str = ""


def answer_part(link: str) -> Part:
    """Return where to answer; a link that would fill a third gives way to jobs."""
    rank = 1 if gsm_length(link) <= _SHORT_LINK else 3
    return Part(rank, f"Answer: {link}" if link else "", brief=link)


def fit(
    parts_with: Callable[[Short], Sequence[Part]],
    mark: str,
    *,
    tail: str = "",
    limit: int = ONE_SEGMENT,
) -> str:
    """Return the most of a text that fits, a repeat's mark included.

    Names are cut before what counts goes: the first of all steps that fits is it.

    Parameters
    ----------
    parts_with : function of Short
        Returns the parts in reading order, names cut by what it is given.
    tail : str
        The last words, which stay even where all else is cut.
    """
    limit -= gsm_length(REPEAT_MARK)
    text = ""
    for places, stays in _STEPS:
        parts = [part for part in parts_with(_cutter(places)) if part.words]
        for kept in _fewer_and_fewer(parts, stays):
            words = [_words(part, is_brief=stays <= _BRIEF_FROM) for part in kept]
            text = tight_hours(to_gsm(mark + " ".join(words)))
            if gsm_length(text) <= limit:
                return text
    return _cut(text, tight_hours(to_gsm(tail)), limit)


def _words(part: Part, *, is_brief: bool) -> str:
    """Return a part's words, or what they come down to."""
    return part.brief or part.words if is_brief else part.words


def _fewer_and_fewer(parts: list[Part], stays: int) -> Iterator[list[Part]]:
    """Give all parts, then one fewer each time: of the highest rank the last first."""
    yield parts
    for most in sorted({part.rank for part in parts}, reverse=True):
        for place in reversed(range(len(parts))):
            if parts[place].rank == most > stays:
                parts = [*parts[:place], *parts[place + 1 :]]
                yield parts


def _cutter(places: int) -> Short:
    """Return what cuts a name to some places, at a word's end while there is room."""

    def short(name: str) -> str:
        name = to_gsm(name)
        first, *more = name.split(" ", 1)
        is_long = gsm_length(first) > places
        if is_long and more and places >= _WORD and gsm_length(first) <= _LONGEST_WORD:
            return first
        return shorten(name, places)

    return short


def _cut(text: str, tail: str, limit: int) -> str:
    """Return a text cut before its last words, which must not be lost."""
    if gsm_length(text) <= limit:
        return text
    if not tail:
        return shorten(text, limit)
    body = shorten(text.removesuffix(tail), limit - gsm_length(tail) - 1)
    return f"{body} {tail}"
