"""What a site's nights say of a source: pairs of forecast and reading.

The version of the rules stands with every pair, so that a later way of learning can
tell what it may use.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache
from math import isfinite

import numpy as np

from frostalert.model.assessment import NightKind
from frostalert.model.forecast import FloatArray, ForecastRun
from frostalert.model.hours import SiteHours, SiteNight
from frostalert.model.learned import (
    ForecastObservation,
    LeadClass,
    Learned,
    PairOrigin,
)
from frostalert.model.nights import Term, TermName
from frostalert.model.reading import Reading, SensorKind
from frostalert.model.site import Farm, Rules, Site
from frostalert.risk.lost_minimum import usual_deficits
from frostalert.risk.site_hours import dark_hours, prepare_site_hours
from frostalert.risk.source_bias import lead_class, learn_source_bias
from frostalert.risk.terms import corrected
from frostalert.risk.uncertainty import unlearned_error_c

VERSION = 2
_BEFORE_DAWN = timedelta(hours=4)
_LEAST_READINGS = 4


def observed_low_c(
    readings: Sequence[Reading], farm: Farm, night: SiteNight
) -> float | None:
    """Return the low of a night by the reference sensor.

    Parameters
    ----------
    readings : sequence of Reading
        Readings of the night and around it.
    farm : Farm
        Its sensors: a treated one says nothing.
    night : SiteNight
        The night.

    Returns
    -------
    float or None
        The second lowest reading between sunset and an hour past sunrise. [degC] None
        where the last hours before dawn are not covered: half a night's low is none.

    References
    ----------
    .. [1] Common practice, no source: the second lowest stands against a single wild
       reading.
    """
    names = {
        sensor.name
        for sensor in farm.sensors
        if sensor.kind is SensorKind.REFERENCE and not sensor.is_treated
    }
    dusk, dawn = night.sunset_utc, night.sunrise_utc
    if dusk is None or dawn is None:
        return None
    own = [
        item
        for item in readings
        if item.sensor in names
        and item.problem is None
        and dusk <= item.at_utc <= dawn + timedelta(hours=1)
    ]
    late = [item for item in own if item.at_utc >= dawn - _BEFORE_DAWN]
    if len(late) < _LEAST_READINGS:
        return None
    return low_of([item.air_c for item in own])


def low_of(air_c: Sequence[float]) -> float:
    """Return the low of a night's readings, two at least.

    Parameters
    ----------
    air_c : sequence of float
        Readings. [degC]

    Returns
    -------
    float
        The second lowest, which stands against a single wild one. [degC]

    Examples
    --------
    >>> low_of([2.0, -9.0, -1.0, 0.0])
    -1.0
    """
    return sorted(air_c)[1]


def night_pair(
    run: ForecastRun,
    farm: Farm,
    readings: Sequence[Reading],
    at_utc: datetime,
    night: date | None = None,
) -> ForecastObservation | None:
    """Return what a forecast, as it was at a moment, and the morning say of one night.

    The night that the moment lies in, or a later one.

    Raises
    ------
    PhysicsDomainError
        If the forecast holds values outside what the formulas hold for.
    """
    shared = _as_sent(run, farm.site, at_utc)
    night = night or shared.nights[0].window.night
    ahead = (night - shared.nights[0].window.night).days
    found = next((n for n in shared.nights if n.window.night == night), None)
    if found is None or found.kind is None:
        return None
    low = observed_low_c(readings, farm, found)
    forecast = dark_low_c(shared, found)
    if low is None or forecast is None:
        return None
    return ForecastObservation(
        night=night,
        source=run.source,
        lead=lead_class(ahead),
        kind=found.kind,
        forecast_low_c=forecast,
        observed_low_c=low,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastLow:
    """What a forecast made of one night: kind, and low of the dark hours. [degC]"""

    night: date
    kind: NightKind
    low_c: float


def forecast_lows(run: ForecastRun, farm: Farm, at_utc: datetime) -> list[ForecastLow]:
    """Return what a forecast, as it was at a moment, made of each night.

    Raises
    ------
    PhysicsDomainError
        If the forecast holds values outside what the formulas hold for.
    """
    shared = _as_sent(run, farm.site, at_utc)
    return [
        ForecastLow(night=night.window.night, kind=night.kind, low_c=low_c)
        for night in shared.nights
        if night.kind is not None and (low_c := dark_low_c(shared, night)) is not None
    ]


# The last three nights are learned from every hour.
@lru_cache(maxsize=64)
def _as_sent(run: ForecastRun, site: Site, at_utc: datetime) -> SiteHours:
    """Return a forecast's hours with nothing learned in them.

    What stands in for a lost minimum is no error of the source's to be learned.
    """
    source_hours = prepare_site_hours(run, site, at_utc)
    return corrected(source_hours, usual_deficits(source_hours).terms)


def dark_low_c(shared: SiteHours, night: SiteNight) -> float | None:
    """Return the forecast's low of the dark hours, or what stands for them. [degC]

    A noon that is colder than the night would teach a false lesson.
    """
    dark = dark_hours(shared, night)
    air = shared.air_c[dark.start : min(dark.stop + 1, night.hours.stop)]
    lowest = float(air.min(initial=np.inf))
    # One missing hour makes it NaN; not an hour leaves it without an end.
    return lowest if isfinite(lowest) else night.low_c


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteLesson:
    """What a site's past nights say of one source's coming ones.

    Attributes
    ----------
    terms : tuple of Term
        One for each night whose air is corrected.
    learned : tuple of Learned or None
        One a night: None where nothing is known of its kind.
    notes : tuple of str
        What was learned, in words.
    """

    terms: tuple[Term, ...]
    learned: tuple[Learned | None, ...]
    notes: tuple[str, ...] = ()


def site_lesson(
    shared: SiteHours, rules: Rules, pairs: Sequence[ForecastObservation]
) -> SiteLesson:
    """Return what the site's habitual error adds to each coming night."""
    source = shared.run.source
    # By lead and kind once: a season's pairs are many, and each night asks for few.
    alike: dict[tuple[LeadClass, NightKind], list[ForecastObservation]] = {}
    for item in pairs:
        if item.source == source:
            alike.setdefault((item.lead, item.kind), []).append(item)
    known = tuple(
        None
        if night.kind is None
        else learn_source_bias(
            alike.get((lead_class(ahead), night.kind), ()),
            night.window.night,
            source=source,
            lead=lead_class(ahead),
            kind=night.kind,
            sigma_c=unlearned_error_c(ahead, rules),
        )
        for ahead, night in enumerate(shared.nights)
    )
    terms = tuple(
        _term(shared, night, lesson)
        for night, lesson in zip(shared.nights, known, strict=True)
        if lesson is not None and lesson.applied_c
    )
    present, kind = known[0], shared.nights[0].kind
    return SiteLesson(
        terms=terms,
        learned=known,
        notes=()
        if present is None or kind is None
        else tuple(_note(present, kind, _taught(pairs, shared, kind))),
    )


