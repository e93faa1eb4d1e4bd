"""Nights judged by forecasts alone, as most tests need them."""

from datetime import datetime

from frostalert.model.assessment import Assessment
from frostalert.model.forecast import ForecastRun
from frostalert.model.nights import Facts, Nights
from frostalert.model.site import Farm
from frostalert.risk.assess import assess_all
from frostalert.risk.blind import blind_nights


def nights_of(
    farm: Farm,
    run: ForecastRun,
    now_utc: datetime,
    *,
    others: tuple[ForecastRun, ...] = (),
) -> Nights:
    """Return the nights by one run, with other sources' beside it."""
    return assess_all(farm, Facts(runs=(run, *others)), now_utc)


def assess(
    farm: Farm,
    run: ForecastRun,
    now_utc: datetime,
    *,
    others: tuple[ForecastRun, ...] = (),
) -> Assessment:
    """Return what those nights mean."""
    return nights_of(farm, run, now_utc, others=others).assessment


def cannot_judge_anything(farm: Farm, now_utc: datetime, problem: str) -> Assessment:
    """Return what two nights without a forecast mean."""
    return blind_nights(farm, Facts(runs=()), now_utc, problem).assessment
