"""Judge a forecast by all that the running service knows, where there is one."""

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from frostalert.cycle.judging import Judged
    from frostalert.model.forecast import ForecastRun
    from frostalert.model.plan import Plan
    from frostalert.model.progress import Progress
    from frostalert.model.settings import Settings
    from frostalert.model.site import Holding
    from frostalert.store.state import StateStore


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A forecast judged, and all that plans of its nights need.

    Attributes
    ----------
    holding : Holding
        With the warmth since stages were seen and the gains that were measured here.
    progress : mapping of date to Progress
        What people were called to, by night; empty where that is not known.
    """

    judged: "Judged"
    holding: "Holding"
    progress: "Mapping[date, Progress]" = field(default_factory=dict)
    is_known: bool = False

    def plan(self, day: "date | None" = None) -> "Plan | None":
        """Return the plan of a night, or of the first at risk; none without risk."""
        from frostalert.cycle.planning import plan_night
        from frostalert.model.progress import UNKNOWN_PROGRESS, Progress

        nights = self.judged.assessment.nights
        at_risk = [n for n, record in enumerate(nights) if record.at_risk]
        if day is not None:
            at_risk = [n for n in at_risk if nights[n].night == day]
        if not at_risk:
            return None
        place = at_risk[0]
        nothing = Progress() if self.is_known else UNKNOWN_PROGRESS
        progress = self.progress.get(nights[place].night, nothing)
        return plan_night(self.judged, self.holding, place, progress)


def know(
    settings: "Settings", run: "ForecastRun", moment: datetime, *, is_live: bool
) -> Known:
    """Return a forecast judged with readings, learning and warmth, if it is for now.

    A forecast from a file, or another moment, is judged by itself alone.
    """
    from frostalert.cycle.judging import Judged, judge_run
    from frostalert.cycle.planning import progress_of
    from frostalert.plan.gains import with_measured_gains
    from frostalert.risk.assess import assess

    store = _state(settings) if is_live else None
    if store is None:
        holding = settings.holding
        plain = assess(holding, run, moment)
        judged = Judged(assessment=plain, run=run, holding=holding)
        return Known(judged=judged, holding=holding)
    try:
        judged = judge_run(run, [], settings.holding, store, moment)
        told, answers = store.night_histories(moment), store.recent_answers(moment)
        return Known(
            judged=judged,
            holding=with_measured_gains(judged.holding, store.gain_nights()),
            progress=progress_of(told, answers),
            is_known=True,
        )
    finally:
        store.database.close()


def know_changed(known: Known, holding: "Holding") -> Known:
    """Return the same run judged for a changed holding."""
    from frostalert.cycle.judging import Judged
    from frostalert.risk.assess import assess

    run, moment = known.judged.run, known.judged.assessment.issued_utc
    assert run is not None  # noqa: S101 - a command has a run
    return Known(
        judged=Judged(
            assessment=assess(holding, run, moment), run=run, holding=holding
        ),
        holding=holding,
        progress=known.progress,
        is_known=known.is_known,
    )


def _state(settings: "Settings") -> "StateStore | None":
    """Return the service's state, if there is one that can be read."""
    from frostalert.app import state_directory
    from frostalert.errors import StoreError
    from frostalert.store.open import open_beside

    try:
        return open_beside(state_directory(settings.state_directory))
    except StoreError:
        return None
