"""Assess every block on every night that a forecast reaches."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import lru_cache

from frostalert.agronomy.looks import stages_on
from frostalert.model.assessment import (
    Assessment,
    ForecastFacts,
    NightAssessment,
    SiteLow,
    StageInForce,
)
from frostalert.model.forecast import ForecastRun
from frostalert.model.hours import BlockHours, SiteHours
from frostalert.model.nights import Facts, Nights
from frostalert.model.reading import Reading
from frostalert.model.site import Farm
from frostalert.risk.adverse import nights_alone
from frostalert.risk.block_hours import derive_block_hours, first_part, organs_of
from frostalert.risk.coverage import night_coverage
from frostalert.risk.forecast_age import UNUSABLE, age_word
from frostalert.risk.items import watched_items
from frostalert.risk.judge import judge
from frostalert.risk.known_night import KnownNight
from frostalert.risk.measure import NightContext, known_night, measure
from frostalert.risk.members import member_of, pooled_terms, site_lows, windy_notes
from frostalert.risk.night_record import night_records
from frostalert.risk.readings import reading_effect
from frostalert.risk.remarks import height_remarks
from frostalert.risk.sources import choose_runs
from frostalert.risk.starts import measure_starts
from frostalert.risk.terms import block_terms, corrected, minimum_terms
from frostalert.risk.thermometer_start import ThermometerStart, thermometer_starts
from frostalert.risk.warmth import hourly_air, with_warmth


def assess_all(farm: Farm, facts: Facts, now_utc: datetime) -> Nights:
    """Return what the forecasts mean for every block on every night they reach.

    The only place that turns forecasts into a judgement: whoever speaks of a night is
    handed what it returns.

    Parameters
    ----------
    farm : Farm
        Site, blocks, sensors and rules.
    facts : Facts
        Runs of every source, at least one, and what the site has taught and read.
    now_utc : datetime
        The present moment.

    Returns
    -------
    Nights
        The present night first.

    Raises
    ------
    PhysicsDomainError
        If the forecast holds values outside what the formulas hold for.
    """
    given = farm
    first, *others = (
        member_of(run, farm, facts.pairs, now_utc)
        for run in choose_runs(facts.runs, farm.sources, now_utc)
    )
    lows, *alone_lows = site_lows(first, others, farm)
    pooled = pooled_terms(first, lows)
    shared = corrected(first.shared, pooled)
    if facts.has_history:
        air = _hours_of(shared)
        farm = with_warmth(farm, air, facts.days_air, facts.sightings, now_utc)
    waits = thermometer_starts(shared, farm, facts.readings, now_utc)
    read = reading_effect(shared, farm, facts.readings, now_utc, facts.nowcasts)
    shared = corrected(shared, read.terms)
    stages = stages_on(farm, [night.window.night for night in shared.nights])
    organs = organs_of(stages, shared)
    alone = tuple(zip((first, *others), alone_lows, strict=False))
    laid = (shared, *(member.shared for member, _ in alone))
    hours = derive_block_hours(laid, farm.site, farm.blocks, organs)
    count = shared.run.hours.count
    frames = _frames(farm, shared, now_utc, lows, waits)
    frames_alone = nights_alone(alone, count)
    windy = windy_notes(first, others)
    return Nights(
        assessment=Assessment(
            issued_utc=now_utc,
            forecast=forecast_facts(
                first.run,
                now_utc,
                (
                    *height_remarks(farm.site, first.run),
                    *first.lost.notes,
                    *first.lesson.notes,
                    *windy,
                    *read.notes,
                ),
                (*first.run.doubts, *windy, *read.notes),
            ),
            nights=_judge_nights(farm, frames, frames_alone, hours, stages),
            official=facts.official,
        ),
        farm=farm,
        facts=facts,
        site_hours=shared,
        block_hours=first_part(hours, count),
        terms=(
            *minimum_terms(first.source_hours),
            *first.lost.terms,
            *first.lesson.terms,
            *pooled,
            *read.terms,
            *block_terms(farm, shared),
        ),
        confirmed=_confirmed(given, facts, now_utc, read.unconfirmed),
    )


def _confirmed(
    farm: Farm, facts: Facts, now_utc: datetime, unconfirmed: tuple[Reading, ...]
) -> Nights | None:
    """Return the nights without the readings that nobody has borne out."""
    if not unconfirmed:
        return None
    rest = tuple(item for item in facts.readings if item not in unconfirmed)
    return assess_all(farm, replace(facts, readings=rest), now_utc)


def forecast_facts(
    run: ForecastRun,
    now_utc: datetime,
    notes: tuple[str, ...] = (),
    doubts: tuple[str, ...] = (),
) -> ForecastFacts:
    """Return where a run comes from and how old it is, with what was made of it."""
    return ForecastFacts(
        source=run.source,
        source_title=run.source_title,
        place=run.place,
        updated_utc=run.updated_utc,
        fetched_utc=run.fetched_utc,
        elevation_m=run.elevation_m,
        age_word=age_word(max(timedelta(0), now_utc - run.updated_utc)),
        notes=(*run.notes, *notes),
        doubts=doubts,
    )


@lru_cache(maxsize=4)
def _hours_of(shared: SiteHours) -> tuple[tuple[datetime, float], ...]:
    """Return the site's air hour by hour, made once for hours that stay. [degC]"""
    return tuple(hourly_air(shared.run.hours.first_utc, shared.air_c))


def _frames(
    farm: Farm,
    shared: SiteHours,
    now_utc: datetime,
    lows: Sequence[SiteLow],
    waits: Mapping[str, ThermometerStart],
) -> list[NightContext]:
    """Return what the judging of each night needs."""
    is_too_old = now_utc - shared.run.updated_utc > UNUSABLE
    is_frost = shared.run.hours.is_frost
    return [
        NightContext(
            shared=shared,
            night=night,
            coverage=night_coverage(shared, night, now_utc, is_too_old=is_too_old),
            now_utc=now_utc,
            rules=farm.rules,
            is_frost_forecast=bool(is_frost[night.hours].any()),
            site_low=low,
            # A lapsed one says so of the first night; the others have time.
            thermometers=waits if night is shared.nights[0] else {},
        )
        for night, low in zip(shared.nights, lows, strict=True)
    ]


def _judge_nights(
    farm: Farm,
    frames: list[NightContext],
    alone: tuple[KnownNight, ...],
    hours: BlockHours,
    stages: Mapping[date, list[StageInForce]],
) -> tuple[NightAssessment, ...]:
    """Return every night, every block in it.

    The numbers are worked out all at once; of each source alone its starts.
    """
    dates = tuple(frame.night.window.night for frame in frames)
    in_force = [stages[night] for night in dates]
    items = watched_items(farm.blocks, in_force)
    starts = measure_starts(alone, dates, hours, items, farm.rules)
    nights = [known_night(frame) for frame in frames]
    own_hours = first_part(hours, frames[0].shared.run.hours.count)
    measured = measure(nights, own_hours, items, farm.rules)
    judged = judge(frames, farm.blocks, items, measured, (alone, starts))
    return night_records(frames, farm.blocks, in_force, judged)
