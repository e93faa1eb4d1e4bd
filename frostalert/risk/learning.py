"""Learn a site's habitual error: shrunk, resistant to one bad night, colder for sure.

The version of the rules stands with every pair, so that a later way of learning can
tell what it may use.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from frostalert.model.assessment import NightKind
from frostalert.model.forecast import FloatArray, ForecastRun
from frostalert.model.learned import Learned, NightPair
from frostalert.model.reading import Reading, SensorKind
from frostalert.model.site import Holding, Rules
from frostalert.physics.nights import darkness
from frostalert.risk.site_hours import SiteNight, prepare_site_hours

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
    readings: Sequence[Reading], holding: Holding, night: SiteNight
) -> float | None:
    """Return the low of a night by the reference sensor.

    Parameters
    ----------
    readings : sequence of Reading
        Readings of the night and around it.
    holding : Holding
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
    .. [1] Our own rule; the second lowest stands against a single wild reading.
    """
    names = {
        sensor.name
        for sensor in holding.sensors
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
    run: ForecastRun, holding: Holding, readings: Sequence[Reading], at_utc: datetime
) -> NightPair | None:
    """Return what an evening's forecast and the morning say of one night.

    Parameters
    ----------
    run : ForecastRun
        The newest run of one source at `at_utc`.
    holding : Holding
        Site and sensors.
    readings : sequence of Reading
        Readings of the night.
    at_utc : datetime
        Late in the afternoon before the night.

    Returns
    -------
    NightPair or None
        None where either is not known.

    Raises
    ------
    PhysicsDomainError
        If the forecast holds values outside what the formulas hold for.

    References
    ----------
    .. [1] Against the uncorrected low, so that what was learned is not learned again.
    """
    night = prepare_site_hours(run, holding.site, at_utc).nights[0]
    low = observed_low_c(readings, holding, night)
    if low is None or night.low_c is None or night.kind is None:
        return None
    return NightPair(
        night=night.window.night,
        source=run.source,
        kind=night.kind,
        forecast_low_c=night.low_c,
        observed_low_c=low,
    )


def learn(
    pairs: Sequence[NightPair], source: str, kind: NightKind, rules: Rules
) -> Learned:
    """Return what a source's error on one kind of night is worth.

    Parameters
    ----------
    pairs : sequence of NightPair
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


def with_learning(
    run: ForecastRun,
    holding: Holding,
    pairs: Sequence[NightPair],
    now_utc: datetime,
) -> tuple[ForecastRun, Holding]:
    """Return a run with the site's own error counted in, and rules with what is left.

    Parameters
    ----------
    run : ForecastRun
        The forecast.
    holding : Holding
        The grower's side.
    pairs : sequence of NightPair
        What the site's nights taught.
    now_utc : datetime
        The present moment.

    Returns
    -------
    tuple
        The run, each night's dark hours moved by what is learned for its kind, with a
        note; and the holding, whose error is the learned one of the present night.

    Raises
    ------
    PhysicsDomainError
        If the forecast holds values outside what the formulas hold for.

    References
    ----------
    .. [1] The learned bias is added once, here; block offsets come on top.
    """
    own = [pair for pair in pairs if pair.source == run.source]
    if not own:
        return run, holding
    shared = prepare_site_hours(run, holding.site, now_utc)
    air, notes = shared.air_c.copy(), list(run.notes)
    rules = holding.rules
    for place, night in enumerate(shared.nights):
        if night.kind is None:
            continue
        known = learn(own, run.source, night.kind, holding.rules)
        if known.applied_c:
            air[night.hours] += known.applied_c * _dark(run, night)
        if place == 0:
            notes += _note(known, night.kind)
            rules = replace(rules, sigma_c=known.sigma_c or rules.sigma_c)
    # Missing humidity stays missing.
    dew = shared.dewpoint_c
    dew = np.where(np.isfinite(air), np.minimum(dew, air), dew)
    moved = replace(
        run,
        hours=replace(run.hours, air_c=air, dewpoint_c=dew),
        notes=tuple(notes),
    )
    return moved, replace(holding, rules=rules)


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
