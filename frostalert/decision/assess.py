"""Assess every block on every night that a forecast reaches."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from frostalert.agronomy.stages import stage_in_force
from frostalert.decision.block_hours import BlockHours, derive_block_hours
from frostalert.decision.block_night import judge_block
from frostalert.decision.coverage import night_coverage
from frostalert.decision.measure import JudgedBlock, NightFrame, measure_night
from frostalert.decision.night_record import night_record
from frostalert.decision.site_hours import SiteHours, SiteNight, prepare_site_hours
from frostalert.decision.uncertainty import UNUSABLE, age_word
from frostalert.model.assessment import (
    Assessment,
    ForecastFacts,
    NightAssessment,
    StageInForce,
)
from frostalert.model.crop import Organ
from frostalert.model.forecast import ForecastRun
from frostalert.model.site import Holding


@dataclass(frozen=True, slots=True, kw_only=True)
class _Work:
    """What the assessment of one night needs."""

    holding: Holding
    shared: SiteHours
    hours: BlockHours
    now_utc: datetime
    is_too_old: bool


def assess(holding: Holding, run: ForecastRun, now_utc: datetime) -> Assessment:
    """Return what a forecast means for every block on every night that it reaches.

    Parameters
    ----------
    holding : Holding
        Site, blocks, people and rules.
    run : ForecastRun
        The forecast.
    now_utc : datetime
        The present moment.

    Returns
    -------
    Assessment
        The present night first.

    Raises
    ------
    PhysicsDomainError
        If the forecast holds values outside what the formulas hold for.

    References
    ----------
    .. [1] See the physics and agronomy modules.
    """
    shared = prepare_site_hours(run, holding.site, now_utc)
    first = shared.nights[0].window.night
    last = shared.nights[-1].window.night
    # A block that is in leaf on any of the nights is reckoned in leaf on all: colder.
    organs = tuple(
        Organ.LEAF if Organ.LEAF in (_organ(early), _organ(late)) else Organ.BUD
        for early, late in zip(
            _stages(holding, first), _stages(holding, last), strict=True
        )
    )
    work = _Work(
        holding=holding,
        shared=shared,
        hours=derive_block_hours(shared, holding.site, holding.blocks, organs),
        now_utc=now_utc,
        is_too_old=now_utc - run.updated_utc > UNUSABLE,
    )
    return Assessment(
        issued_utc=now_utc,
        forecast=forecast_facts(run, now_utc),
        nights=tuple(_assess_night(work, night) for night in shared.nights),
    )


def forecast_facts(run: ForecastRun, now_utc: datetime) -> ForecastFacts:
    """Return where a run comes from and how old it is at a moment."""
    return ForecastFacts(
        source=run.source,
        source_title=run.source_title,
        place=run.place,
        updated_utc=run.updated_utc,
        fetched_utc=run.fetched_utc,
        elevation_m=run.elevation_m,
        age_word=age_word(max(timedelta(0), now_utc - run.updated_utc)),
        notes=run.notes,
    )


def _organ(stage: StageInForce) -> Organ | None:
    """Return what freezes first at a stage."""
    return stage.threshold.organ if stage.threshold else None


def _stages(holding: Holding, night: date) -> list[StageInForce]:
    """Return the stage in force of every block on a night."""
    return [
        stage_in_force(
            block.crop,
            block.stage,
            block.stage_seen,
            night,
            stage_days=holding.rules.stage_days,
            dormant_days=holding.rules.dormant_days,
        )
        for block in holding.blocks
    ]


def _assess_night(work: _Work, night: SiteNight) -> NightAssessment:
    """Return one night, every block in it."""
    stages = _stages(work.holding, night.window.night)
    frame = NightFrame(
        shared=work.shared,
        night=night,
        coverage=night_coverage(
            work.shared, night, work.now_utc, is_too_old=work.is_too_old
        ),
        now_utc=work.now_utc,
        rules=work.holding.rules,
        is_frost_forecast=bool(work.shared.run.hours.is_frost[night.hours].any()),
    )
    judged = [index for index, stage in enumerate(stages) if stage.threshold]
    blocks = work.holding.blocks
    rows = measure_night(
        frame,
        work.hours,
        [JudgedBlock(index, blocks[index], stages[index]) for index in judged],
    )
    measured = dict(zip(judged, rows, strict=True)) if rows else {}
    return night_record(
        frame,
        tuple(
            judge_block(frame, block, stage, measured.get(index))
            for index, (block, stage) in enumerate(zip(blocks, stages, strict=True))
        ),
    )
