"""Which nights belong to one run of messages, and where each warning stands."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta

from frostalert.alarms.answers import acknowledged_by, is_unjudged_open
from frostalert.alarms.look import Look
from frostalert.model.alarm import Alarm, AlarmState, Answer
from frostalert.model.assessment import Tier
from frostalert.model.notice import Decision, NightHistory

_NEXT = timedelta(days=1)


def join_episode(night: date, histories: Iterable[NightHistory]) -> str:
    """Return the episode that a night belongs to: a running one, or its own.

    Noon never ends an episode: the next night goes on with it, and so does a night
    told while another is open.
    """
    running = [
        history
        for history in histories
        if history.episode is not None
        and history.night != night
        and (
            (history.told.rank and not history.is_closed)
            or abs(history.night - night) <= _NEXT
        )
    ]
    nearest = min(running, key=lambda item: abs(item.night - night), default=None)
    if nearest is None or nearest.episode is None:
        return night.isoformat()
    return nearest.episode


def join_episodes(decision: Decision, look: Look) -> Decision:
    """Give each night that is told for the first time its episode."""
    known = {**look.told, **{item.night: item.remember for item in decision.nights}}
    nights = []
    for item in decision.nights:
        if item.say is not None and item.remember.episode is None:
            name = join_episode(item.night, known.values())
            remember = replace(item.remember, episode=name)
            known[item.night] = remember
            nights.append(replace(item, remember=remember))
        else:
            nights.append(item)
    return replace(decision, nights=tuple(nights))


def alarm_of(history: NightHistory, answers: tuple[Answer, ...]) -> Alarm:
    """Return one night's warning with where it stands.

    References
    ----------
    .. [1] OPC Foundation, OPC 10000-9, for the states; the names are our own.
    """
    by = acknowledged_by(history, answers) if history.told.rank else None
    return Alarm(
        episode=history.episode,
        night=history.night,
        tier=history.said,
        revision=history.revision,
        state=_state(history, by),
        answered_by=by,
        is_unjudged=is_unjudged_open(history, answers),
        called=history.told_starts,
        told_blocks=history.told_blocks,
        stop_utc=history.stop_utc,
    )


def _state(history: NightHistory, answered_by: str | None) -> AlarmState:
    """Return where a warning stands."""
    if not history.told.rank:
        return AlarmState.QUIET
    needs_answer = history.told in (Tier.PREPARE, Tier.ACT)
    if history.is_closed:
        is_open = needs_answer and answered_by is None
        return AlarmState.ENDED_UNANSWERED if is_open else AlarmState.ENDED
    if not needs_answer:
        return AlarmState.OUTLOOK
    return AlarmState.UNANSWERED if answered_by is None else AlarmState.ANSWERED
