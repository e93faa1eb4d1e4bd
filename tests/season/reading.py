"""What a message says, read off its words alone, as a person reads them."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Message

VERBS = (
    ("back", r"stays as told|DO NOT START|as told\."),
    ("outlook", r"Frost may harm buds|FROST POSSIBLE"),
    ("nothing", r"Nothing you have can hold|NOTHING HERE CAN HOLD IT"),
    ("lamplight", r"Lay covers now, by lamplight|LAY COVERS NOW BY LAMPLIGHT"),
    ("get ready", r"Get ready (?:now|from)|GET READY (?:NOW|from)"),
    ("start", r"Start now|START NOW"),
    ("be ready", r"Be ready to start at|BE READY TO START \d"),
    ("keep", r"Keep running what runs|KEEP WHAT RUNS"),
    ("covered", r"Nothing to start, covers stay on|COVERS STAY ON, NOTHING TO START"),
    ("withdrawn", r"[Ff]orecast no longer shows frost"),
    ("over", r"cold hours of the forecast are over|Cold hours are over|"
     r"Water off not before|Heat out once"),
    ("blind", r"Nobody can judge|CANNOT JUDGE"),
)  # fmt: skip
"""Every way in which a message begins; the first that is found counts."""
_DAY = re.compile(r"\b(Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec) (\d{1,2})\b")
_HOUR = r"(\d{1,2}:\d\d) ?([ap]m)?"
_COLD = re.compile(r"(-?\d+) F in (?!the forecast)([^;,.]+)")
_HARM = re.compile(rf"harm {_HOUR}-{_HOUR}")
_COLDEST = re.compile(rf"coldest about {_HOUR}")
_READY = re.compile(rf"[Gg](?:et ready|ET READY) (?:from {_HOUR}|(?:now|NOW))")
_ODDS = re.compile(r"\((under |over )?(\d+) %\)")
_COMMAND = re.compile(r'frostalert ack --by "([^"]+)"')
_LINK = re.compile(r"https?://\S+/a/([\w-]+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What one message says.

    Attributes
    ----------
    verb : str
        One of `VERBS`; empty if it says none of them.
    days : frozenset of str
        The days that it names before all else, such as "Mar 2".
    low_f, block : int or None, str
        How cold it gets, and where. [degF]
    harm, coldest : minutes of the day
        From when to when buds are harmed; when it is coldest.
    ready : int or None
        From when to get ready, in minutes of the day; None for now, or if not said.
    starts : tuple of (equipment, block, minute)
        What must run by when.
    odds_pct : float or None
        The chance that is told first. [%]
    asks : tuple of str
        Who answers by command, and the links' tokens.
    """

    verb: str
    days: frozenset[str]
    low_f: int | None
    block: str
    harm: tuple[int, int] | None
    coldest: int | None
    ready: int | None
    starts: tuple[tuple[str, str, int], ...]
    odds_pct: float | None
    by: tuple[str, ...]
    tokens: tuple[str, ...]


def read(
    message: Message, equipment: Iterable[str] = (), blocks: Iterable[str] = ()
) -> Said:
    """Return what a message says."""
    head, _, _ = message.text.partition("\n\n")
    cold, harm, coldest = _COLD.search(head), _HARM.search(head), _COLDEST.search(head)
    ready = _READY.search(head)
    odds = _ODDS.search(message.text)
    is_odds_plain = odds is not None and odds[1] is None
    return Said(
        verb=next((name for name, words in VERBS if re.search(words, head)), ""),
        days=frozenset(f"{month} {day}" for month, day in _DAY.findall(head)),
        low_f=int(cold[1]) if cold else None,
        block=cold[2] if cold else "",
        harm=_span(*harm.groups()) if harm else None,
        coldest=_minute(coldest[1], coldest[2]) if coldest else None,
        ready=_minute(ready[1], ready[2]) if ready and ready[1] else None,
        starts=tuple(_starts(head, equipment, blocks)),
        odds_pct=float(odds[2]) if odds and is_odds_plain else None,
        by=tuple(_COMMAND.findall(message.text)),
        tokens=tuple(_LINK.findall(message.text)),
    )


def is_mail(message: Message) -> bool:
    """Return whether a message is a mail."""
    return message.channel is ChannelKind.EMAIL


def _starts(
    head: str, equipment: Iterable[str], blocks: Iterable[str]
) -> Iterable[tuple[str, str, int]]:
    """Give what must run by when."""
    for item in equipment:
        for block in blocks:
            words = rf"{re.escape(item)}(?: in)? {re.escape(block)}"
            for hour in re.findall(rf"{words}(?:, running)? by {_HOUR}", head):
                yield item, block, _minute(*hour)


def _minute(clock: str, half: str) -> int:
    """Return an hour as people read it as minutes of the day."""
    hour, minute = map(int, clock.split(":"))
    if half:
        hour = hour % 12 + 12 * (half == "pm")
    return 60 * hour + minute


def _span(first: str, half: str, last: str, other: str) -> tuple[int, int]:
    """Return from when to when; "am" stands once where both are of it."""
    return _minute(first, half or other), _minute(last, other)
