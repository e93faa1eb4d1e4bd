"""What a message says, read off its words alone, as a person reads them."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Message

VERBS = (
    ("back", r"Frost is still expected|STILL FROST"),
    ("outlook", r"Frost may harm buds|FROST POSSIBLE"),
    ("nothing", r"Nothing you have can stop|NOTHING HERE CAN STOP IT"),
    ("unsure", r"Nothing you have is sure to hold|NOTHING HERE IS SURE TO HOLD"),
    ("kept back", r"The water is saved for the next night|WATER SAVED FOR NEXT NIGHT"),
    ("set up", r"Set up as listed, start nothing|SET UP, START NOTHING YET"),
    ("lay", r"Lay covers before|LAY COVERS BEFORE"),
    ("lamplight", r"Lay covers now, in the dark|LAY COVERS NOW, IN THE DARK"),
    ("get ready", r"Get ready (?:now|from)|GET READY (?:NOW|from)"),
    ("start", r"Start now|START NOW"),
    ("be ready", r"Be ready to start at|BE READY TO START \d"),
    ("keep", r"Leave on what is on|LEAVE ON WHAT IS ON"),
    ("covered", r"Nothing to start, covers stay on|COVERS STAY ON, NOTHING TO START"),
    ("withdrawn", r"[Ff]orecast no longer shows frost"),
    ("over", r"cold hours of the forecast are over|Cold hours are over|"
     r"KEEP WATER ON until|Heat off once"),
    ("blind", r"Frost risk unknown|RISK UNKNOWN"),
)  # fmt: skip
"""Every way in which a message begins; the first that is found counts."""
_CUT = 8
"""The fewest letters that a text leaves of a name."""
_DATE = (
    r"(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) "
    r"(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec) \d{1,2}\b"
)
_DAY = re.compile(_DATE)
_SPOKEN = re.compile(rf"(tonight|tomorrow night), ({_DATE})")
_OVERNIGHT = re.compile(rf"[Oo]vernight ({_DATE}) to ({_DATE})")
_LATE = re.compile(r"This comes [^:]+ late: |\([^)]+ late\) ")
_HOUR = r"(\d{1,2}:\d\d) ?([ap]m)?"
_COLD = re.compile(
    r"(-?\d+) F(?: in (?!the forecast)([^;,.]+)|, (?=harm \d|coldest|now))"
)
_HARM = re.compile(rf"harm {_HOUR}-{_HOUR}")
_COLDEST = re.compile(rf"coldest about {_HOUR}")
_READY = re.compile(rf"[Gg](?:et ready|ET READY) (?:from {_HOUR}|(?:now|NOW))")
_ODDS = re.compile(r"\((under |over )?(\d+) %\)")
_COMMAND = re.compile(r'frostalert ack --by "([^"]+)"')
_LINK = re.compile(r"https?://\S+/a/([\w-]+)")
_BACK = re.compile(r"\bD[Oo] (?:NOT|not) (?:START|start) ([^:]+): ")


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What one message says.

    Attributes
    ----------
    verb : str
        One of `VERBS`; empty if it says none of them.
    days : frozenset of str
        The days that it names before all else, such as "Mon Mar 2".
    spoken : tuple of (word, day)
        Nights that it calls "tonight" and the like, with their day.
    overnight : tuple of (day, day)
        Nights that it calls by both their days.
    low_f, block : int or None, str
        How cold it gets, and where. [degF]
    harm, coldest : minutes of the day
        From when to when buds are harmed; when it is coldest.
    ready : int or None
        From when to get ready, in minutes of the day; None for now, or if not said.
    starts : tuple of (equipment, block, minute)
        What must run by when; None for at once.
    back : tuple of (equipment, block)
        What must not be started any more.
    odds_pct : float or None
        The chance that is told first. [%]
    by, tokens : tuple of str
        Who answers by command, and the links' tokens.
    is_late : bool
        Whether it says that it comes late.
    """

    verb: str
    days: frozenset[str]
    spoken: tuple[tuple[str, str], ...]
    overnight: tuple[tuple[str, str], ...]
    low_f: int | None
    block: str
    harm: tuple[int, int] | None
    coldest: int | None
    ready: int | None
    starts: tuple[tuple[str, str, int | None], ...]
    back: tuple[tuple[str, str], ...]
    odds_pct: float | None
    by: tuple[str, ...]
    tokens: tuple[str, ...]
    is_late: bool


def read(
    message: Message, equipment: Iterable[str] = (), blocks: Iterable[str] = ()
) -> Said:
    """Return what a message says."""
    late = _LATE.search(message.text)
    is_late = late is not None and late.start() == 0
    # A mail says in a paragraph of its own that it comes late.
    paragraphs = message.text.split("\n\n")
    head = paragraphs[min(int(is_late and is_mail(message)), len(paragraphs) - 1)]
    cold, harm, coldest = _COLD.search(head), _HARM.search(head), _COLDEST.search(head)
    ready = _READY.search(head)
    odds = _ODDS.search(message.text)
    is_odds_plain = odds is not None and odds[1] is None
    return Said(
        verb=next((name for name, words in VERBS if re.search(words, head)), ""),
        days=frozenset(_DAY.findall(head)),
        spoken=tuple(_SPOKEN.findall(head)),
        overnight=tuple(_OVERNIGHT.findall(head)),
        low_f=int(cold[1]) if cold else None,
        block=_block(cold, head, blocks),
        harm=_span(*harm.groups()) if harm else None,
        coldest=_minute(coldest[1], coldest[2]) if coldest else None,
        ready=_minute(ready[1], ready[2]) if ready and ready[1] else None,
        starts=tuple(_starts(head, equipment, blocks)),
        back=tuple(_back(head)),
        odds_pct=float(odds[2]) if odds and is_odds_plain else None,
        by=tuple(_COMMAND.findall(message.text)),
        tokens=tuple(_LINK.findall(message.text)),
        is_late=is_late,
    )


def _block(cold: re.Match[str] | None, head: str, blocks: Iterable[str]) -> str:
    """Return where it is so cold: said there, or the one block that is named before."""
    if cold is None or cold[2]:
        return cold[2] if cold else ""
    return next((name for name in blocks if name[:_CUT] in head[: cold.start()]), "")


def is_mail(message: Message) -> bool:
    """Return whether a message is a mail."""
    return message.channel is ChannelKind.EMAIL


def _starts(
    head: str, equipment: Iterable[str], blocks: Iterable[str]
) -> Iterable[tuple[str, str, int | None]]:
    """Give what must run by when."""
    for item in equipment:
        for block in blocks:
            words = rf"{re.escape(item)}(?: x \d+)?(?: in)? {re.escape(block)}"
            when = rf"{words}(?:, running)? (?:by {_HOUR}|at once)"
            for hour, half in re.findall(when, head):
                yield item, block, _minute(hour, half) if hour else None


def _back(head: str) -> Iterable[tuple[str, str]]:
    """Give what must not be started any more."""
    for pairs in _BACK.findall(head):
        for pair in pairs.split("; "):
            equipment, _, block = pair.partition(" in ")
            yield equipment, block


def _minute(clock: str, half: str) -> int:
    """Return an hour as people read it as minutes of the day."""
    hour, minute = map(int, clock.split(":"))
    if half:
        hour = hour % 12 + 12 * (half == "pm")
    return 60 * hour + minute


def _span(first: str, half: str, last: str, other: str) -> tuple[int, int]:
    """Return from when to when; "am" stands once where both are of it."""
    return _minute(first, half or other), _minute(last, other)
