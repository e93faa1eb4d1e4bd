"""What must hold after every step, and how a season is scored."""

import sqlite3
from collections import Counter
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from frostalert.messages.audience import MOST_WARNINGS_A_DAY
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import MessageClass, Reason, Subject
from frostalert.store.codec import moment_text
from frostalert.store.open import FILE_NAME
from tests.season.eyes import Eyes
from tests.season.faults import SOURCE_FAULTS, FaultKind
from tests.season.weather import ZONE
from tests.season.world import Delivery, World

IN_TIME = timedelta(hours=1)
"""A warning counts if it arrived this long before the first bud is at T10: the time
from "start now" to water running."""
HANDS = (Subject.PREPARE, Subject.ACT)
_CAN_WAIT = (Subject.OUTLOOK, Subject.WITHDRAWN, Subject.DAILY_LINE, Subject.WEEKLY)
_STALE, _BLIND = timedelta(hours=14), timedelta(hours=27)
_FORGOTTEN = timedelta(hours=96)
"""What was said about far nights since a file's last copy may be said once more."""
_STORAGE = frozenset({FaultKind.DISK_FULL, FaultKind.FILE_DAMAGED})


@dataclass
class Judge:
    """Watches one season and keeps what did not hold."""

    world: World
    violations: list[str] = field(default_factory=list)
    duplicates: int = 0
    seen: int = 0
    by_key: dict[str, Delivery] = field(default_factory=dict)
    woken: dict[tuple[str, str, date, str], datetime] = field(default_factory=dict)
    blind_told_utc: datetime | None = None
    was_blind_said: bool = False
    lines: set[date] = field(default_factory=set)
    warned: set[date] = field(default_factory=set)
    started: dict[tuple[str, str, date], datetime] = field(default_factory=dict)
    waived: Counter[str] = field(default_factory=Counter)
    """What did not hold while a fault explains it, by what it was."""
    calls: dict[str, set[date]] = field(default_factory=dict)
    """Nights that each message called hands for, by its key."""
    eyes: Eyes = field(init=False)

    def __post_init__(self) -> None:
        """Have everything read that arrives."""
        self.eyes = Eyes(self)

    def look(self, *, is_up: bool, up_since_utc: datetime) -> None:
        """Check everything that is new since the last look."""
        for delivery in self.world.delivered[self.seen :]:
            self._check(delivery)
        self.seen = len(self.world.delivered)
        if is_up:
            self._check_blindness(up_since_utc)
            self._check_daily_line(up_since_utc)

    def note(self, words: str) -> None:
        """Keep what did not hold."""
        local = self.world.now_utc.astimezone(ZONE)
        seed = self.world.season.seed
        self.violations.append(f"seed {seed}, {local:%Y-%m-%d %H:%M} {words}")

    def note_unless(self, kind: str, words: str, *, is_excused: bool) -> None:
        """Keep what did not hold; count it apart where a fault explains it."""
        if is_excused:
            self.waived[kind] += 1
        else:
            self.note(words)

    def was_on_at(self, moment_utc: datetime, within: timedelta) -> bool:
        """Return whether any fault was on at a moment, or of late."""
        return any(
            fault.start_utc <= moment_utc <= fault.end_utc + within
            for fault in self.world.faults
        )

    def was_on(self, kinds: frozenset[FaultKind], within: timedelta) -> bool:
        """Return whether a fault of some kinds is on, or was of late."""
        now = self.world.now_utc
        return any(
            fault.kind in kinds and fault.start_utc <= now <= fault.end_utc + within
            for fault in self.world.faults
        )

    def _check(self, delivery: Delivery) -> None:
        """Check one message that arrived."""
        self._check_repeat(delivery)
        self._check_waking(delivery)
        self._check_start(delivery)
        self.eyes.look(delivery)
        message, now = delivery.message, delivery.at_utc
        is_clock_off = self.was_on(frozenset({FaultKind.CLOCK_STEP}), timedelta(0))
        if now > message.deadline_utc + timedelta(minutes=15):
            words = f"after its deadline: {message.key}"
            self.note_unless("deadline", words, is_excused=is_clock_off)
        local = now.astimezone(ZONE)
        # What was queued before ten may still be under way.
        is_late_hour = local.time() >= time(22, 40) or local.time() < time(6)
        channels_were_bad = self.was_on(frozenset(FaultKind), timedelta(hours=8))
        if (
            is_late_hour
            and message.person == "Ines"
            and message.subject_kind in _CAN_WAIT
        ):
            words = f"in quiet hours: {message.key}"
            self.note_unless("quiet hours", words, is_excused=channels_were_bad)
        # What was held for the morning was written, and says so, when it was decided.
        was_held = message.held_until_utc is not None
        is_ending = message.subject_kind is Subject.WITHDRAWN and not was_held
        if is_ending and self._data_age() > _STALE:
            self.note(f"withdrawn on stale data: {message.key}")
        if message.subject_kind in (*HANDS, Subject.OUTLOOK):
            self.warned.update(message.nights)
        if message.subject_kind in HANDS:
            self.calls[message.key] = self._called_nights(delivery)
        if message.subject_kind is Subject.CANNOT_JUDGE:
            self.blind_told_utc = now
        if message.subject_kind is Subject.DAILY_LINE:
            self._check_hour(delivery, is_clock_off=is_clock_off)

    def _check_hour(self, delivery: Delivery, *, is_clock_off: bool) -> None:
        """Check that a daily line came at its hour."""
        local = delivery.at_utc.astimezone(ZONE)
        self.lines.add(local.date())
        was_bad = self.was_on(frozenset(FaultKind), timedelta(hours=6))
        is_first_day = local.date() == self.world.season.first
        # One whose outcome was not known comes again, ten minutes later each time.
        if is_first_day or delivery.is_repeat:
            return
        if not time(6, 55) <= local.time() <= time(7, 45):
            is_late_at_most = time(6, 55) <= local.time() <= time(17)
            is_excused = is_clock_off or (was_bad and is_late_at_most)
            words = f"daily line at {local:%H:%M}"
            self.note_unless("daily line late", words, is_excused=is_excused)

    def _called_nights(self, delivery: Delivery) -> set[date]:
        """Return the nights that a message calls hands for.

        It may tell of others as well that are days ahead; only the decision knows.
        """
        message = delivery.message
        own = set() if message.night is None else {message.night}
        told = self.world.told_by(message.key)
        return own | {item.night for item in told if item.say in HANDS}

    def _check_repeat(self, delivery: Delivery) -> None:
        """Check that nothing comes twice without a reason, and that repeats say so."""
        key = delivery.message.key
        if key not in self.by_key:
            self.by_key[key] = delivery
            return
        self.duplicates += 1
        state_was_lost = self.was_on(_STORAGE, _FORGOTTEN)
        if key not in self.world.unsure:
            words = f"twice without a reason: {key}"
            self.note_unless("came twice", words, is_excused=state_was_lost)
        elif not delivery.is_repeat:
            words = f"a repeat that does not say so: {key}"
            self.note_unless("unmarked repeat", words, is_excused=state_was_lost)

    def _check_waking(self, delivery: Delivery) -> None:
        """Check that one tier of one night wakes a person once on a channel."""
        message = delivery.message
        if message.message_class is MessageClass.WAKING and message.night:
            # Who is given another address is told anew what stands.
            mark = (
                message.person,
                message.address,
                message.night,
                message.subject_kind.value,
            )
            before = self.woken.get(mark)
            self.woken[mark] = delivery.at_utc
            if before is None or delivery.is_repeat:
                return
            if not self._ended_since(message.night, before):
                was_bad = self.was_on(_STORAGE, _FORGOTTEN)
                words = f"woken twice: {message.key}"
                self.note_unless("woken twice", words, is_excused=was_bad)

    def _check_start(self, delivery: Delivery) -> None:
        """Check that the heaters' start is called for once a night on a channel."""
        message = delivery.message
        is_call = message.subject_kind is Subject.ACT and not delivery.is_repeat
        if not is_call or not message.night:
            return
        told = {item.night: item for item in self.world.told_by(message.key)}
        own = told.get(message.night)
        if own is None or own.why is not Reason.START_IS_DUE:
            return
        mark = (message.person, message.address, message.night)
        before = self.started.get(mark)
        self.started[mark] = delivery.at_utc
        if before is not None and not self._ended_since(message.night, before):
            was_bad = self.was_on(_STORAGE, _FORGOTTEN)
            words = f"a start called for twice: {message.key}"
            self.note_unless("start called twice", words, is_excused=was_bad)

    def _ended_since(self, night: date, moment_utc: datetime) -> bool:
        """Return whether a night was withdrawn since: then its return is news.

        The withdrawal itself may have been held for the morning and overtaken.
        """
        with closing(sqlite3.connect(self.world.folder / FILE_NAME)) as connection:
            row = connection.execute(
                "SELECT count(*) FROM decision WHERE night = ? AND decided_utc >= ? "
                "AND said IN ('withdrawn', 'stand-down')",
                (night.isoformat(), moment_text(moment_utc - timedelta(hours=1))),
            ).fetchone()
        return bool(row[0])

    def _data_age(self) -> timedelta:
        """Return the true age of the newest whole forecast that was got."""
        made = self.world.last_made_utc
        return timedelta(days=99) if made is None else self.world.now_utc - made

    def _check_blindness(self, up_since_utc: datetime) -> None:
        """Check that people hear of it when nothing can be judged."""
        now = self.world.now_utc
        if self._data_age() <= _BLIND or now - up_since_utc < timedelta(hours=2):
            self.was_blind_said = False
            return
        told = self.blind_told_utc
        is_told = told is not None and now - told < timedelta(hours=26)
        # A night that people were warned of is held at what was told.
        tonight = (now.astimezone(ZONE) - timedelta(hours=12)).date()
        is_told = is_told or tonight in self.warned
        others = frozenset(FaultKind) - SOURCE_FAULTS
        was_bad = self.was_on(others, timedelta(hours=8))
        if not is_told and not self.was_blind_said:
            words = "nothing can be judged, and nobody was told"
            self.note_unless("cannot judge not told", words, is_excused=was_bad)
            self.was_blind_said = not was_bad

    def _check_daily_line(self, up_since_utc: datetime) -> None:
        """Check that the daily line came at its hour."""
        local = self.world.now_utc.astimezone(ZONE)
        if not time(8) <= local.time() < time(8, 30) or local.date() in self.lines:
            return
        was_bad = self.was_on(frozenset(FaultKind), timedelta(hours=6))
        is_new = self.world.now_utc - up_since_utc <= timedelta(hours=4)
        words = "the daily line did not come by 08:00"
        self.note_unless("daily line missing", words, is_excused=was_bad or is_new)
        self.lines.add(local.date())


