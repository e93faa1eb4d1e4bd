"""The night's low from a thermometer, against simpler ways to guess it.

    python -m tests.evaluation.nowcast
    python -m tests.evaluation.nowcast --hours FILE [FILE ...]

Five places whose real hours come with packages (`stations.py`). Whatever is fitted is
fitted to the other places, each of them counting as much: **held out by station**; the
three airports of New York, which share their nights, are one place. "With its own past"
is the curve as the program corrects it: night by night, in the order of the year, by
what it missed at that station before. With files (EPW, or test reference years of the
German weather service) these are places that the program's coefficients have not seen.

Errors are of the low, from the moment of the reading on: RMSE of each place, averaged
over the places; of cold nights, which are few at each place, of all nights together.
"""

import argparse
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from frostalert.model.forecast import FloatArray
from frostalert.model.learned import NowcastPair
from frostalert.physics.cooling import FITTED, SQUARE_ROOT, Cooling, fall_terms
from frostalert.risk.nowcast_error import VERSION, nowcast_error
from tests.evaluation.clear_nights import (
    AFTER_SUNSET,
    NO_ERRORS,
    ClearNight,
    ForecastErrors,
    Guess,
    clear_nights,
)
from tests.evaluation.stations import (
    AIRPORTS,
    Station,
    load_airport,
    load_greensboro,
    load_mannheim,
    load_miami,
    load_sand_point,
    read_hours,
)

SHOWN = (
    AFTER_SUNSET,
    "6 h before sunrise",
    "4 h before sunrise",
    "2 h before sunrise",
)
FROST_C = (0.0, 3.0)
ERRING = ForecastErrors(sunset_air_c=1.5, dewpoint_c=2.0)
"""A forecast's errors at sunset and at the reading. [degC] Common practice, no
source."""
FAR_C = 2.0
ROOT, CURVE, OWN = "square root", "curve", "curve with its own past"
WAYS = ("persistence", "straight line", "mean of other places", ROOT, CURVE, OWN)

Places = dict[str, list[ClearNight]]


def carried() -> dict[str, list[Station]]:
    """Return the places whose hours the test libraries carry."""
    return {
        "Greensboro NC": [load_greensboro()],
        "New York airports": [load_airport(code) for code in AIRPORTS],
        "Mannheim": [load_mannheim()],
        "Sand Point AK": [load_sand_point()],
        "Miami FL": [load_miami()],
    }


def tried(
    stations: dict[str, list[Station]],
    errors: ForecastErrors = NO_ERRORS,
    *,
    reads_at_sunset: bool = True,
) -> Places:
    """Return the clear calm nights of each place that has any."""
    found = {
        place: clear_nights(place, own, errors=errors, reads_at_sunset=reads_at_sunset)
        for place, own in stations.items()
    }
    return {place: nights for place, nights in found.items() if nights}


def fit(places: Places) -> Cooling:
    """Return the curve fitted to all moments of all places, each counting as much."""
    matrices, targets = [], []
    for nights in places.values():
        guesses = [g for night in nights for g in night.guesses.values()]
        each = len(guesses) ** -0.5
        rows = [
            fall_terms(n.depression_c, n.fall_c, n.since_sunset_h, n.ahead_h)
            for n in (guess.nowcast for guess in guesses)
        ]
        matrices.append(each * np.array(rows))
        targets.append(each * np.array([guess.fall_c for guess in guesses]))
    found, *_ = np.linalg.lstsq(np.vstack(matrices), np.concatenate(targets))
    by_itself, dryness, past = (round(float(value), 3) for value in found)
    return Cooling(
        per_root_hour_c=by_itself, per_depression=dryness, per_past_fall=past
    )


def errors_of(
    nights: Sequence[ClearNight], moment: str, others: Places, cooling: Cooling
) -> dict[str, tuple[FloatArray, FloatArray]]:
    """Return for each way the errors of a place's nights, and their lows. [degC]"""
    guesses = {n: n.guesses[moment] for n in nights if moment in n.guesses}
    usual_c = float(np.mean([_mean_fall_c(own, moment) for own in others.values()]))
    told: dict[str, list[float]] = {way: [] for way in WAYS}
    taught = _lessons(nights, cooling)
    for night, guess in guesses.items():
        cast = guess.nowcast
        own_c = nowcast_error(taught[night.station], night.night).applied_c
        told["persistence"].append(cast.air_c)
        told["straight line"].append(cast.air_c - _line_c(guess))
        told["mean of other places"].append(cast.air_c - usual_c)
        told[ROOT].append(cast.low_c(cooling=SQUARE_ROOT))
        told[CURVE].append(cast.low_c(cooling=cooling))
        told[OWN].append(cast.low_c(own_c, cooling))
    came = np.array([g.nowcast.air_c - g.fall_c for g in guesses.values()])
    lows = np.array([night.low_c for night in guesses])
    return {way: (came - np.array(own), lows) for way, own in told.items()}


def _mean_fall_c(nights: Sequence[ClearNight], moment: str) -> float:
    """Return how far the air of a place falls from a moment on. [degC]"""
    falls = [n.guesses[moment].fall_c for n in nights if moment in n.guesses]
    return float(np.mean(falls))


