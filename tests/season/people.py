"""People as they are: prompt, late, silent, wrong; and what they forget to keep up.

Everything follows from the seed. They answer by command and by the page's links, with
the same functions as `frostalert ack` and the page; a link that was copied badly, or
whose person has left the list, must answer nothing.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from pathlib import Path

import numpy as np

from frostalert.alarms.answering import answers_about, longest_silence, open_alarms
from frostalert.cycle.answer_links import TicketLinks, find_ticket
from frostalert.cycle.pulse import recent_alarms
from frostalert.errors import StoreError, TicketError
from frostalert.messages.addressing import AnswerLinks
from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.chart import Chart
from frostalert.model.notice import Message, Subject
from frostalert.model.site import Farm, Person
from frostalert.model.ticket import Ticket
from frostalert.ports import TicketBook
from frostalert.store.open import open_beside
from frostalert.store.state import StateStore
from tests.season.faults import Fault, FaultKind
from tests.season.weather import ZONE

PUBLIC_URL = "https://heron-bench.example"
_KEY = b"a key for seasons"
_LINK = re.compile(re.escape(PUBLIC_URL) + r"/a/([\w-]+)")
_ASKS = (Subject.PREPARE, Subject.ACT, Subject.CANNOT_JUDGE)


class Habit(StrEnum):
    """What a person does with a message of one night."""

    SILENT = "silent"
    PROMPT = "acting at once"
    LATE = "acting hours later"
    LATER = "later"
    NOT_NEEDED = "not needed"
    WRONG = "a link copied badly"


_HABITS = tuple(Habit)
_FORGOTTEN_SHARE = 0.4
_KINDS = {Habit.NOT_NEEDED: AnswerKind.NOT_NEEDED, Habit.LATER: AnswerKind.LATER}
_SHARES = (0.3, 0.25, 0.15, 0.1, 0.1, 0.1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Silence:
    """What a person asked for, and since when."""

    person: str
    rank: int
    since_utc: datetime
    until_utc: datetime


@dataclass
class Crowd:
    """The people of one season.

    Parameters
    ----------
    seed : int
        Everything follows from it.
    first : date
        The season's first night.
    people : tuple of Person
        Who is on the list to begin with.
    """

    seed: int
    first: date
    people: tuple[Person, ...]
    seen: int = 0
    waiting: list[tuple[datetime, Message, Habit]] = field(default_factory=list)
    silences: list[Silence] = field(default_factory=list)
    done: dict[str, int] = field(default_factory=dict)
    answered: set[date] = field(default_factory=set)
    complaints: list[str] = field(default_factory=list)

    def list_at(self, moment_utc: datetime) -> tuple[Person, ...]:
        """Return who is on the list: a mailbox changes, one goes and another comes."""
        day = (moment_utc.astimezone(ZONE).date() - self.first).days
        ines, mara, tobias = self.people
        if day >= self._day(1, 5, 12):
            mara = replace(mara, email="mara.two@heron-bench.example")
        if self._day(2, 6, 10) <= day < self._day(3, 14, 22):
            nadia = replace(tobias, name="Nadia", phone="+15095550188")
            return ines, mara, nadia
        return ines, mara, tobias

    def is_looked_at(self, week: int) -> bool:
        """Return whether the grower looks at the buds in a week; of five, in three."""
        chance = np.random.default_rng([self.seed, 7, max(0, week)]).random()
        return week <= 0 or bool(chance > _FORGOTTEN_SHARE)

    def _day(self, which: int, least: int, most: int) -> int:
        """Return a day of the season."""
        return int(np.random.default_rng([self.seed, 8, which]).integers(least, most))

    def hear(self, delivered: list[tuple[datetime, Message]]) -> None:
        """Take in what has arrived since."""
        for at_utc, message in delivered[self.seen :]:
            if message.subject_kind not in _ASKS or message.night is None:
                continue
            random = np.random.default_rng(
                [self.seed, 9, message.night.toordinal(), sum(message.person.encode())]
            )
            habit = _HABITS[int(random.choice(len(_HABITS), p=_SHARES))]
            wait_h = random.uniform(1.5, 6.0) if habit is Habit.LATE else 0.2
            when = at_utc + timedelta(hours=float(wait_h))
            if habit is not Habit.SILENT:
                self.waiting.append((when, message, habit))
        self.seen = len(delivered)

    def act(
        self,
        now_utc: datetime,
        clock_utc: datetime,
        farm: Farm,
        open_store: Callable[[], StateStore],
    ) -> None:
        """Let those answer whose time has come."""
        due = [item for item in self.waiting if item[0] <= now_utc]
        self.waiting = [item for item in self.waiting if item[0] > now_utc]
        for _, message, habit in due:
            try:
                store = open_store()
                try:
                    self._answer(store, message, habit, clock_utc, farm)
                finally:
                    store.database.close()
            except StoreError:
                continue  # the page and the command say so, and people try again
            self.done[habit.value] = self.done.get(habit.value, 0) + 1

    def _answer(
        self,
        store: StateStore,
        message: Message,
        habit: Habit,
        now: datetime,
        farm: Farm,
    ) -> None:
        """Answer one message."""
        found = _LINK.search(message.text)
        token = found[1] if found else ""
        if habit is Habit.WRONG:
            self._answer_wrongly(store, token or "x", farm, now)
            return
        kind = _KINDS.get(habit, AnswerKind.ACTING)
        until = None
        if kind is AnswerKind.LATER:
            latest = longest_silence(now.astimezone(ZONE))
            until = min(now + timedelta(hours=2), latest)
        is_by_page = bool(token) and sum(message.key.encode()) % 2 == 0
        if is_by_page:
            answers = _by_page(store, token, kind, farm, now, until)
        else:
            alarms = open_alarms(recent_alarms(store, now), message.night)[:1]
            answers = answers_about(alarms, message.person, kind, now, until)
        for answer in answers:
            store.record_answer(answer)
            self._note(answer, now)

    def _note(self, answer: Answer, now: datetime) -> None:
        """Keep what a person asked for, or that a night is answered."""
        if answer.until_utc is None:
            self.answered.add(answer.night)
            self._speaks_again(answer.person, now)
            return
        silence = Silence(
            person=answer.person,
            rank=answer.tier.rank,
            since_utc=now,
            until_utc=answer.until_utc,
        )
        self.silences.append(silence)

    def _speaks_again(self, person: str, now: datetime) -> None:
        """A later answer ends a silence."""
        self.silences = [
            replace(s, until_utc=min(s.until_utc, now)) if s.person == person else s
            for s in self.silences
        ]

    def _answer_wrongly(
        self, store: StateStore, token: str, farm: Farm, now: datetime
    ) -> None:
        """Try a link of which a sign is missing; it must be refused."""
        try:
            find_ticket(token[:-1], store, farm, now)
        except TicketError:
            return
        self.complaints.append(f"a link that was copied badly was taken: {token[:-1]}")

    def ticket(self, folder: Path, token: str) -> Ticket | None:
        """Return the ticket of a link; None where the state cannot be read."""
        try:
            store = open_beside(folder)
            try:
                return store.ticket(token)
            finally:
                store.database.close()
        except StoreError:
            return None

    def links(self, book: TicketBook) -> AnswerLinks:
        """Return what makes the links to answer by."""
        return TicketLinks(key=_KEY, public_url=PUBLIC_URL, book=book)


def _by_page(
    store: StateStore,
    token: str,
    kind: AnswerKind,
    farm: Farm,
    now: datetime,
    until: datetime | None,
) -> tuple[Answer, ...]:
    """Return what a link answers; nothing if it is too old or its person has gone."""
    try:
        ticket = find_ticket(token, store, farm, now)
    except TicketError:
        return ()
    return ticket.answers(kind, now, until)


@dataclass
class Sketches:
    """A plotter that only notes what it is asked to draw."""

    drawn: list[Chart] = field(default_factory=list)

    def draw(self, chart: Chart) -> bytes:
        """Return something that stands for a picture."""
        self.drawn.append(chart)
        return b"\x89PNG a sketch of " + chart.block.encode()


def line_faults(
    seed: int, start_utc: datetime, end_utc: datetime, nights: int
) -> Iterator[Fault]:
    """Give when the line to the farm is out: forecast, mail and texts at once."""
    random = np.random.default_rng([seed, 6])
    span_h = (end_utc - start_utc) / timedelta(hours=1)
    for _ in range(max(1, round(6 * nights / 120))):
        begin = start_utc + timedelta(hours=random.uniform(0.0, span_h))
        lasts = timedelta(hours=random.uniform(0.5, 8.0))
        yield Fault(
            kind=FaultKind.LINE_DOWN, start_utc=begin, end_utc=begin + lasts, size=0.0
        )
