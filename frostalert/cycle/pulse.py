"""Gather what is known of the service, from what it has stored."""

from datetime import date, datetime, timedelta
from typing import Protocol

from frostalert.alarms.episodes import alarm_of
from frostalert.cycle.health import ServiceState
from frostalert.messages.wording import Wording
from frostalert.model.alarm import Alarm, AlarmState, Answer
from frostalert.model.notice import NightHistory
from frostalert.model.site import Farm
from frostalert.ports import Fault

ALIVE, CYCLE = "alive", "cycle"
_LATELY = timedelta(days=7)


class PulseBook(Protocol):
    """The state as the one sees it who asks for the service's health."""

    def read_mark(self, name: str) -> str | None:
        """Return a small fact kept under a name."""

    def open_faults(self) -> dict[str, Fault]:
        """Return the open faults by key."""

    def oldest_due_utc(self, now_utc: datetime) -> datetime | None:
        """Return since when the oldest message waits that should have been tried."""

    def newest_run_utc(self, now_utc: datetime) -> datetime | None:
        """Return when the newest forecast was made."""

    def night_histories(self, now_utc: datetime) -> dict[date, NightHistory]:
        """Return what was said about each recent night."""

    def recent_answers(self, now_utc: datetime) -> tuple[Answer, ...]:
        """Return the answers of the last weeks."""


def recent_alarms(book: PulseBook, now_utc: datetime) -> tuple[Alarm, ...]:
    """Return where the warnings of the last week stand, the oldest night first."""
    answers = book.recent_answers(now_utc)
    first = (now_utc - _LATELY).date()
    histories = sorted(book.night_histories(now_utc).items())
    return tuple(
        alarm_of(history, answers) for night, history in histories if night >= first
    )


def read_pulse(
    book: PulseBook,
    farm: Farm,
    now_utc: datetime,
    *,
    is_running: bool,
    has_watcher: bool,
    share: str | None = None,
) -> ServiceState:
    """Return what is known of the service."""
    wording = Wording(farm.site, now_utc)
    unanswered = [
        wording.night(alarm.night)
        for alarm in recent_alarms(book, now_utc)
        if alarm.state is AlarmState.UNANSWERED or alarm.is_unjudged
    ]
    return ServiceState(
        is_running=is_running,
        alive_utc=_moment(book.read_mark(ALIVE)),
        cycle_utc=_moment(book.read_mark(CYCLE)),
        forecast_utc=book.newest_run_utc(now_utc),
        oldest_due_utc=book.oldest_due_utc(now_utc),
        faults=tuple(book.open_faults().values()),
        unanswered=tuple(unanswered),
        has_watcher=has_watcher,
        is_in_season=farm.is_in_season,
        share=share,
    )


def _moment(text: str | None) -> datetime | None:
    """Return a moment that a mark holds."""
    return None if text is None else datetime.fromisoformat(text)
