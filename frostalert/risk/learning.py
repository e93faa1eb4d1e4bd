"""Learn a site's habitual error: shrunk, resistant to one bad night, colder for sure.

The version of the rules stands with every pair, so that a later way of learning can
tell what it may use.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from frostalert.model.assessment import NightKind
from frostalert.model.forecast import FloatArray, ForecastRun
from frostalert.model.hours import SiteHours, SiteNight
from frostalert.model.learned import ForecastObservation, Learned
from frostalert.model.nights import Term, TermName
from frostalert.model.reading import Reading, SensorKind
from frostalert.model.site import Farm, Rules
from frostalert.physics.nights import darkness
from frostalert.risk.lost_minimum import usual_deficits
from frostalert.risk.site_hours import dark_hours, prepare_site_hours
from frostalert.risk.terms import corrected

VERSION = 1
PRIOR_NIGHTS = 3.0
"""Nights' worth of belief that there is no bias. [1] Common practice, no source."""
PRIOR_SIGMA_NIGHTS = 5.0
"""Nights' worth of belief in the error of the rules. [1] Common practice, no source."""
ENOUGH_NIGHTS = 10
"""Nights from which a warmer correction, and a smaller error, are believed. [1] Common
practice, no source."""
WARMER_SHARE, MOST_WARMER_C = 0.5, 1.0
"""Share of a warmer correction that counts, and its most. [1, degC] Common practice, no
source."""
LEAST_SIGMA_C = 1.0
"""Error below which none is believed. [degC] Common practice, no source."""
_BEND = 1.345
"""Huber's constant: errors beyond that many standard errors are pulled in. [1]"""
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
    return sorted(item.air_c for item in own)[1]


def night_pair(
    run: ForecastRun, farm: Farm, readings: Sequence[Reading], at_utc: datetime
) -> ForecastObservation | None:
    """Return what an evening's forecast and the morning say of one night.

    Raises
    ------
    PhysicsDomainError
        If the forecast holds values outside what the formulas hold for.
    """
    source_hours = prepare_site_hours(run, farm.site, at_utc)
    # What stands in for a lost minimum is no error of the source's to be learned.
    lost = usual_deficits(source_hours)
    shared = corrected(source_hours, lost.terms)
    night = shared.nights[0]
    low = observed_low_c(readings, farm, night)
    forecast = _dark_low_c(shared, night)
    if low is None or forecast is None or night.kind is None:
        return None
    return ForecastObservation(
        night=night.window.night,
        source=run.source,
        kind=night.kind,
        forecast_low_c=forecast,
        observed_low_c=low,
    )


def _dark_low_c(shared: SiteHours, night: SiteNight) -> float | None:
    """Return the forecast's low of the hours in which the observed one is looked for.

    A noon that is colder than the night would teach a false lesson. [degC]
    """
    dark = dark_hours(shared, night)
    air = shared.air_c[dark.start : min(dark.stop + 1, night.hours.stop)]
    if not air.size or not np.isfinite(air).all():
        return night.low_c
    return float(air.min())


def learn(
    pairs: Sequence[ForecastObservation], source: str, kind: NightKind, rules: Rules
) -> Learned:
    """Return what a source's error on one kind of night is worth.

    Parameters
    ----------
    pairs : sequence of ForecastObservation
        All nights of the site.
    source : str
        The source.
    kind : NightKind
        The kind of night.
    rules : Rules
        Holds the error that is believed before anything is learned. [degC]

    Returns
    -------
    Learned
        Nothing is applied without nights.

    References
    ----------
    .. [1] Huber, "Robust estimation of a location parameter," Ann. Math. Statist. 35,
       1964, 73-101: one wild night moves the mean by no more than a bent one.
    .. [2] Shrinkage towards zero as the posterior mean of a normal mean with a normal
       prior.

    Examples
    --------
    >>> learn((), "nws", NightKind.RADIATION, Rules()).applied_c
    0.0
    """
    errors = np.array(
        [pair.error_c for pair in pairs if (pair.source, pair.kind) == (source, kind)]
    )
    count = errors.size
    if not count:
        return Learned(bias_c=0.0, applied_c=0.0, sigma_c=None, nights=0)
    centre = _bent_mean(errors, rules.sigma_c)
    bias = centre * count / (count + PRIOR_NIGHTS)
    left = np.clip(errors - centre, -3.0 * rules.sigma_c, 3.0 * rules.sigma_c)
    squares = float((left**2).sum()) + PRIOR_SIGMA_NIGHTS * rules.sigma_c**2
    # The mean itself is not known exactly: it adds its own error.
    sigma = np.sqrt(squares / (count + PRIOR_SIGMA_NIGHTS) * (1.0 + 1.0 / count))
    is_enough = count >= ENOUGH_NIGHTS
    return Learned(
        bias_c=float(bias),
        applied_c=_applied_c(float(bias), is_enough=is_enough),
        sigma_c=max(LEAST_SIGMA_C, float(sigma)) if is_enough else None,
        nights=int(count),
    )


