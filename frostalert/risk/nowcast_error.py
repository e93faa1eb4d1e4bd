"""What a site's nights say of the nowcast: what it guessed, and the low that came."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta

from frostalert.model.forecast import ForecastRun
from frostalert.model.hours import NightWindow
from frostalert.model.learned import Learned, NowcastPair
from frostalert.model.reading import Reading, SensorKind
from frostalert.model.site import Farm, Site
from frostalert.physics.nights import night_sun
from frostalert.risk.learning import observed_low_c
from frostalert.risk.nowcast import GUESSED_AFTER, AirAt, night_at, nowcast_in
from frostalert.risk.site_hours import prepare_site_hours
from frostalert.risk.source_bias import cautious_c

VERSION = 1
_NEAR_ENOUGH = timedelta(minutes=30)
_PRIOR_NIGHTS = 4.0
"""Nights' worth of belief that the nowcast is right here. [nights] Common practice, no
source."""
MOST_MISSED_C = 6.0
"""Most that one night teaches, three times the usual error: beyond, other air came in.
[degC] Common practice, no source; `tests.evaluation.nowcast` prints the error."""


def nowcast_error(pairs: Iterable[NowcastPair], night: date) -> Learned:
    """Return by how much the nowcasts of a site miss, as the nights before one say.

    Parameters
    ----------
    pairs : iterable of NowcastPair
        All that is known. What another way to guess missed does not count.
    night : date
        The night to be judged.

    Returns
    -------
    Learned
        The mean error, shrunk as if four nights without any had come first. Colder
        errors apply as learned, warmer ones late and in part.

    Examples
    --------
    >>> short = NowcastPair(
    ...     night=date(2026, 4, 1), guess_c=1.0, low_c=-1.0, version=VERSION
    ... )
    >>> nowcast_error([short], date(2026, 4, 2)).applied_c
    -0.4
    """
    errors = [
        min(max(pair.error_c, -MOST_MISSED_C), MOST_MISSED_C)
        for pair in pairs
        if pair.version == VERSION and pair.night < night
    ]
    # The mean, times n / (n + 4).
    bias = sum(errors) / (len(errors) + _PRIOR_NIGHTS)
    return Learned(
        bias_c=bias,
        applied_c=cautious_c(bias, len(errors)),
        sigma_c=None,
        nights=len(errors),
    )


def guess_moment(site: Site, window: NightWindow) -> datetime | None:
    """Return when the guess of a night is made that the site learns by.

    None where the sun does not set.
    """
    sunset, _ = night_sun(window, site.latitude, site.longitude)
    return None if sunset is None else sunset + GUESSED_AFTER


def nowcast_pair(
    run: ForecastRun, farm: Farm, readings: Sequence[Reading], moment_utc: datetime
) -> NowcastPair | None:
    """Return what the nowcast guessed of a night that is over, and the low that came.

    Parameters
    ----------
    run : ForecastRun
        The forecast as it was at the moment.
    farm : Farm
        Its sensors: the reference counts, and a treated one says nothing.
    readings : sequence of Reading
        Readings of the night and around it, the oldest first.
    moment_utc : datetime
        When the guess was to be made.

    Returns
    -------
    NowcastPair or None
        None where the night was not forecast clear and calm, and where the thermometer
        did not read at sunset, at the moment and until dawn.

    Raises
    ------
    PhysicsDomainError
        If the forecast holds values outside what the formulas hold for.
    """
    now = _nearest(farm, readings, moment_utc)
    if now is None:
        return None
    own = [item for item in readings if item.sensor == now.sensor]
    shared = prepare_site_hours(run, farm.site, moment_utc)
    night = night_at(shared, now.at_utc)
    guess = nowcast_in(shared, _air_at(now), _believed(own))
    # The forecast's air at sunset would add its own error, which is learned elsewhere.
    if night is None or guess is None or not guess.has_own_sunset:
        return None
    low = observed_low_c(own, farm, night)
    if low is None:
        return None
    return NowcastPair(
        night=night.window.night, guess_c=guess.low_c(), low_c=low, version=VERSION
    )


def _nearest(
    farm: Farm, readings: Sequence[Reading], moment_utc: datetime
) -> Reading | None:
    """Return the reference sensor's reading nearest to a moment, if it is near."""
    names = {
        sensor.name
        for sensor in farm.sensors
        if sensor.kind is SensorKind.REFERENCE and not sensor.is_treated
    }
    near = [
        item
        for item in readings
        if item.sensor in names
        and item.problem is None
        and abs(item.at_utc - moment_utc) <= _NEAR_ENOUGH
    ]
    return min(near, key=lambda item: abs(item.at_utc - moment_utc), default=None)


def _believed(readings: Sequence[Reading]) -> list[AirAt]:
    """Return what was read and believed: a reference sensor's air is the site's."""
    return [_air_at(item) for item in readings if item.problem is None]


def _air_at(reading: Reading) -> AirAt:
    return AirAt(at_utc=reading.at_utc, air_c=reading.air_c)
