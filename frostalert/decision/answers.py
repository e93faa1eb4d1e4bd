"""What an answer to a warning still holds for."""

from collections.abc import Iterable
from datetime import date, datetime

from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.notice import NightHistory


def acknowledges(answer: Answer, night: date, tier: Tier, revision: int) -> bool:
    """Return whether an answer acknowledges what was said about a night.

    Parameters
    ----------
    answer : Answer
        What somebody answered.
    night : date
        The night.
    tier : Tier
        What was said: an answer to a lower tier does not hold for it.
    revision : int
        Message about the night in which it was said, counted from 1.

    Returns
    -------
    bool
        False for a request for silence.

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

    Parameters
    ----------
    history : NightHistory
        What was said about the night.
    answers : iterable of Answer
        Everything that people answered.

    Returns
    -------
    str or None
        The first who did.

    References
    ----------
    .. [1] OPC Foundation, OPC 10000-9, on acknowledging apart from shelving.
    """
    said = (history.night, history.said, history.said_revision)
    return next((a.person for a in answers if acknowledges(a, *said)), None)


def is_unjudged_open(history: NightHistory, answers: Iterable[Answer]) -> bool:
    """Return whether "cannot judge" was told and nobody has acknowledged that.

    Parameters
    ----------
    history : NightHistory
        What was said about the night.
    answers : iterable of Answer
        Everything that people answered.

    Returns
    -------
    bool
        It stays so after the data have come back: that night was not watched.

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

    Parameters
    ----------
    person : str
        Name of the person.
    tier : Tier
        Tier of what would be sent: a higher one than was shelved breaks the silence.
    answers : iterable of Answer
        Everything that people answered.
    now_utc : datetime
        The present moment.

    Returns
    -------
    Answer or None
        The one that holds longest.

    References
    ----------
    .. [1] OPC Foundation, OPC 10000-9, section 5.8, on timed shelving.
    """
    held = [
        answer
        for answer in answers
        if answer.person == person
        and answer.kind is AnswerKind.LATER
        and answer.until_utc is not None
        and answer.given_utc <= now_utc < answer.until_utc
        and tier.rank <= answer.tier.rank
    ]
    return max(held, key=lambda answer: answer.until_utc or now_utc, default=None)
