"""Every message that arrives is read, and held against what was true when it was made.

Nothing here asks the code that writes messages: `reading.py` takes the words apart, and
`moments.py` keeps the judgement and the decision of each look.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Protocol

from frostalert.model.assessment import BlockNight, NightAssessment
from frostalert.model.channel import ChannelKind
from frostalert.model.method import Agent
from frostalert.model.notice import Message, NightDecision, Subject
from frostalert.model.start import Start, StartKey, StartState
from tests.season.faults import FaultKind
from tests.season.moments import Moment
from tests.season.people import PUBLIC_URL
from tests.season.reading import Said, is_mail, read
from tests.season.weather import ZONE
from tests.season.world import Delivery, World

WARNING = (Subject.OUTLOOK, Subject.PREPARE, Subject.ACT)
ASKING = (Subject.PREPARE, Subject.ACT, Subject.CANNOT_JUDGE)
ROUNDING_F, ROUNDING_PCT, ROUNDING_MIN = 0.51, 0.51, 1
"""How far off a number in words may be from the number."""
MOST_WIND_MPS = 5.0
"""Wind over the whole night above which no heater is ever named. [m/s]"""
_ALT = re.compile(r'<img[^>]*\balt="([^"]*)"')
_DRAWN_LOW = re.compile(r"air lowest (-?\d+) F")
_BETWEEN_F = 2
ONE_SEGMENT = 160 - len("(again) ")
"""Room of a text: the mark of a repeat has its own."""
LINK_SIGNS = len(f" Answer: {PUBLIC_URL}/a/") + 11
"""How many signs a link takes in a text, with the words before it."""
_A_DAY_MIN = 24 * 60
_MOST_SIGNS = 306
LATE = timedelta(minutes=45)
"""A message that arrives so long after it was made, or due, says so."""
WAITED = timedelta(hours=12)
_NO_USE = {"nothing", "unsure", "kept back"}
_VERBS = {
    Subject.OUTLOOK: {"outlook"},
    Subject.PREPARE: {"get ready", "lamplight", "lay"} | _NO_USE,
    Subject.ACT: {"start", "be ready", "keep", "covered", "lamplight", "lay",
                  "set up", "back"} | _NO_USE,
    Subject.WITHDRAWN: {"withdrawn"},
    Subject.STAND_DOWN: {"over"},
    Subject.CANNOT_JUDGE: {"blind"},
}  # fmt: skip
_ALIVE = (StartState.PLANNED, StartState.ANNOUNCED, StartState.CALLED)


class Notes(Protocol):
    """Who keeps what was found."""

    world: World

    def note(self, words: str) -> None:
        """Keep what did not hold."""

    def note_unless(self, kind: str, words: str, *, is_excused: bool) -> None:
        """Keep what did not hold; count it apart where that is explained."""

    def was_on_at(self, moment_utc: datetime, within: timedelta) -> bool:
        """Return whether any fault was on at a moment, or of late."""


@dataclass
class Eyes:
    """Reads everything that arrives in one season."""

    judge: Notes
    beside: dict[tuple[str, str], tuple[Message, Said]] = field(default_factory=dict)
    """The first message of each occasion and form, with what it says."""
    read_count: int = 0

    def look(self, delivery: Delivery) -> None:
        """Read one message that arrived."""
        message, world = delivery.message, self.judge.world
        self.read_count += 1
        found = list(_as_a_thing(message))
        moments = world.moments.of.get(message.key.removesuffix("|fallback"), [])
        people = [person for moment in moments for person in moment.farm.people]
        book = people or [*world.people_at(delivery.at_utc)]
        for words in _addressed(message, book):
            # What waited for its channel goes to the list of when it was written.
            before = world.people_at(delivery.at_utc - WAITED)
            is_old = not people and not list(_addressed(message, before))
            was_bad = self.judge.was_on_at(delivery.at_utc, timedelta(hours=1))
            self.judge.note_unless(
                "address of before",
                f"{words}: {message.key}",
                is_excused=is_old and was_bad,
            )
        if message.subject_kind in _VERBS and not moments:
            found.append("nobody decided that it be said")
        if moments:
            # After a loss of the state the same may have been said twice.
            found += _fewest(list(_as_told(message, moment)) for moment in moments)
            found += self._as_beside(message, moments[-1])
            found += _as_drawn(message, moments[-1])
            found += self._as_linked(message)
            self._as_late(delivery)
        for words in found:
            self.judge.note(f"{words}: {message.key}")

    def _as_late(self, delivery: Delivery) -> None:
        """Note a message that comes late and does not say so."""
        message = delivery.message
        own = message.key.removesuffix("|fallback")
        late = delivery.at_utc - self.judge.world.moments.due_utc[own]
        if late > LATE and not read(message).is_late:
            # By a clock that is wrong it was on time.
            self.judge.note_unless(
                "late by true time",
                f"{late} late, and does not say so: {message.key}",
                is_excused=FaultKind.CLOCK_STEP in self.judge.world.active,
            )

    def _as_linked(self, message: Message) -> Iterator[str]:
        """Tell where links are wanted, and lead nowhere or to somebody else."""
        world, said = self.judge.world, read(message)
        if world.crowd is None or message.subject_kind not in ASKING:
            return
        if not said.tokens:
            # A text of one segment leaves out first what the page says as well.
            is_full = (
                not is_mail(message) and len(message.text) + LINK_SIGNS > ONE_SEGMENT
            )
            is_full = is_full and message.subject_kind is not Subject.ACT
            words = f"has no link to answer by: {message.key}"
            self.judge.note_unless(
                "text too full for a link", words, is_excused=is_full
            )
        for token in said.tokens:
            ticket = world.crowd.ticket(world.folder, token)
            if ticket is not None and ticket.person != message.person:
                yield f"its link answers for {ticket.person}"

    def _as_beside(self, message: Message, moment: Moment) -> Iterator[str]:
        """Tell where two messages of one occasion contradict each other."""
        if message.subject_kind not in WARNING:
            return
        occasion = message.key.removesuffix("|fallback").rsplit("|", 2)[0]
        said = _read(message, moment)
        mark = (f"{occasion}|{moment.at_utc}", "")
        before, first = self.beside.setdefault(mark, (message, said))
        for name in ("verb", "low_f", "block", "harm", "coldest", "ready"):
            mine, other = getattr(said, name), getattr(first, name)
            if mine != other:
                yield f"{name} is {mine!r} here, {other!r} to {before.person}"
        both = set(said.starts) & set(first.starts)
        if said.starts and first.starts and not both:
            yield f"starts {said.starts} here, {first.starts} to {before.person}"


def _as_drawn(message: Message, moment: Moment) -> Iterator[str]:
    """Tell where the words of a mail's picture contradict the mail."""
    alt = _ALT.search(message.html or "")
    is_shown = any(item.cid for item in message.attachments)
    if is_shown != (alt is not None):
        yield "its picture has no words, or its words no picture"
    if alt is None:
        return
    said, words = _read(message, moment), alt[1]
    if f" in {said.block}," not in words:
        yield f"its picture is not of {said.block}: {words}"
    low = _DRAWN_LOW.search(words)
    # It is drawn by the hour; the low may lie between two of them.
    if said.low_f is None or low is None or abs(int(low[1]) - said.low_f) > _BETWEEN_F:
        yield f"its picture tells another low than {said.low_f} F: {words}"


