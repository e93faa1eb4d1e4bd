"""What an answer to a warning still holds for."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime

from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.notice import Decision, NightDecision, NightHistory, Reason
from frostalert.model.start import Start, StartState

_NOTHING_NEW = frozenset(
    {Reason.ALREADY_TOLD, Reason.JUST_CALLED, Reason.HELD_ON_BAD_DATA}
)


def acknowledges(answer: Answer, night: date, tier: Tier, revision: int) -> bool:
    """Return whether an answer acknowledges what was said about a night.

    References
    ----------
    .. [1] OPC Foundation, OPC 10000-9, on acknowledging apart from shelving.
    """
    return (
        answer.kind is not AnswerKind.LATER
        and answer.night == night
        and answer.tier.rank >= tier.rank
        and answer.revision >= revision
    )


def acknowledged_by(history: NightHistory, answers: Iterable[Answer]) -> str | None:
    """Return who acknowledged what was said last about a night, if anybody did.

    An answer holds for its tier and for the messages up to the one it was given to: a
    higher tier, or a later message because the night got worse, asks anew.

    References
    ----------
    .. [1] OPC Foundation, OPC 10000-9, on acknowledging apart from shelving.
    """
    said = (history.night, history.said, history.said_revision)
    return next((a.person for a in answers if acknowledges(a, *said)), None)


def calls_for_hands(history: NightHistory) -> bool:
    """Return whether what was said last about a night calls for hands."""
    return history.said in (Tier.PREPARE, Tier.ACT) and not history.is_closed


def standing_nights(decision: Decision) -> frozenset[date]:
    """Return the nights that call for hands and of which nothing new is said."""
    return frozenset(item.night for item in decision.nights if is_standing(item))


def is_standing(item: NightDecision) -> bool:
    """Return whether people were called for hands and nothing is new about it."""
    is_told = item.say is None and item.why in _NOTHING_NEW
    return is_told and calls_for_hands(item.remember)


def starts_at(
    history: NightHistory, answers: Iterable[Answer], now_utc: datetime
) -> tuple[Start, ...]:
    """Return a night's starts as far as each has come by now."""
    given = [
        answer
        for answer in answers
        if answer.kind is AnswerKind.ACTING and answer.given_utc <= now_utc
    ]
    return tuple(_as_far(start, history, given) for start in history.starts)


def _as_far(start: Start, history: NightHistory, given: list[Answer]) -> Start:
    """Return one start as far as it has come."""
    if start.state is not StartState.CALLED:
        return start
    call = (history.night, Tier.ACT, start.revision)
    is_running = any(acknowledges(answer, *call) for answer in given)
    return replace(start, state=StartState.RUNNING) if is_running else start


def is_answered(history: NightHistory, answers: tuple[Answer, ...]) -> bool:
    """Return whether nobody else has to be called about a night.

    References
    ----------
    .. [1] OPC Foundation, OPC 10000-9, on acknowledging apart from shelving.
    """
    if calls_for_hands(history) or not history.is_blind:
        return acknowledged_by(history, answers) is not None
    return not is_unjudged_open(history, answers)


def is_unjudged_open(history: NightHistory, answers: Iterable[Answer]) -> bool:
    """Return whether "cannot judge" was told and nobody has acknowledged that.

    References
    ----------
    .. [1] OPC Foundation, OPC 10000-9, section 4.8, on latched alarms.
    """
    if history.cannot_judge_told_utc is None:
        return False
    told = (history.night, Tier.CANNOT_JUDGE, history.cannot_judge_revision)
    return not any(acknowledges(answer, *told) for answer in answers)


def silence_asked(
    person: str, tier: Tier, answers: Iterable[Answer], now_utc: datetime
) -> Answer | None:
    """Return the answer by which a person asked not to hear of a tier for a while.

    The last word of a person counts: any later answer ends the silence.

    References
    ----------
    .. [1] OPC Foundation, OPC 10000-9, section 5.8, on timed shelving.
    """
    held = [
        answer
        for answer in silences(answers, now_utc)
        if answer.person == person and tier.rank <= answer.tier.rank
    ]
    return max(held, key=lambda answer: answer.until_utc or now_utc, default=None)


def silences(answers: Iterable[Answer], now_utc: datetime) -> tuple[Answer, ...]:
    """Return the requests for silence that hold now.

    References
    ----------
    .. [1] OPC Foundation, OPC 10000-9, section 5.8, on timed shelving.
    """
    given = [answer for answer in answers if answer.given_utc <= now_utc]
    last: dict[str, datetime] = {}
    for answer in given:
        before = last.get(answer.person, answer.given_utc)
        last[answer.person] = max(before, answer.given_utc)
    return tuple(
        answer
        for answer in given
        if answer.kind is AnswerKind.LATER
        and answer.given_utc == last[answer.person]
        and answer.until_utc is not None
        and now_utc < answer.until_utc
    )