def _applied_c(bias_c: float, *, is_enough: bool) -> float:
    """Return what of a bias is counted: colder as learned, warmer with care. [degC]"""
    if bias_c <= 0.0:
        return bias_c
    return min(WARMER_SHARE * bias_c, MOST_WARMER_C) if is_enough else 0.0


def _bent_mean(errors: FloatArray, scale_c: float) -> float:
    """Return Huber's mean of some errors. [degC]"""
    centre = float(np.median(errors))
    for _ in range(50):
        away = np.clip(errors - centre, -_BEND * scale_c, _BEND * scale_c)
        step = float(away.mean())
        centre += step
        if abs(step) < 1e-6:  # noqa: PLR2004 - close enough, in degC
            break
    return centre


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteLesson:
    """What a site's past nights say of the coming ones.

    Attributes
    ----------
    terms : tuple of Term
        One for each night whose air is corrected.
    rules : Rules
        With the error that is left, by the kind of the present night.
    notes : tuple of str
        What was learned, in words.
    """

    terms: tuple[Term, ...]
    rules: Rules
    notes: tuple[str, ...] = ()


def site_lesson(
    shared: SiteHours, rules: Rules, pairs: Sequence[ForecastObservation]
) -> SiteLesson:
    """Return what the site's habitual error adds to each coming night."""
    own = [pair for pair in pairs if pair.source == shared.run.source]
    if not own:
        return SiteLesson(terms=(), rules=rules)
    known = [
        None if night.kind is None else learn(own, shared.run.source, night.kind, rules)
        for night in shared.nights
    ]
    terms = tuple(
        _term(shared, night, lesson)
        for night, lesson in zip(shared.nights, known, strict=True)
        if lesson is not None and lesson.applied_c
    )
    present, kind = known[0], shared.nights[0].kind
    if present is None or kind is None:
        return SiteLesson(terms=terms, rules=rules)
    return SiteLesson(
        terms=terms,
        rules=replace(rules, sigma_c=present.sigma_c or rules.sigma_c),
        notes=tuple(_note(present, kind)),
    )


def _term(shared: SiteHours, night: SiteNight, lesson: Learned) -> Term:
    """Return what is learned for a night, in its dark hours."""
    weights = np.zeros(shared.air_c.size)
    weights[night.hours] = _dark(shared.run, night)
    nights = "1 night" if lesson.nights == 1 else f"{lesson.nights} nights"
    return Term(
        name=TermName.LEARNED,
        value_c=lesson.applied_c,
        weights=weights,
        origin=f"{night.kind}, {nights}",
        night=night.window.night,
    )


def _dark(run: ForecastRun, night: SiteNight) -> FloatArray:
    """Return how far each hour of a night counts as night, 0 to 1."""
    first = run.hours.first_utc + night.hours.start * timedelta(hours=1)
    count = night.hours.stop - night.hours.start
    return darkness(first, count, night.sunset_utc, night.sunrise_utc)


def _note(known: Learned, kind: NightKind) -> list[str]:
    """Return what was learned, in words."""
    if not known.nights:
        return []
    way = "below" if known.bias_c < 0.0 else "above"
    nights = "1 night" if known.nights == 1 else f"{known.nights} nights"
    size = abs(known.bias_c)
    counted = (
        "counted in"
        if known.applied_c == known.bias_c
        else f"{known.applied_c:+.1f} C of it counted in"
    )
    return [
        f"this site runs {size:.1f} C ({size * 1.8:.1f} F) {way} this forecast on "
        f"nights of this kind ({kind.value}; {nights}): {counted}"
    ]