def _fewest(each: Iterable[list[str]]) -> list[str]:
    """Return the shortest list."""
    return sorted(each, key=len)[0]


def _read(message: Message, moment: Moment) -> Said:
    """Return what a message says of what is there."""
    return read(
        message,
        [item.name for item in moment.farm.equipment],
        [block.name for block in moment.farm.blocks],
    )


def _as_a_thing(message: Message) -> Iterator[str]:
    """Tell what is wrong with a message whatever it is about."""
    if not message.text.strip():
        yield "an empty message"
    if not is_mail(message):
        if len(message.text) > _MOST_SIGNS or not message.text.isascii():
            yield "no text for a phone"
        return
    if not message.subject.strip():
        yield "a mail without a subject"
    first = message.text.splitlines()[0] if message.text.strip() else ""
    page = _plain(message.html or "")
    if first and _plain(first) not in page:
        yield "its page does not say what its text says first"


def _plain(words: str) -> str:
    """Return words without marks of a page, blanks and quotes."""
    for mark, sign in (("&#34;", ""), ("&#39;", ""), ("&amp;", "&"), ('"', "")):
        words = words.replace(mark, sign)
    return "".join(words.replace("'", "").split())


def _addressed(message: Message, people: Iterable[object]) -> Iterator[str]:
    """Tell whether a message goes to somebody on the list, at that person's address."""
    known = [p for p in people if getattr(p, "name", "") == message.person]
    if not known:
        yield f"{message.person} is not on the list"
        return
    key = "email" if message.channel is ChannelKind.EMAIL else "phone"
    own = {getattr(person, key) for person in known}
    if message.address not in own:
        yield f"to {message.address}, which is not {message.person}'s"


