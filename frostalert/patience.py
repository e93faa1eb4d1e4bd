"""Makes plans beside a decision: a warning does not wait long for its plan.

On a small board a plan of many blocks takes a minute. The warning goes out bare then,
and the plan follows when it is there.
"""

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime

from frostalert.model.plan import Plan

_LOG = logging.getLogger(__name__)
_PATIENCE_S = 20.0
"""How long one decision waits for all its plans. Our own limit. [s]"""
_KEPT_S = 1800.0
"""How long a plan that came late is good for the next looks. Our own limit. [s]"""


@dataclass(slots=True, kw_only=True)
class _Work:
    """One plan that is being made, or was made late."""

    forecast_utc: datetime | None
    done: threading.Event
    plan: Plan | None = None
    made_s: float = 0.0
    was_late: bool = False


class PlanBench:
    """Makes plans in threads of their own, and keeps what came late.

    Parameters
    ----------
    patience_s : float
        How long one decision waits for all its plans. [s]
    """

    def __init__(self, patience_s: float = _PATIENCE_S) -> None:
        self._patience_s = patience_s
        self._ends_s = 0.0
        self._under_way: dict[date, _Work] = {}
        self._kept: dict[date, _Work] = {}

    def begin(self) -> None:
        """Begin a decision: from now on its plans are waited for."""
        self._ends_s = time.monotonic() + self._patience_s
        # What has come is news once, whether or not its night is asked for again.
        for night in list(self._under_way):
            self._take_in(night)
        self._kept = {n: work for n, work in self._kept.items() if _is_young(work)}

    def made(
        self,
        night: date,
        forecast_utc: datetime | None,
        make: Callable[[], Plan | None],
    ) -> tuple[Plan | None, bool]:
        """Return a night's plan, and whether it is not there yet.

        What came late is used until a newer one is made, on the same forecast.
        """
        kept = self._kept.get(night)
        if kept is not None and kept.forecast_utc == forecast_utc and _is_young(kept):
            return kept.plan, False
        work = self._under_way.get(night)
        if work is None or work.forecast_utc != forecast_utc:
            # What is made of an older forecast is of no use any more.
            work = self._begun(night, forecast_utc, make)
        if not work.done.wait(max(0.0, self._ends_s - time.monotonic())):
            work.was_late = True
            _LOG.warning("the plan of the night %s is not there yet", night)
            return None, True
        del self._under_way[night]
        if work.was_late:
            self._kept[night] = work
        return work.plan, False

    def has_news(self) -> bool:
        """Return whether a plan has come since a decision gave it up."""
        return any(work.done.is_set() for work in self._under_way.values())

    def _take_in(self, night: date) -> None:
        """Keep a plan that has come since a decision gave it up."""
        work = self._under_way.get(night)
        if work is not None and work.done.is_set():
            self._kept[night] = self._under_way.pop(night)

    def _begun(
        self,
        night: date,
        forecast_utc: datetime | None,
        make: Callable[[], Plan | None],
    ) -> _Work:
        """Begin to make a plan."""
        work = _Work(forecast_utc=forecast_utc, done=threading.Event())
        self._under_way[night] = work

        def run() -> None:
            try:
                work.plan = make()
            except Exception:  # noqa: BLE001 - the warning goes out without a plan
                _LOG.exception("no plan could be made for the night %s", night)
            finally:
                work.made_s = time.monotonic()
                work.done.set()

        threading.Thread(target=run, name="plan", daemon=True).start()
        return work


def _is_young(work: _Work) -> bool:
    """Return whether a plan that came late still holds."""
    return time.monotonic() - work.made_s < _KEPT_S
