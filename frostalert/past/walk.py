"""Walk through past springs with the service's own steps, afternoon by afternoon."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from frostalert.cycle.deciding import Decided, decide_nights
from frostalert.cycle.judging import judge
from frostalert.cycle.ledger import seen_by
from frostalert.cycle.replay import everybody_of
from frostalert.model.assessment import NightAssessment, SiteLow
from frostalert.model.forecast import ForecastRun
from frostalert.model.learned import ForecastObservation, LeadClass, PairOrigin
from frostalert.model.nights import Facts, Nights
from frostalert.model.notice import NightHistory, Subject
from frostalert.model.past import LATEST, Archive, PastNight
from frostalert.model.site import Farm, Rules
from frostalert.model.warmth import DayAir, Sighting
from frostalert.past.harm import harms_of
from frostalert.past.runs import afternoon_run, look_moment, made_at
from frostalert.risk.learning import ForecastLow, forecast_lows
from frostalert.risk.source_bias import lead_class
from frostalert.risk.timing import act_at_utc
from frostalert.risk.warmth import day_air, hourly_air

_REMEMBERED = timedelta(days=4)
_DAY = timedelta(days=1)
_READY = (Subject.PREPARE, Subject.ACT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Afternoon:
    """One past afternoon, with what was known then; the same for every setting.

    Attributes
    ----------
    runs : tuple of ForecastRun
        What each archive had, as the service would have had it.
    pairs : tuple of ForecastObservation
        What nights before had taught.
    days_air : tuple of DayAir
        The days before.
    came_c : float or None
        The low that came in the night to come. [degC]
    """

    night: date
    moment_utc: datetime
    runs: tuple[ForecastRun, ...]
    pairs: tuple[ForecastObservation, ...]
    days_air: tuple[DayAir, ...]
    came_c: float | None


@dataclass(frozen=True, slots=True)
class ArchivedLow:
    """What a source made of a night some days before, and what came. [degC]

    `nights_ahead` is counted from the afternoon that the hours were laid out for: 0
    for those of a day before.
    """

    source: str
    nights_ahead: int
    made: ForecastLow
    came_c: float


def afternoons_of(
    farm: Farm,
    archives: Sequence[Archive],
    nights: Sequence[date],
    came_c: Mapping[date, float],
    *,
    origin: PairOrigin | None,
    before: Sequence[ArchivedLow] = (),
) -> tuple[list[Afternoon], list[ArchivedLow]]:
    """Return the afternoons of a spring, and what they teach.

    Parameters
    ----------
    farm : Farm
        The site.
    archives : sequence of Archive
        What each source had said.
    nights : sequence of date
        The nights, in order.
    came_c : mapping of date to float
        The lows that came. [degC]
    origin : PairOrigin or None
        What pairs of them count as; None where they teach nothing.
    before : sequence of ArchivedLow
        What earlier springs taught.

    Returns
    -------
    tuple of (list of Afternoon, list of ArchivedLow)
        One a night of which an archive knows anything.
    """
    zone = ZoneInfo(farm.site.time_zone)
    days = _days_air(archives, zone)
    learned: list[ArchivedLow] = []
    found = []
    for night in nights:
        made = (afternoon_run(archive, night, zone) for archive in archives)
        runs = tuple(run for run in made if run is not None)
        if not runs:
            continue
        moment = look_moment(night, zone)
        known = [item for item in (*before, *learned) if item.made.night < night]
        found.append(
            Afternoon(
                night=night,
                moment_utc=moment,
                runs=runs,
                pairs=() if origin is None else pairs_as_placed(known, origin),
                days_air=tuple(item for item in days if item.day < night),
                came_c=came_c.get(night),
            )
        )
        learned += _lows(farm, runs, moment, night, came_c)
    return found, learned


def _days_air(archives: Sequence[Archive], zone: ZoneInfo) -> list[DayAir]:
    """Return how warm the days were, as the first source had them at last."""
    latest = [archive[LATEST] for archive in archives if LATEST in archive]
    if not latest:
        return []
    hours = latest[0].hours
    first = hours.first_utc.astimezone(zone).date()
    air = hourly_air(hours.first_utc, hours.air_c)
    found = []
    for n in range(hours.count // 24 + 1):
        # A day's own hours and some beside it: not the whole spring for each.
        extremes = day_air(
            air[max(0, 24 * n - 30) : 24 * n + 30], zone, first + n * _DAY
        )
        if extremes is not None:
            low, high = extremes
            found.append(
                DayAir(day=first + n * _DAY, low_c=low, high_c=high, is_measured=False)
            )
    return found


def _lows(
    farm: Farm,
    runs: Sequence[ForecastRun],
    moment: datetime,
    night: date,
    came_c: Mapping[date, float],
) -> list[ArchivedLow]:
    """Return what an afternoon's forecasts made of the nights whose low is known."""
    return [
        ArchivedLow(run.source, (made.night - night).days, made, came_c[made.night])
        for run in runs
        for made in forecast_lows(run, farm, moment)
        if made.night in came_c and np.isfinite(made.low_c)
    ]


def pairs_as_placed(
    lows: Sequence[ArchivedLow], origin: PairOrigin
) -> tuple[ForecastObservation, ...]:
    """Return pairs by the place that the hours have in an afternoon's forecast.

    The service of a past afternoon is handed hours of a day before as "tonight": what
    they missed on earlier nights belongs to that place.
    """
    return tuple(_pair(item, lead_class(item.nights_ahead), origin) for item in lows)


