"""Assess every block on every night that a forecast reaches."""

from datetime import date, datetime, timedelta

from frostalert.model.assessment import (
    Assessment,
    BlockNight,
    ForecastFacts,
    NightAssessment,
    StageInForce,
)
from frostalert.model.forecast import ForecastRun
from frostalert.model.site import Holding
from frostalert.risk.block_hours import (
    BlockHours,
    derive_block_hours,
    organ_of,
    stage_on,
)
from frostalert.risk.block_night import judge_item, unjudged_block
from frostalert.risk.coverage import night_coverage
from frostalert.risk.measure import Item, NightFrame, measure
from frostalert.risk.night_record import night_record
from frostalert.risk.numbers import split_columns
from frostalert.risk.site_hours import SiteHours, prepare_site_hours
from frostalert.risk.sources import OtherHours, other_lows, prepare_others
from frostalert.risk.uncertainty import UNUSABLE, age_word


def assess(
    holding: Holding,
    run: ForecastRun,
    now_utc: datetime,
    *,
    others: tuple[ForecastRun, ...] = (),
) -> Assessment:
    """Return what a forecast means for every block on every night that it reaches.

    Parameters
    ----------
    holding : Holding
        Site, blocks, people and rules.
    run : ForecastRun
        The forecast.
    now_utc : datetime
        The present moment.
    others : tuple of ForecastRun
        Fresh runs of other sources: their lows stand beside, and widen the error.

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
    organs = tuple(organ_of(holding, block, shared) for block in holding.blocks)
    frames = _frames(
        holding, shared, now_utc, prepare_others(others, holding.site, now_utc)
    )
    hours = derive_block_hours(shared, holding.site, holding.blocks, organs)
    return Assessment(
        issued_utc=now_utc,
        forecast=forecast_facts(run, now_utc),
        nights=_judge_nights(holding, frames, hours),
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


def _stages(holding: Holding, night: date) -> list[StageInForce]:
    """Return the stage in force of every block on a night."""
    return [stage_on(holding, block, night) for block in holding.blocks]


def _frames(
    holding: Holding,
    shared: SiteHours,
    now_utc: datetime,
    others: list[OtherHours],
) -> list[NightFrame]:
    """Return what the judging of each night needs."""
    is_too_old = now_utc - shared.run.updated_utc > UNUSABLE
    is_frost = shared.run.hours.is_frost
    return [
        NightFrame(
            shared=shared,
            night=night,
            coverage=night_coverage(shared, night, now_utc, is_too_old=is_too_old),
            now_utc=now_utc,
            rules=holding.rules,
            is_frost_forecast=bool(is_frost[night.hours].any()),
            other_lows=other_lows(others, night.window.night),
        )
        for night in shared.nights
    ]


def _judge_nights(
    holding: Holding, frames: list[NightFrame], hours: BlockHours
) -> tuple[NightAssessment, ...]:
    """Return every night, every block in it; the numbers are worked out all at once."""
    stages = [_stages(holding, frame.night.window.night) for frame in frames]
    items = [
        Item(night, index, block, stage, stage.threshold)
        for night, row in enumerate(stages)
        for index, (block, stage) in enumerate(zip(holding.blocks, row, strict=True))
        if stage.threshold is not None
    ]
    judged: dict[tuple[int, int], BlockNight] = {}
    if items:
        rows = split_columns(measure(frames, hours, items))
        judged = {
            (item.night, item.index): judge_item(frames[item.night], item, numbers)
            for item, numbers in zip(items, rows, strict=True)
        }
    return tuple(
        night_record(
            frame,
            tuple(
                judged.get((night, index)) or unjudged_block(frame, block, stage)
                for index, (block, stage) in enumerate(
                    zip(holding.blocks, stages[night], strict=True)
                )
            ),
        )
        for night, frame in enumerate(frames)
    )