def _line_c(guess: Guess) -> float:
    """Return the fall if the air goes on as in the last two hours. [degC]"""
    return max(0.0, -guess.trend_c_per_h * guess.nowcast.ahead_h)


def _lessons(
    nights: Sequence[ClearNight], cooling: Cooling
) -> dict[str, list[NowcastPair]]:
    """Return what the nights of each station teach the program."""
    found: dict[str, list[NowcastPair]] = {}
    for night in nights:
        pair = NowcastPair(
            night=night.night,
            guess_c=night.guesses[AFTER_SUNSET].nowcast.low_c(cooling=cooling),
            low_c=night.read_low_c,
            version=VERSION,
        )
        found.setdefault(night.station, []).append(pair)
    return found


@dataclass(frozen=True, slots=True)
class Line:
    """One row of a table: what was tried, and each way's RMSE. [degC]"""

    title: str
    places: int
    nights: int
    rmse_c: dict[str, float]
    far_share: float
    """Share of nights that fell over 2 degC further than the curve with its own past
    told."""


def _rmse(errors: FloatArray) -> float:
    return float(np.sqrt((errors**2).mean()))


def lines(
    places: Places,
    fitted_to: Places,
    cooling_for: Callable[[str], Cooling],
    is_counted: Callable[[FloatArray], FloatArray] | None = None,
) -> Iterator[Line]:
    """Return a line a moment: every place alike, or of all nights with some lows."""
    for moment in SHOWN:
        found = {
            place: errors_of(
                nights,
                moment,
                {name: own for name, own in fitted_to.items() if name != place},
                cooling_for(place),
            )
            for place, nights in places.items()
        }
        by_way: dict[str, list[FloatArray]] = {way: [] for way in WAYS}
        for ways in found.values():
            for way, (errors, lows) in ways.items():
                kept = errors if is_counted is None else errors[is_counted(lows)]
                by_way[way].append(kept)
        if is_counted is not None:
            by_way = {way: [np.concatenate(own)] for way, own in by_way.items()}
        far = np.concatenate(by_way[OWN]) < -FAR_C
        yield Line(
            title=moment,
            places=len(places),
            nights=far.size,
            rmse_c={
                way: float(np.mean([_rmse(errors) for errors in own]))
                for way, own in by_way.items()
            },
            far_share=float(far.mean()),
        )


def is_frosty(lows_c: FloatArray) -> FloatArray:
    """Return which lows lie between 0 and 3 degC."""
    return np.asarray((lows_c >= FROST_C[0]) & (lows_c <= FROST_C[1]))


@lru_cache(maxsize=1)
def carried_nights() -> Places:
    """Return the nights of the places that come with packages."""
    return tried(carried())


@lru_cache(maxsize=8)
def held_out(place: str) -> Cooling:
    """Return the curve fitted to all carried places but one."""
    nights = carried_nights()
    return fit({name: own for name, own in nights.items() if name != place})


def by_place(places: Places, cooling_for: Callable[[str], Cooling]) -> Iterator[Line]:
    """Return each place's line, two hours after sunset."""
    for place, nights in places.items():
        for line in lines({place: nights}, carried_nights(), cooling_for):
            if line.title == AFTER_SUNSET:
                yield Line(place, 1, line.nights, line.rmse_c, line.far_share)


def tables(files: Sequence[Path]) -> Iterator[tuple[str, Iterator[Line]]]:
    """Return every table, with its title."""
    nights = carried_nights()
    yield "held out by station", lines(nights, nights, held_out)
    yield (
        "held out by station, lows of 0 to 3 degC",
        lines(nights, nights, held_out, is_frosty),
    )
    late = tried(carried(), ERRING, reads_at_sunset=False)
    yield (
        "held out by station, read only after sunset, and the forecast errs",
        lines(late, nights, held_out),
    )
    yield f"held out by station, {AFTER_SUNSET}", by_place(nights, held_out)
    if not files:
        return
    unseen = tried({s.name: [s] for s in map(read_hours, files)})
    yield "unseen places", lines(unseen, nights, lambda _: FITTED)
    yield (
        "unseen places, lows of 0 to 3 degC",
        lines(unseen, nights, lambda _: FITTED, is_frosty),
    )
    yield f"unseen places, {AFTER_SUNSET}", by_place(unseen, lambda _: FITTED)


def main(arguments: list[str] | None = None) -> int:
    """Print the tables and the coefficients of all carried places."""
    parser = argparse.ArgumentParser(prog="python -m tests.evaluation.nowcast")
    parser.add_argument(
        "--hours", type=Path, nargs="+", default=[], metavar="FILE", help="more places"
    )
    given = parser.parse_args(arguments)
    heads = " | ".join(WAYS)
    for title, rows in tables(given.hours):
        sys.stdout.write(f"\n{title}; RMSE [degC]\n")
        sys.stdout.write(f"from | places | nights | {heads} | over 2 C further\n")
        for line in rows:
            values = " | ".join(f"{line.rmse_c[way]:.2f}" for way in WAYS)
            sys.stdout.write(
                f"{line.title} | {line.places} | {line.nights} | {values} | "
                f"{100.0 * line.far_share:.0f} %\n"
            )
    sys.stdout.write(f"\nfitted to all carried places: {fit(carried_nights())}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