def check_budget(judge: Judge) -> None:
    """Check the warnings of each day that could wait and were not for worse news."""
    counts: Counter[tuple[str, date]] = Counter()
    for delivery in judge.by_key.values():
        message = delivery.message
        if message.subject_kind not in (Subject.OUTLOOK, Subject.WITHDRAWN):
            continue
        # One that tells of several nights is exempt if any of them got worse.
        is_exempt = "It got worse" in message.text or len(message.nights) > 1
        if message.channel is ChannelKind.EMAIL and not is_exempt:
            day = delivery.at_utc.astimezone(ZONE).date()
            counts[(message.person, day)] += 1
    # A file that was put back from its copy has lost the day's count.
    lost = {
        fault.start_utc.astimezone(ZONE).date()
        for fault in judge.world.faults
        if fault.kind in _STORAGE
    }
    for (person, day), count in counts.items():
        if count > MOST_WARNINGS_A_DAY:
            words = f"{count} warnings to {person} on {day}"
            judge.note_unless("day's budget", words, is_excused=day in lost)


def check_calling(judge: Judge) -> None:
    """Check that the next on the list is called when nobody answers."""
    world = judge.world
    for delivery in world.delivered:
        message, told = delivery.message, delivery.at_utc
        if message.person != "Ines" or message.subject_kind is not Subject.PREPARE:
            continue
        night = message.night
        index = (night - world.season.first).days if night else -1
        if night is None or night in world.answered or not world.season.is_risky(index):
            continue
        end = min(told + timedelta(hours=3), world.season.danger_utc(index))
        if end - told < timedelta(hours=2, minutes=30):
            continue
        was_bad = any(f.start_utc < end and f.end_utc > told for f in world.faults)
        called = any(
            d.message.person in ("Tobias", "Nadia")
            and night in d.message.nights
            # A mail that took the long way may arrive after the call.
            and d.at_utc <= end
            for d in world.delivered
        )
        if not called:
            words = f"{night}: nobody answered and nobody was called"
            judge.note_unless("nobody called", words, is_excused=was_bad)


