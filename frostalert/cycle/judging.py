"""Judge the nights by what is stored: forecasts, readings, and what was learned."""

import logging
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from frostalert.errors import PhysicsDomainError
from frostalert.model.assessment import Assessment
from frostalert.model.forecast import ForecastRun
from frostalert.model.site import Holding
from frostalert.ports import NightBook
from frostalert.risk.assess import assess
from frostalert.risk.blind import cannot_judge_anything
from frostalert.risk.learning import with_learning
from frostalert.risk.readings import OLD, with_readings
from frostalert.risk.remarks import is_for_site
from frostalert.risk.sources import choose_runs
from frostalert.risk.warmth import with_warmth

_LOG = logging.getLogger(__name__)
_PAST = timedelta(hours=36)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """An assessment with the run that it rests on; no run, no plan."""

    assessment: Assessment
    run: ForecastRun | None
    holding: Holding
    """The grower's side, by what was learned and how warm it was where known."""
    has_history: bool = False


def assess_stored(holding: Holding, store: NightBook, now_utc: datetime) -> Assessment:
    """Assess the newest stored run, its past hours filled from the earlier ones."""
    return judge_stored(holding, store, now_utc).assessment


def judge_stored(
    holding: Holding,
    store: NightBook,
    now_utc: datetime,
    *,
    is_rehearsal: bool = False,
) -> Judged:
    """Assess the newest stored run, and return it with what it was filled to.

    What the weather service itself says goes along; it changes no tier.
    """
    judged = _judge_runs(holding, store, now_utc, is_rehearsal=is_rehearsal)
    try:
        official = store.official_word()
    except Exception:  # noqa: BLE001 - what is only quoted must not end in silence
        _LOG.exception("the official word could not be read")
        return judged
    return replace(judged, assessment=replace(judged.assessment, official=official))


def _judge_runs(
    holding: Holding, store: NightBook, now_utc: datetime, *, is_rehearsal: bool
) -> Judged:
    """Assess the newest stored run by all that is known."""
    runs = store.recent_runs(now_utc - _PAST, now_utc)
    if not is_rehearsal:
        # A site that was moved must not be judged by its old place's forecast.
        runs = [run for run in runs if is_for_site(holding.site, run)]
    if not runs:
        return _blind(holding, now_utc, "no forecast for this place has been received")
    try:
        run, *others = choose_runs(runs, holding.sources, now_utc)
        try:
            return judge_run(run, others, holding, store, now_utc)
        except Exception:  # noqa: BLE001 - the plain forecast still counts
            _LOG.exception("readings, learning or a second source broke off")
            plain = assess(holding, run, now_utc)
            return Judged(assessment=plain, run=run, holding=holding)
    except PhysicsDomainError as error:
        _LOG.exception("the stored forecast could not be worked out")
        return _blind(
            holding, now_utc, f"the forecast holds impossible values ({error})"
        )
    except Exception as error:  # noqa: BLE001 - a defect of ours must not end in silence
        _LOG.exception("the stored forecast could not be worked out")
        broke_off = f"the program broke off over this forecast ({type(error).__name__})"
        return _blind(holding, now_utc, broke_off)


def judge_run(
    run: ForecastRun,
    others: list[ForecastRun],
    holding: Holding,
    store: NightBook,
    now_utc: datetime,
) -> Judged:
    """Judge a run with all else that is known.

    Parameters
    ----------
    run : ForecastRun
        The forecast that counts.
    others : list of ForecastRun
        Other sources' runs, which widen its uncertainty.
    holding : Holding
        The grower's side.
    store : NightBook
        What was learned and read, and how warm it was since stages were seen.
    now_utc : datetime
        The present moment.

    Returns
    -------
    Judged
        The run as readings and learning have changed it, and what it means.
    """
    run, learned = with_learning(run, holding, store.night_pairs(), now_utc)
    days, seen = store.days_air(), store.sightings()
    learned = with_warmth(learned, run, days, seen, now_utc)
    readings = store.readings_since(now_utc - OLD)
    run, _ = with_readings(run, learned, readings, now_utc)
    assessment = assess(learned, run, now_utc, others=tuple(others))
    return Judged(assessment=assessment, run=run, holding=learned, has_history=True)


def _blind(holding: Holding, now_utc: datetime, problem: str) -> Judged:
    """Return that nothing can be judged."""
    assessment = cannot_judge_anything(holding, now_utc, problem)
    return Judged(assessment=assessment, run=None, holding=holding)
