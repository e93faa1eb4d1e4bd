"""Ask an archive once, patiently, and keep what it answered."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Protocol, TypeVar

from frostalert.errors import ForecastUnavailableError

_PAUSE_S = 0.35
"""Between two answers: each counts as three calls; 600 a minute are free. [s]"""
_MINUTE_S, _MOST_MINUTES = 61.0, 3
_GROWS = timedelta(days=10)
"""For so long after a day archives may still fill it in. Our own rule."""

Answer = TypeVar("Answer")


class AnswerShelf(Protocol):
    """Where answers of archives are kept."""

    def archive_answer(self, name: str) -> str | None:
        """Return an answer by what was asked, if it is kept and whole."""

    def keep_archive_answer(self, name: str, text: str, now_utc: datetime) -> None:
        """Keep an answer under what was asked."""


@dataclass(kw_only=True)
class Asking:
    """One look at archives.

    Attributes
    ----------
    total : int
        Answers that the forecasts take, for the progress.
    needs : str
        What past springs need, for whoever has no network.
    on_progress : callable
        Told the share of the answers that are there.
    sleep : callable
        Waits between answers.
    """

    shelf: AnswerShelf
    now_utc: datetime
    total: int
    needs: str
    on_progress: Callable[[float], None] = lambda _: None
    sleep: Callable[[float], None] = time.sleep
    _done: int = field(default=0, init=False)

    def kept(
        self,
        name: str,
        ask: Callable[[], str],
        read: Callable[[str], Answer],
        *,
        last: date,
    ) -> Answer:
        """Return what is kept under a name; else ask, read, and keep what can be read.

        An answer whose last day is recent may still grow: it is not kept.

        Raises
        ------
        ForecastError
            If it could not be had or read.
        """
        text = self.shelf.archive_answer(name)
        if text is None:
            text, found = self._patiently(ask, read)
            if self.now_utc.date() - last > _GROWS:
                self.shelf.keep_archive_answer(name, text, self.now_utc)
            self.sleep(_PAUSE_S)
        else:
            found = read(text)
        self._done += 1
        self.on_progress(min(1.0, self._done / max(1, self.total)))
        return found

    def _patiently(
        self, ask: Callable[[], str], read: Callable[[str], Answer]
    ) -> tuple[str, Answer]:
        """Return an answer and what it says, waiting out a limit of one minute."""
        for _ in range(_MOST_MINUTES):
            try:
                text = ask()
                return text, read(text)
            except ForecastUnavailableError as error:
                if "minute" not in error.problem.lower():
                    raise self._broken_off(error) from error
            self.sleep(_MINUTE_S)
        try:
            text = ask()
            return text, read(text)
        except ForecastUnavailableError as error:
            raise self._broken_off(error) from error

    def _broken_off(self, error: ForecastUnavailableError) -> ForecastUnavailableError:
        """Return an error that says what is needed and what is kept."""
        problem = (
            f"{error.problem}. {self.needs} What has come is kept: run the same "
            "command again, and it goes on from there"
        )
        return ForecastUnavailableError(error.source, problem)