def pairs_to_keep(
    lows: Sequence[ArchivedLow], origin: PairOrigin
) -> tuple[ForecastObservation, ...]:
    """Return pairs by the lead that the hours really have, for the service to learn.

    Hours of a day before are tomorrow's forecast, not tonight's. Those of three days
    before stand behind those of two, which are of the same class.
    """
    return tuple(
        _pair(item, lead_class(item.nights_ahead + 1), origin)
        for item in lows
        if lead_class(item.nights_ahead) is not LeadClass.LATER
    )


def _pair(
    item: ArchivedLow, lead: LeadClass, origin: PairOrigin
) -> ForecastObservation:
    """Return one pair."""
    return ForecastObservation(
        night=item.made.night,
        source=item.source,
        kind=item.made.kind,
        forecast_low_c=item.made.low_c,
        observed_low_c=item.came_c,
        lead=lead,
        origin=origin,
    )


def walk(
    farm: Farm,
    afternoons: Sequence[Afternoon],
    sightings: Sequence[Sighting],
    *,
    on_night: Callable[[], None] = lambda: None,
) -> tuple[PastNight, ...]:
    """Return each night as it would have been called, and what came of it.

    Parameters
    ----------
    farm : Farm
        The holding with one setting.
    afternoons : sequence of Afternoon
        In the order of time.
    sightings : sequence of Sighting
        When stages were seen.
    on_night : callable
        Called after each night.

    Returns
    -------
    tuple of PastNight
        One an afternoon.
    """
    told: dict[date, NightHistory] = {}
    found = []
    for afternoon in afternoons:
        told = {n: h for n, h in told.items() if afternoon.night - n <= _REMEMBERED}
        found.append(_night(farm, afternoon, sightings, told))
        on_night()
    return tuple(found)


def _night(
    farm: Farm,
    afternoon: Afternoon,
    sightings: Sequence[Sighting],
    told: dict[date, NightHistory],
) -> PastNight:
    """Return one night, looked at in the afternoon and whenever its hours come."""
    seen = tuple(item for item in sightings if item.seen <= afternoon.night)
    farm = seen_by(farm, seen, afternoon.night)
    moments = [afternoon.moment_utc]
    said: set[Subject] = set()
    first: Nights | None = None
    while moments:
        [now] = moments
        facts = Facts(
            runs=tuple(made_at(run, now) for run in afternoon.runs),
            pairs=afternoon.pairs,
            days_air=afternoon.days_air,
            sightings=seen,
            has_history=True,
        )
        decided = decide_nights(judge(farm, facts, now), farm, told, everybody_of(farm))
        told |= {item.night: item.remember for item in decided.decision.nights}
        said |= _said(decided, afternoon.night)
        first = first or decided.nights
        # Only time is new until the next afternoon: those moments alone can say more.
        moments = _hours_to_come(decided, afternoon.night, now, said, farm.rules)
    assert first is not None  # noqa: S101 - the afternoon itself was looked at
    return _past_night(first, afternoon, said)


def _said(decided: Decided, night: date) -> set[Subject]:
    """Return what was said about a night."""
    return {
        item.say
        for item in decided.decision.announced
        if item.night == night and item.say is not None
    }


def _hours_to_come(
    decided: Decided, night: date, now: datetime, said: set[Subject], rules: Rules
) -> list[datetime]:
    """Return when a night at risk has to be looked at next.

    Each block has its own hour to start: the first may be one that nobody is called
    for. Once people are called out, more of it changes nothing that is counted.
    """
    record = _record(decided.nights, night)
    if record is None or Subject.ACT in said:
        return []
    moments = [] if Subject.PREPARE in said else [record.send_by_utc]
    moments += [
        act_at_utc(block.running_by_utc, rules)
        for block in record.at_risk
        if block.calls_hands and block.running_by_utc is not None
    ]
    ahead = [m for m in moments if m is not None and now < m < record.end_utc]
    return [min(ahead)] if ahead else []


def _record(nights: Nights, night: date) -> NightAssessment | None:
    """Return what was found of a night."""
    records = nights.assessment.nights
    return next((item for item in records if item.night == night), None)


def _past_night(nights: Nights, afternoon: Afternoon, said: set[Subject]) -> PastNight:
    """Return a night as the afternoon judged it, with what was said and what came."""
    record = _record(nights, afternoon.night)
    site_low = None if nights.site_hours is None else nights.site_hours.nights[0].low_c
    if record is None or record.missing or record.low_c is None or site_low is None:
        return PastNight(night=afternoon.night, came_c=afternoon.came_c)
    low, worst, came = record.site_low, record.worst, afternoon.came_c
    return PastNight(
        night=afternoon.night,
        is_judged=True,
        source_c=record.low_c,
        low_c=None if low is None else low.low_c,
        sigma_c=None if low is None else _sigma_c(low),
        chance=0.0 if worst is None else worst.probability or 0.0,
        is_ready=any(subject in said for subject in _READY),
        is_called=Subject.ACT in said,
        came_c=came,
        harms=() if came is None else harms_of(record, nights.farm, site_low, came),
    )


def _sigma_c(low: SiteLow) -> float:
    """Return the standard error of the site's low. [degC]"""
    return float(np.hypot(low.sigma_c, low.site_sigma_c))


def with_pairs(
    afternoons: Sequence[Afternoon], pairs: Sequence[ForecastObservation]
) -> list[Afternoon]:
    """Return afternoons that know other pairs, each those of the nights before it."""
    return [
        replace(item, pairs=tuple(pair for pair in pairs if pair.night < item.night))
        for item in afternoons
    ]