def check_decisions(judge: Judge) -> None:
    """Check that every call for hands that was decided was queued with it."""
    brought: dict[tuple[str, str, str], frozenset[str]] = {}
    for told in judge.world.told:
        item = told.item
        mark = (moment_text(told.decided_utc), item.night.isoformat(), item.why.value)
        brought[mark] = brought.get(mark, frozenset()) | told.keys
    with closing(sqlite3.connect(judge.world.folder / FILE_NAME)) as connection:
        keys = connection.execute("SELECT message_key FROM outbox").fetchall()
        rows = connection.execute(
            "SELECT decided_utc, night, said, why FROM decision "
            "WHERE said IN ('prepare', 'act')"
        ).fetchall()
    queued = {row[0] for row in keys}
    for moment, night, said, why in rows:
        if queued.isdisjoint(brought[moment, night, why]):
            judge.note(f"{said} about {night} was decided at {moment} and never queued")


def check_everybody(judge: Judge) -> None:
    """Check that in quiet times each waking message reaches all who should have it."""
    world = judge.world
    wanted = {"Ines|email", "Ines|sms", "Mara|email"}
    got: dict[str, set[str]] = {}
    first: dict[str, datetime] = {}
    for delivery in world.delivered:
        message = delivery.message
        is_waking = message.message_class is MessageClass.WAKING
        # Of the next on the list, whoever it is, hears who passes it on.
        is_first = message.person in {"Ines", "Mara"}
        if is_first and message.subject_kind in HANDS and is_waking:
            occasion, way = message.key.rsplit("|", 2)[0], message.key.split("|")[-2:]
            got.setdefault(occasion, set()).add("|".join(way))
            first.setdefault(occasion, delivery.at_utc)
    for occasion, ways in got.items():
        # What was told before is told to who is new, or has a new address, alone.
        told = [item for ever in ways for item in world.told_by(f"{occasion}|{ever}")]
        alone = {name for item in told for name in item.people}
        everybody = {way for way in wanted if not alone or way.split("|")[0] in alone}
        start, end = first[occasion] - timedelta(hours=1), first[occasion]
        end += timedelta(hours=3)
        was_bad = any(f.start_utc < end and f.end_utc > start for f in world.faults)
        # What was passed on later has been told to these before.
        missing = {
            way
            for way in everybody - ways
            if not _got_later(world, occasion, way, first[occasion], end)
        }
        if missing and missing != everybody:
            words = f"{occasion} never reached {sorted(missing)}"
            judge.note_unless("not reached", words, is_excused=was_bad)


def _got_later(
    world: World, occasion: str, way: str, start: datetime, end: datetime
) -> bool:
    """Return whether somebody got a newer message about the same night instead."""
    night = occasion.split("|")[1]
    return any(
        start <= delivery.at_utc <= end
        and delivery.message.key.split("|")[1] == night
        and delivery.message.key.split("|")[-2:] == way.split("|")
        for delivery in world.delivered
    )