def _taught(
    pairs: Sequence[ForecastObservation], shared: SiteHours, kind: NightKind
) -> list[ForecastObservation]:
    """Return the nights that teach the present one, as `learn_source_bias` has them."""
    wanted = (shared.run.source, lead_class(0), kind)
    present = shared.nights[0].window.night
    return [
        item
        for item in pairs
        if (item.source, item.lead, item.kind) == wanted and item.night < present
    ]


def _term(shared: SiteHours, night: SiteNight, lesson: Learned) -> Term:
    """Return what is learned for a night, in its dark hours."""
    return Term(
        name=TermName.LEARNED,
        value_c=lesson.applied_c,
        weights=dark_weights(shared, night),
        origin=f"{night.kind}, {lesson.words}",
        night=night.window.night,
    )


def dark_weights(shared: SiteHours, night: SiteNight) -> FloatArray:
    """Return how far each hour counts as one of a night's dark ones, 0 to 1."""
    weights = np.zeros(shared.air_c.size)
    weights[night.hours] = shared.dark[night.hours]
    return weights


def _note(
    known: Learned, kind: NightKind, taught: Sequence[ForecastObservation]
) -> list[str]:
    """Return what was learned, in words."""
    if not known.nights:
        return []
    way = "below" if known.bias_c < 0.0 else "above"
    size = abs(known.bias_c)
    counted = (
        "included"
        if known.applied_c == known.bias_c
        else f"{known.applied_c:+.1f} C of it included"
    )
    words = known.words
    lent = [item for item in taught if item.origin is PairOrigin.STATION]
    who = "this site" if len(lent) < len(taught) else "the nearest official station"
    if lent:
        words += f", {_from_station(lent, len(taught))}"
    return [
        f"{who} runs {size:.1f} C ({size * 1.8:.1f} F) {way} this forecast on "
        f"nights of this kind ({kind.value}; {words}): {counted}"
    ]


def _from_station(lent: Sequence[ForecastObservation], count: int) -> str:
    """Return which station lent its nights, in words."""
    last = max(lent, key=lambda item: item.night)
    few = "" if len(lent) == count else f"{len(lent)} of them "
    far = f"{last.distance_km:.0f} km ({last.distance_km / 1.609:.0f} mi) off"
    return f"{few}learned from station {last.station}, {far}"
