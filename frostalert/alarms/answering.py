"""Turn what somebody says into answers about the nights that are open."""

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta

from frostalert.model.alarm import Alarm, AlarmState, Answer, AnswerKind
from frostalert.model.assessment import Tier

_OPEN = (AlarmState.OUTLOOK, AlarmState.UNANSWERED, AlarmState.ANSWERED)
_NOON = time(12)
_UNJUDGED_RANK = Tier.PREPARE.rank


def open_alarms(
    alarms: Iterable[Alarm], night: date | None = None
) -> tuple[Alarm, ...]:
    """Return the warnings that can be answered, the most urgent first."""
    found = [
        alarm
        for alarm in alarms
        if (alarm.state in _OPEN or alarm.is_unjudged)
        and (night is None or alarm.night == night)
    ]
    return tuple(sorted(found, key=_urgency))


def _urgency(alarm: Alarm) -> tuple[bool, int, date]:
    """Return what open warnings are put in order by."""
    # An outlook waits for nobody; that a night is not watched does.
    rank = max(alarm.tier.rank, _UNJUDGED_RANK if alarm.is_unjudged else 0)
    return alarm.state is AlarmState.ANSWERED, -rank, alarm.night


def answers_about(
    alarms: Iterable[Alarm],
    person: str,
    kind: AnswerKind,
    now_utc: datetime,
    until_utc: datetime | None = None,
) -> tuple[Answer, ...]:
    """Return a person's answers to some warnings, as they stand now."""
    return tuple(
        Answer(
            person=person,
            night=alarm.night,
            tier=alarm.tier,
            revision=alarm.revision,
            kind=kind,
            given_utc=now_utc,
            until_utc=until_utc,
        )
        for alarm in alarms
    )


def longest_silence(local: datetime) -> datetime:
    """Return the latest moment up to which messages can be put off: the next noon.

    References
    ----------
    .. [1] Common practice, no source: silence that nobody ends is how alarms are lost.

    Examples
    --------
    >>> longest_silence(datetime(2026, 4, 12, 21, 30))
    datetime.datetime(2026, 4, 13, 12, 0)
    """
    noon = datetime.combine(local.date(), _NOON, tzinfo=local.tzinfo)
    return noon if local < noon else noon + timedelta(days=1)