def _as_told(message: Message, moment: Moment) -> Iterator[str]:
    """Tell where a message differs from what was judged and decided at its look."""
    subject, night = message.subject_kind, message.night
    said = _read(message, moment)
    if subject in _VERBS and said.verb not in _VERBS[subject]:
        yield f'"{subject}" says {said.verb or "nothing to do"!r}'
    if night is None:
        return
    yield from _names_night(message, said, night, moment)
    if subject in ASKING:
        yield from _asks(message, said)
    if subject is Subject.STAND_DOWN:
        yield from _ends_what_is_there(message, moment)
    judged, item = moment.nights.get(night), moment.items.get(night)
    if judged is None or subject not in WARNING:
        return
    yield from _cold_as_judged(said, judged)
    if item is not None and subject in (Subject.PREPARE, Subject.ACT):
        yield from _taken_back(message, said, moment)
        if said.verb != "back":
            yield from _starts_as_decided(said, item, judged, moment)


def _ends_what_is_there(message: Message, moment: Moment) -> Iterator[str]:
    """Tell whether an ending speaks of water or heat that nobody has."""
    agents = {item.method.agent for item in moment.farm.equipment}
    if agents == {Agent.FLAME} and "water on" in message.text.lower():
        yield "has people who have heaters alone keep water on"


def _taken_back(message: Message, said: Said, moment: Moment) -> Iterator[str]:
    """Tell whether it names all that must not be started any more, and nothing else."""
    revoked = {
        option.pair
        for night in message.nights
        if (item := moment.items.get(night)) is not None
        for option in item.revoked
    }
    if set(said.back) != revoked:
        yield f"says not to start {sorted(said.back)}, decided {sorted(revoked)}"


def _names_night(
    message: Message, said: Said, night: date, moment: Moment
) -> Iterator[str]:
    """Tell whether the night is named: in a text after midnight by its morning."""
    names = {_day(night)}
    local = moment.at_utc.astimezone(ZONE)
    if not is_mail(message) and local.date() > night:
        names.add(_day(night + timedelta(days=1)))
    if names.isdisjoint(said.days):
        yield f"does not name {night}"
    is_ours = is_mail(message) and message.subject_kind in _VERBS
    if is_ours and _day(night) not in message.subject:
        yield f"its subject does not name {night}"
    for word, day in said.spoken:
        ahead = timedelta(days=int(word == "tomorrow night"))
        if day != _day(local.date() + ahead):
            yield f'calls {day} "{word}" on {local.date()}'
    for evening, morning in said.overnight:
        if (evening, morning) != (_day(night), _day(night + timedelta(days=1))):
            yield f"calls {night} overnight {evening} to {morning}"


def _day(day: date) -> str:
    """Return a day as people write it."""
    return f"{day:%a %b} {day.day}"


def _asks(message: Message, said: Said) -> Iterator[str]:
    """Tell whether a message says how to answer it."""
    if said.tokens:
        return
    if is_mail(message) and said.by != (message.person,):
        yield "does not say how to answer"


def _cold_as_judged(said: Said, judged: NightAssessment) -> Iterator[str]:
    """Tell whether block, low, chance and hours are those that were judged."""
    at_risk = [block for block in judged.blocks if block.tier.rank]
    named = next((b for b in judged.blocks if b.block == said.block), None)
    if named is None or said.low_f is None:
        if at_risk:
            yield f"names no block at risk, but {said.block!r}"
        return
    if at_risk and named not in at_risk:
        yield f"{named.block} is not at risk"
    if named.site_low_c is not None:
        low_f = 1.8 * named.site_low_c + 32.0
        if abs(said.low_f - low_f) > ROUNDING_F:
            yield f"a low of {said.low_f} F, judged {low_f:.1f} F"
    if said.odds_pct is not None and named.probability is not None:
        odds = 100.0 * named.probability
        if abs(said.odds_pct - odds) > ROUNDING_PCT:
            yield f"a chance of {said.odds_pct:.0f} %, judged {odds:.1f} %"
    yield from _hours_as_judged(said, at_risk or [named])


