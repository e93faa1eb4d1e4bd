"""What was not said in a season and should have been: calls, starts, endings.

Judged by the course of the looks, so that it holds under faults too: only a look that
could judge a night counts.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import islice

from frostalert.model.assessment import BlockNight, NightAssessment
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Message, MessageClass, Reason, Subject
from frostalert.model.start import StartState
from tests.season.checks import Judge
from tests.season.faults import MAIL_FAULTS, FaultKind
from tests.season.moments import Moment
from tests.season.weather import ZONE

HANDS = (Subject.PREPARE, Subject.ACT)
ENDS = (Subject.WITHDRAWN, Subject.STAND_DOWN)
GET_READY, CALL_HANDS = 0.15, 0.20
"""Chances of harm from which people get ready, and are called out."""
CLEARED = 0.08
"""Chance of harm below which what was told is taken back."""
_HAIR = 0.02
_SETTLED = timedelta(hours=2)
"""A chance that has stood for so long must have had its consequence."""
_NEVER_UTC = datetime.max.replace(tzinfo=UTC)
_PATIENCE = timedelta(hours=1)
"""How long a mail may be tried before it must have gone out another way."""
_DUSK_HOUR = 18
_NOT_KEPT = frozenset(
    {FaultKind.DISK_FULL, FaultKind.FILE_DAMAGED, FaultKind.CLOCK_STEP}
)
"""What a message in the queue may not outlast, while it is held too: its file is lost,
or its hour passes."""
_NOT_BROUGHT = frozenset({FaultKind.PERSON_REFUSED, FaultKind.SMS_LOSES})
"""What it may not outlast from when it is to go out: it is refused, or taken and
lost."""


def silences(judge: Judge) -> None:
    """Note what was not said in a season, a line a night and kind."""
    course = judge.world.moments.course
    for night in sorted({day for moment in course for day in moment.items}):
        own = [moment for moment in course if night in moment.nights]
        # What is wrong goes on being wrong: once is enough.
        for found in (_uncalled, _uncalled_starts):
            for words in islice(found(own, night), 1):
                judge.note(words)
        for said, moment, words in islice(_still_shown(own, night), 1):
            # It takes two forecasts, and a source that fails brings none; a file put
            # back from a copy does not know of what was said since then.
            was_bad = judge.was_on_at(moment.true_utc, timedelta(hours=12))
            was_lost = _was_lost(judge, said.true_utc, moment.true_utc)
            judge.note_unless("not taken back", words, is_excused=was_bad or was_lost)
        _not_stood_down(judge, night)


def unsaid_another_way(judge: Judge) -> None:
    """Note each mail that did not arrive and did not go out as a text instead."""
    world = judge.world
    arrived: dict[str, datetime] = {}
    for delivery in world.delivered:
        arrived.setdefault(delivery.message.key, delivery.at_utc)
    for moment, message in world.moments.queued:
        ways = [p.channels for p in moment.farm.people if p.name == message.person]
        both = len(ways[0]) > 1 if ways else False
        if not both or message.message_class is MessageClass.ROUTINE:
            continue
        other = message.key.replace("|email", "|sms")
        if other in world.moments.of or message.channel is not ChannelKind.EMAIL:
            continue
        since = max(moment.true_utc, message.held_until_utc or moment.true_utc)
        if since > message.deadline_utc:
            words = f"held for longer than it is of use: {message.key}"
            judge.note_unless("held past its use", words, is_excused=True)
            continue
        latest = since + _PATIENCE
        came = min(
            arrived.get(message.key, _NEVER_UTC),
            arrived.get(f"{message.key}|fallback", _NEVER_UTC),
        )
        # By day true time goes on in steps of half an hour: two of them are the hour.
        if came <= latest or _is_overtaken(message, moment, latest, judge):
            continue
        if message.subject_kind in ENDS and not _was_told(message, moment, judge):
            continue  # what it ends was held back, and both are dropped
        was_bad = any(
            fault.kind not in MAIL_FAULTS
            and fault.start_utc < latest
            and fault.end_utc > moment.true_utc - _PATIENCE
            for fault in world.faults
        )
        words = f"not by mail, nor by text instead: {message.key}"
        judge.note_unless("not sent another way", words, is_excused=was_bad)


def undelivered(judge: Judge) -> None:
    """Note each message that never arrived, though its channel was there in time."""
    world = judge.world
    arrived = {item.message.key.removesuffix("|fallback") for item in world.delivered}
    for moment, message in world.moments.queued:
        is_routine = message.message_class is MessageClass.ROUTINE
        if is_routine or message.key in arrived:
            continue
        since = max(moment.true_utc, message.held_until_utc or moment.true_utc)
        latest = min(message.deadline_utc, since + timedelta(hours=12))
        free = _quiet_hour(judge, moment.true_utc, since, latest)
        if _is_overtaken(message, moment, free or latest, judge):
            continue
        if message.subject_kind in ENDS and not _was_told(message, moment, judge):
            continue  # what it ends was held back, and both are dropped
        words = f"never arrived, though nothing stood in its way: {message.key}"
        judge.note_unless("never arrived", words, is_excused=free is None)


def _quiet_hour(
    judge: Judge, made_utc: datetime, since_utc: datetime, latest_utc: datetime
) -> datetime | None:
    """Return the end of the first hour in which nothing goes wrong, once it is due.

    None if there is none, or if what went wrong before it ends a message for good: from
    when it was made where that empties the queue.
    """
    faults = judge.world.faults
    begin = since_utc
    while begin + _PATIENCE <= latest_utc:
        end = begin + _PATIENCE
        if not any(f.start_utc < end and f.end_utc > begin for f in faults):
            is_for_good = any(
                f.start_utc < end and f.end_utc > start_utc
                for kinds, start_utc in (
                    (_NOT_KEPT, made_utc),
                    (_NOT_BROUGHT, since_utc),
                )
                for f in faults
                if f.kind in kinds
            )
            return None if is_for_good else end
        begin += timedelta(minutes=10)
    return None


def check_crowd(judge: Judge) -> None:
    """Note who was warned in the silence that he asked for, and what was taken."""
    world, crowd = judge.world, judge.world.crowd
    if crowd is None:
        return
    for words in crowd.complaints:
        judge.note(words)
    ranks = {Subject.OUTLOOK: 1, Subject.PREPARE: 2, Subject.ACT: 3}
    for delivery in world.delivered:
        message = delivery.message
        rank = ranks.get(message.subject_kind, 9)
        made = world.moments.of.get(message.key.removesuffix("|fallback"), [])
        for asked in crowd.silences:
            if (
                message.person == asked.person
                and rank <= asked.rank
                and asked.since_utc < delivery.at_utc < asked.until_utc
                and made
                and made[-1].at_utc > asked.since_utc
                and not delivery.is_repeat
            ):
                was_bad = judge.was_on_at(delivery.at_utc, timedelta(hours=8))
                words = f"{asked.person} had asked for silence: {message.key}"
                judge.note_unless("silence broken", words, is_excused=was_bad)


def _was_told(message: Message, made: Moment, judge: Judge) -> bool:
    """Return whether anything about its night had reached its person before."""
    return any(
        delivery.message.person == message.person
        and message.night in delivery.message.nights
        and delivery.at_utc <= made.true_utc
        and delivery.message.subject_kind not in ENDS
        for delivery in judge.world.delivered
    )


def _is_overtaken(
    message: Message, made: Moment, latest: datetime, judge: Judge
) -> bool:
    """Return whether something newer was said of a night before it was late."""
    return any(
        made.true_utc <= moment.true_utc <= latest + timedelta(hours=4)
        and moment is not made
        and (item := moment.items.get(night)) is not None
        and item.say is not None
        for night in message.nights
        for moment in judge.world.moments.course
    )


def _worst(judged: NightAssessment) -> BlockNight | None:
    """Return the block that is likeliest to be harmed, of a night that is known."""
    known = [block for block in judged.blocks if block.probability is not None]
    if judged.missing or not known:
        return None
    return max(known, key=lambda block: block.probability or 0.0)


def _uncalled(own: list[Moment], night: date) -> Iterator[str]:
    """Tell of a night whose chance calls for people, and nobody was called."""
    ready_since = hands_since = None
    for moment in own:
        item = moment.items.get(night)
        if item is not None and item.say in HANDS:
            return
        worst = _worst(moment.nights[night])
        chance = 0.0 if worst is None else worst.probability or 0.0
        now = moment.at_utc
        ready_since = _since(ready_since, now, is_on=chance >= GET_READY + _HAIR)
        hands_since = _since(hands_since, now, is_on=chance >= CALL_HANDS + _HAIR)
        local = now.astimezone(ZONE)
        is_dusk = local.date() == night and local.hour >= _DUSK_HOUR
        if is_dusk and _has_stood(ready_since, now):
            yield f"{night}: at dusk {100 * chance:.0f} %, and nobody was told"
        danger = None if worst is None else worst.danger_start_utc
        if danger and danger <= now and _has_stood(hands_since, now):
            yield f"{night}: harm begins at {100 * chance:.0f} %, and nobody was called"


def _since(before: datetime | None, now: datetime, *, is_on: bool) -> datetime | None:
    """Return since when something has been so."""
    if not is_on:
        return None
    return now if before is None or before > now else before


def _has_stood(since: datetime | None, now: datetime) -> bool:
    """Return whether something has been so for long enough."""
    return since is not None and now - since >= _SETTLED


def _uncalled_starts(own: list[Moment], night: date) -> Iterator[str]:
    """Tell of a start that people had ready, whose hour came and went uncalled."""
    since, told = None, None
    for moment in own:
        item, worst = moment.items.get(night), _worst(moment.nights[night])
        if item is None or worst is None:
            since = None
            continue
        told = moment if item.say in HANDS else told
        now, danger = moment.at_utc, worst.danger_start_utc
        waiting = [
            start.key
            for start in item.remember.starts
            if start.state in (StartState.PLANNED, StartState.ANNOUNCED)
            and start.called_utc is None
            # By the last message nothing that is there can help any more.
            and not (told is not None and told.is_off(night, start.key))
        ]
        is_due = danger is not None and danger <= now
        chance = worst.probability or 0.0
        is_on = bool(waiting) and is_due and chance >= CALL_HANDS + _HAIR
        since = _since(since, now, is_on=is_on)
        if since is not None and now - since >= timedelta(minutes=30):
            yield f"{night}: harm begins, and {waiting[0]} was never called for"


def _still_shown(
    own: list[Moment], night: date
) -> Iterator[tuple[Moment, Moment, str]]:
    """Tell of a night that two forecasts have cleared, and of which people think.

    When it was told, the moment, and what is wrong.
    """
    since, told = None, None
    for moment in own:
        item, judged = moment.items.get(night), moment.nights[night]
        if item is None:
            continue
        if told is None and item.say in (*HANDS, Subject.OUTLOOK):
            told = moment
        if item.say in ENDS:
            told = None
        worst = _worst(judged)
        is_clear = worst is not None and (worst.probability or 0.0) < CLEARED - _HAIR
        over = judged.cold_over_utc
        is_clear = is_clear and not (over is not None and over <= moment.at_utc)
        is_past = moment.at_utc.astimezone(ZONE).date() > night
        is_on = told is not None and is_clear and not is_past
        since = _since(since, moment.at_utc, is_on=is_on)
        if told is None or since is None:
            continue
        if moment.at_utc - since >= timedelta(hours=10):
            words = f"{night}: told, cleared for ten hours, and never taken back"
            yield told, moment, words


def _was_lost(judge: Judge, since_utc: datetime, until_utc: datetime) -> bool:
    """Return whether the state's file was damaged between two moments."""
    return any(
        fault.kind is FaultKind.FILE_DAMAGED
        and since_utc <= fault.end_utc
        and fault.start_utc <= until_utc
        for fault in judge.world.faults
    )


def _not_stood_down(judge: Judge, night: date) -> None:
    """Note a night on which people acted, and that nobody ever ended."""
    course = judge.world.moments.course
    items = [
        (moment, item)
        for moment in course
        if (item := moment.items.get(night)) is not None
    ]
    acted = [moment for moment, item in items if item.say is Subject.ACT]
    if not acted or course[-1].at_utc - acted[-1].at_utc < timedelta(hours=40):
        return
    later = [item for moment, item in items if moment.at_utc >= acted[-1].at_utc]
    if any(item.say in ENDS or item.why is Reason.GOES_ON for item in later):
        return
    last = later[-1]
    words = f"{night}: people acted, and nobody ended it ({last.why}: {last.detail})"
    since = acted[-1].true_utc
    was_lost = _was_lost(judge, since, since + timedelta(hours=40))
    if last.remember.stop_utc is not None and was_lost:
        # The file was put back from a copy that does not know of the call.
        judge.note_unless("not ended, state lost", words, is_excused=True)
        return
    # Where no thaw is forecast nobody is told that it is over: that is the rule.
    judge.note_unless(
        "not ended, no thaw forecast", words, is_excused=last.remember.stop_utc is None
    )
