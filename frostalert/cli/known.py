"""Judge a forecast by all that the running service knows, where there is one."""

from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from frostalert.model.forecast import ForecastRun
    from frostalert.model.settings import Settings
    from frostalert.model.site import Holding
    from frostalert.pipeline.judging import Judged
    from frostalert.store.state import StateStore


def judge_known(
    settings: "Settings", run: "ForecastRun", moment: datetime, *, is_live: bool
) -> "Judged":
    """Return a forecast judged with readings, learning and warmth, if it is for now.

    A forecast from a file, or another moment, is judged by itself alone.
    """
    from frostalert.decision.assess import assess
    from frostalert.pipeline.judging import Judged, judge_run

    store = _state(settings) if is_live else None
    if store is None:
        return Judged(assessment=assess(settings.holding, run, moment), run=run)
    try:
        return judge_run(run, [], settings.holding, store, moment)
    finally:
        store.database.close()


def known_holding(settings: "Settings", *, is_live: bool) -> "Holding":
    """Return the holding with the gains that were measured here, if it is for now."""
    from frostalert.decision.gains import with_measured_gains

    store = _state(settings) if is_live else None
    if store is None:
        return settings.holding
    try:
        return with_measured_gains(settings.holding, store.gain_nights())
    finally:
        store.database.close()


def judge_changed(holding: "Holding", judged: "Judged") -> "Judged":
    """Return the same run judged for a changed holding."""
    from frostalert.decision.assess import assess
    from frostalert.pipeline.judging import Judged

    assert judged.run is not None  # noqa: S101 - a command has a run
    assessment = assess(holding, judged.run, judged.assessment.issued_utc)
    return Judged(assessment=assessment, run=judged.run)


def _state(settings: "Settings") -> "StateStore | None":
    """Return the service's state, if there is one that can be read."""
    from frostalert.app import state_directory
    from frostalert.errors import StoreError
    from frostalert.store.open import open_beside

    try:
        return open_beside(state_directory(settings.state_directory))
    except StoreError:
        return None