def _hours_as_judged(said: Said, blocks: list[BlockNight]) -> Iterator[str]:
    """Tell whether the hours of harm are those that were judged."""
    buds = [block.bud for block in blocks if block.bud is not None]
    firsts = [bud.first_below_utc for bud in buds if bud.first_below_utc]
    lasts = [bud.last_below_utc for bud in buds if bud.last_below_utc]
    if firsts and lasts:
        if max(lasts) - min(firsts) >= timedelta(hours=20):
            return
        if said.harm is None:
            yield "does not say when harm begins"
        elif not (
            _is_at(said.harm[0], min(firsts)) and _is_at(said.harm[1], max(lasts))
        ):
            yield f"harm at {said.harm}, judged {min(firsts)} to {max(lasts)}"
    elif said.harm is not None:
        yield f"harm at {said.harm}, judged none"
    elif said.coldest is None:
        yield "does not say when it is coldest"
    elif not any(_is_at(said.coldest, bud.low_utc) for bud in buds):
        yield f"coldest at minute {said.coldest}, judged {[b.low_utc for b in buds]}"


def _is_at(minute: int, moment: datetime | None) -> bool:
    """Return whether a minute of the day is that of a moment."""
    if moment is None:
        return False
    local = moment.astimezone(ZONE)
    off = abs(60 * local.hour + local.minute - minute)
    return min(off, _A_DAY_MIN - off) <= ROUNDING_MIN


def _starts_as_decided(
    said: Said, item: NightDecision, judged: NightAssessment, moment: Moment
) -> Iterator[str]:
    """Tell whether what is to be started is what was decided, and is not refused."""
    remembered = {start.key: start for start in item.remember.starts}
    due = set(item.due_starts)
    named = {(equipment, block) for equipment, block, _ in said.starts}
    if due and (said.verb != "start" or not due & named):
        told = f"{said.verb!r} of {sorted(named)}"
        yield f"the hour of {sorted(due)} has come, and it says {told}"
    if said.verb == "start" and moment.farm.equipment and not named:
        yield "says to start, and not what"
    for equipment, block, minute in said.starts:
        start = remembered.get((equipment, block))
        yield from _start_as_decided(equipment, minute, start, verb=said.verb)
        begin_utc = moment.begin_utc(item.night, (equipment, block))
        if minute is None and begin_utc is not None and begin_utc > moment.at_utc:
            yield f"{equipment} at once, decided from {begin_utc}"
    wind = judged.signs.wind_mps if judged.signs else None
    if said.starts and wind is not None and wind > MOST_WIND_MPS:
        yield f"names a start in wind of {wind:.1f} m/s"
    alive = [
        key
        for key in _still_to_come(item, moment.at_utc)
        # What the newest plan has no more, its message takes back by "nothing".
        if not moment.is_off(item.night, key)
    ]
    if said.verb == "nothing" and alive and not item.revoked:
        yield f"says that nothing can be done, and {alive[0]} was decided"


def _start_as_decided(
    equipment: str, minute: int | None, start: Start | None, *, verb: str
) -> Iterator[str]:
    """Tell whether a start that is named is one that was decided, at its hour."""
    if start is None or start.state not in _ALIVE:
        yield f"names {equipment}, which was not decided"
    elif minute is not None and not _is_at(minute, start.run_by_utc):
        yield f"{equipment} by minute {minute}, decided {start.run_by_utc}"
    elif verb == "start" and start.called_utc is None:
        yield f"says to start {equipment} now, which was not called"


def _still_to_come(item: NightDecision, now_utc: datetime) -> list[StartKey]:
    """Return the starts that were decided and that people have time for."""
    return [
        start.key
        for start in item.remember.starts
        if start.state in _ALIVE
        and start.run_by_utc is not None
        and start.run_by_utc > now_utc
    ]
