"""What the readings that are believed do to the coming hours."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import lru_cache
from math import isfinite

import numpy as np

from frostalert.model.forecast import HOUR, FloatArray
from frostalert.model.hours import SiteHours
from frostalert.model.learned import Learned, NowcastPair
from frostalert.model.nights import Nights, Term, TermName
from frostalert.model.reading import ExpectedAir, Reading, Sensor, SensorKind
from frostalert.model.site import Farm
from frostalert.risk.block_hours import full_weight_delta_c
from frostalert.risk.nowcast import AirAt, Nowcast, night_at, nowcast_in, value_at
from frostalert.risk.nowcast_error import nowcast_error
from frostalert.risk.reading_checks import MOST_LONE_COLDER_C

OLD = timedelta(hours=6)
"""Age from which a reading says nothing of the coming hours. Common practice, no
source."""
_TOGETHER = timedelta(hours=2)
"""Readings of one sensor this close to its newest one count, the coldest of them."""
AGAIN_AFTER = timedelta(minutes=10)
"""After this the same thermometer, read again, bears its first reading out. Common
practice, no source."""
LONE_LOWEST_C = -5.0
"""Down to this one reading alone is enough, however far below the forecast: whoever is
called by it looks. [degC] Common practice, no source."""
_BORNE_OUT = 0.5
FADE = timedelta(hours=6)
"""Time in which what a reading corrects fades to a third. Common practice, no
source."""
_HALF_H = 0.5
LEAST_STEP_C = 0.5
"""Difference below which a reading changes nothing. [degC] Common practice, no
source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """What a reading says against the forecast.

    Attributes
    ----------
    bias_c : float
        Reading less what the forecast makes of that place and hour. [degC]
    is_bounded : bool
        Whether it is bounded until a second reading bears it out.
    is_unconfirmed : bool
        Whether it is so far below what was expected that a second one must bear it out
        before it takes anything out of a plan.
    """

    reading: Reading
    bias_c: float
    is_bounded: bool = False
    is_unconfirmed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingEffect:
    """What the readings of the last hours do to the coming ones.

    Attributes
    ----------
    terms : tuple of Term
        By how much each hour is lowered; none where nothing is.
    corrections : tuple of Correction
        What each reading says against the forecast.
    notes : tuple of str
        What was done, in words.
    """

    terms: tuple[Term, ...] = ()
    corrections: tuple[Correction, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def unconfirmed(self) -> tuple[Reading, ...]:
        """What nobody has borne out yet."""
        return tuple(i.reading for i in self.corrections if i.is_unconfirmed)


def expected_air(nights: Nights) -> tuple[ExpectedAir, ...]:
    """Return what each thermometer should read, hour by hour, by the forecast alone."""
    shared = nights.site_hours
    if shared is None:
        return ()
    names = (TermName.READING, TermName.NOWCAST)
    read = [term for term in nights.terms if term.name in names]
    air = shared.air_c - sum(term.value_c * term.weights for term in read)
    return tuple(
        ExpectedAir(
            sensor=sensor.name,
            first_utc=shared.run.hours.first_utc,
            air_c=_told((air + shelter_c(shared, nights.farm, sensor)).tobytes()),
        )
        for sensor in nights.farm.sensors
        if _stands_for_air(sensor)
    )


# Each look keeps what a thermometer should read; it seldom changes.
@lru_cache(maxsize=8)
def _told(air_c: bytes) -> tuple[float | None, ...]:
    """Return hours of air as they are kept, to the hundredth. [degC]"""
    return tuple(
        round(value, 2) if isfinite(value) else None
        for value in np.frombuffer(air_c).tolist()
    )


def _stands_for_air(sensor: Sensor) -> bool:
    """Return whether a thermometer stands for open air that nothing warms or wets."""
    return not sensor.is_treated and sensor.kind is not SensorKind.EXPOSED


def reading_effect(
    shared: SiteHours,
    farm: Farm,
    readings: Sequence[Reading],
    now_utc: datetime,
    nowcasts: Sequence[NowcastPair] = (),
) -> ReadingEffect:
    """Return by how much the readings lower the coming hours.

    What is colder than forecast counts, fading; on a clear calm night the cooling curve
    from the reading to sunrise counts as well, corrected by what past ones missed here.
    What is warmer changes nothing before the morning: a warm thermometer must not call
    anybody off.

    The sensor that is coldest against the forecast counts.
    """
    found = [
        correction
        for sensor, reading in _recent(readings, farm, now_utc)
        if (correction := _correction(shared, farm, sensor, reading)) is not None
    ]
    if not found:
        return ReadingEffect()
    found = [_bounded_by_doubt(item, found) for item in found]
    worst = min(found, key=lambda item: item.bias_c)
    curve = _curve(shared, farm, readings, worst)
    taught = _taught(shared, worst, nowcasts)
    plain = _lowered(shared, worst, curve, 0.0)
    with_error = _lowered(shared, worst, curve, taught.applied_c)
    sensor_name, nights = worst.reading.sensor, _nights_word(taught)
    read = _terms(TermName.READING, shared.air_c, plain, sensor_name)
    missed = _terms(TermName.NOWCAST, plain, with_error, f"{sensor_name}, {nights}")
    is_lower = bool(np.nan_to_num(with_error - shared.air_c).any())
    notes = [_note(worst)] if is_lower else []
    return ReadingEffect(
        terms=(*read, *missed),
        corrections=tuple(found),
        notes=(*notes, *(_missed_note(taught) for _ in missed)),
    )


def _taught(
    shared: SiteHours, worst: Correction, nowcasts: Sequence[NowcastPair]
) -> Learned:
    """Return what the nights before a reading's own say of the nowcast here."""
    night = night_at(shared, worst.reading.at_utc)
    if night is None:
        return nowcast_error((), date.min)
    return nowcast_error(nowcasts, night.window.night)


def _terms(
    name: TermName, before_c: FloatArray, after_c: FloatArray, origin: str
) -> tuple[Term, ...]:
    """Return a correction that takes the air from one curve to another, if any does."""
    change = np.nan_to_num(after_c - before_c)
    value = float(change[np.abs(change).argmax()])
    if not value:
        return ()
    return (Term(name=name, value_c=value, weights=change / value, origin=origin),)


def _bounded_by_doubt(item: Correction, found: Sequence[Correction]) -> Correction:
    """Return a correction that no single reading drives beyond what is likely."""
    if _is_borne_out(item, found):
        return item
    expected_c = item.reading.air_c - item.bias_c
    bound = min(-MOST_LONE_COLDER_C, LONE_LOWEST_C - expected_c)
    if item.bias_c >= bound:
        return replace(item, is_unconfirmed=True)
    return replace(item, bias_c=bound, is_bounded=True, is_unconfirmed=True)


def _is_borne_out(item: Correction, found: Sequence[Correction]) -> bool:
    """Return whether a reading is near the forecast, or another one is far off too."""
    return item.bias_c >= -MOST_LONE_COLDER_C or any(
        _is_second(other.reading, item.reading)
        and other.bias_c <= _BORNE_OUT * item.bias_c
        for other in found
    )


def _is_second(other: Reading, reading: Reading) -> bool:
    """Return whether one reading is a second look, not the first one typed again."""
    apart = abs(other.at_utc - reading.at_utc)
    return other.sensor != reading.sensor or apart >= AGAIN_AFTER


def _recent(
    readings: Sequence[Reading], farm: Farm, now_utc: datetime
) -> list[tuple[Sensor, Reading]]:
    """Return the believed readings of late, of sensors that stand for open air.

    Not the newest alone: a warmer one must not call off what a colder one has shown. A
    sensor that has fallen silent is still heard; what it said fades.
    """
    usable = {sensor.name: sensor for sensor in farm.sensors if _stands_for_air(sensor)}
    believed = [
        reading
        for reading in readings
        if reading.problem is None
        and reading.sensor in usable
        and timedelta(0) <= now_utc - reading.at_utc <= OLD
    ]
    newest = {
        name: max(item.at_utc for item in believed if item.sensor == name)
        for name in {item.sensor for item in believed}
    }
    return [
        (usable[reading.sensor], reading)
        for reading in believed
        if newest[reading.sensor] - reading.at_utc <= _TOGETHER
    ]


def _correction(
    shared: SiteHours, farm: Farm, sensor: Sensor, reading: Reading
) -> Correction | None:
    """Return what one reading says against the forecast."""
    place = (reading.at_utc - shared.run.hours.first_utc) / HOUR
    expected = value_at(shared.air_c, place)
    if expected is None:
        return None
    offset = value_at(shelter_c(shared, farm, sensor), place) or 0.0
    return Correction(reading=reading, bias_c=reading.air_c - offset - expected)


def shelter_c(shared: SiteHours, farm: Farm, sensor: Sensor) -> FloatArray:
    """Return how much a sensor's place differs from the site's air. [degC]"""
    block = next((b for b in farm.blocks if b.name == sensor.block), None)
    if sensor.kind is SensorKind.SHELTERED and block is not None:
        return full_weight_delta_c(block) * shared.weight
    return np.zeros_like(shared.weight)


def _lowered(
    shared: SiteHours, worst: Correction, curve: Nowcast | None, error_c: float
) -> FloatArray:
    """Return the air with its coming hours lowered by the worst correction. [degC]"""
    first = shared.run.hours.first_utc
    place = (worst.reading.at_utc - first) / HOUR
    hours = np.arange(shared.air_c.size, dtype=np.float64)
    air = shared.air_c.copy()
    if worst.bias_c < -LEAST_STEP_C:
        ahead = hours >= place
        fade = np.exp(-(hours - place) * (HOUR / FADE))
        air[ahead] += worst.bias_c * fade[ahead]
    if curve is not None:
        # To the hour nearest to sunrise: the low may lie on either side of it.
        until_sunrise = (hours >= place) & (hours < place + curve.ahead_h + _HALF_H)
        ahead_h = np.minimum(hours[until_sunrise] - place, curve.ahead_h)
        ends = curve.air_after_c(ahead_h, error_c)
        # A gap stays a gap: what is not known must not be filled in by a curve.
        air[until_sunrise] = np.minimum(air[until_sunrise], ends)
    return air


def _curve(
    shared: SiteHours, farm: Farm, readings: Sequence[Reading], worst: Correction
) -> Nowcast | None:
    """Return the cooling curve from a reading to sunrise, both as the site's air."""
    sensor = next(s for s in farm.sensors if s.name == worst.reading.sensor)
    shelter = shelter_c(shared, farm, sensor)
    first = shared.run.hours.first_utc

    def at_site(item: Reading) -> AirAt:
        offset = value_at(shelter, (item.at_utc - first) / HOUR) or 0.0
        return AirAt(at_utc=item.at_utc, air_c=item.air_c - offset)

    # Not the reading itself: what one alone may lower is bounded.
    place = (worst.reading.at_utc - first) / HOUR
    expected = value_at(shared.air_c, place)
    assert expected is not None  # noqa: S101 - asked for in _correction
    now = AirAt(at_utc=worst.reading.at_utc, air_c=expected + worst.bias_c)
    own = [r for r in readings if r.sensor == sensor.name and r.problem is None]
    return nowcast_in(shared, now, [at_site(item) for item in own])


def _missed_note(taught: Learned) -> str:
    """Return what past nowcasts missed here, in words."""
    way = "further" if taught.bias_c < 0.0 else "less far"
    size = abs(taught.bias_c)
    counted = (
        "included"
        if taught.applied_c == taught.bias_c
        else f"{taught.applied_c:+.1f} C of it included"
    )
    return (
        f"on clear calm nights the air here falls {size:.1f} C ({size * 1.8:.1f} F) "
        f"{way} than its cooling after sunset says ({_nights_word(taught)}): {counted}"
    )


def _nights_word(taught: Learned) -> str:
    return "1 night" if taught.nights == 1 else f"{taught.nights} nights"


def _note(worst: Correction) -> str:
    """Return what a reading did to the coming hours, in words."""
    sensor, air_c = worst.reading.sensor, worst.reading.air_c
    if worst.bias_c >= -LEAST_STEP_C:
        return (
            f"the cooling at {sensor} points lower than this forecast: the coming "
            "hours follow it"
        )
    by = f"{-worst.bias_c:.1f} C"
    doubt = ""
    if worst.is_bounded:
        by = f"more than {-worst.bias_c:.0f} C"
        doubt = "; not by all of it until a second reading agrees: look at it now"
    elif worst.is_unconfirmed:
        doubt = "; nothing is taken out of the plan until a second one agrees"
    return (
        f"{sensor} read {air_c:.1f} C ({air_c * 1.8 + 32:.0f} F), {by} colder than "
        f"this forecast: the coming hours are lowered by it{doubt}"
    )
