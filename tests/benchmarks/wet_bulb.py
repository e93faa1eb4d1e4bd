"""Wet bulb and ice bulb of 100,000 values, beside the plain way and MetPy's own.

    python -m tests.benchmarks.wet_bulb

The plain way solves the same equation by Newton steps on whole arrays that ask MetPy
for every pressure. MetPy's own function, timed on a sample, solves another definition
of the wet bulb (see `physics.humidity`): there the comparison is of time only. The two
ways take turns, and the best of many rounds counts: others use the machine too.
"""

import time
from collections.abc import Callable
from functools import partial
from typing import NamedTuple

import numpy as np
from metpy.calc import wet_bulb_temperature
from metpy.units import units

from frostalert.model.forecast import FloatArray
from frostalert.physics.humidity import (
    PSYCHROMETER_ICE_PER_C,
    PSYCHROMETER_WATER_PER_C,
    dewpoint_c,
    ice_bulb_c,
    wet_bulb_c,
)
from frostalert.physics.saturation import ICE, WATER, ZERO_C_K, saturation_hpa
from tests.benchmarks.aim import Aim

COUNT, SAMPLE, ROUNDS = 100_000, 200, 30
AIM_RATIO, AIM_C = 2.2, 1e-6
_RELATIVE_SLOPE_K = {WATER: 5423.0, ICE: 6139.0}
"""Latent heat over the gas constant of vapour: d ln(e)/dT = this / T^2. [K]"""


class States(NamedTuple):
    """Air that is given: temperature, dew point and pressure. [degC, degC, hPa]"""

    air: FloatArray
    dew: FloatArray
    pressure: FloatArray


def make_states(count: int) -> States:
    """Return air from -15 to 15 degC, of any humidity from 20 % up."""
    random = np.random.default_rng(1)
    air = random.uniform(-15.0, 15.0, count)
    dew = dewpoint_c(air, random.uniform(20.0, 100.0, count))
    return States(air, dew, random.uniform(850.0, 1020.0, count))


def plain_bulb_c(states: States, phase: str, coefficient_per_c: float) -> FloatArray:
    """Return the bulb by Newton steps that ask MetPy each time."""
    air, dew, pressure = states
    slope = coefficient_per_c * pressure
    target = saturation_hpa(dew, WATER) + slope * air
    x = air - (air - dew) / 3.0
    step = np.full_like(x, np.inf)
    while np.any(np.abs(step) > 1e-5):
        vapour = saturation_hpa(x, phase)
        steep = vapour * _RELATIVE_SLOPE_K[phase] / (x + ZERO_C_K) ** 2
        step = (vapour + slope * x - target) / (steep + slope)
        # Far from the answer a full step could leave the formula's range.
        step = np.clip(step, -15.0, 15.0)
        x -= step
    return np.asarray(np.minimum(np.maximum(x, dew), air), dtype=np.float64)


def metpys_own_c(states: States) -> FloatArray:
    """Return the wet bulb by MetPy's own function."""
    air, dew, pressure = (values[:SAMPLE] for values in states)
    found = wet_bulb_temperature(
        units.Quantity(pressure, "hPa"),
        units.Quantity(air, "degC"),
        units.Quantity(dew, "degC"),
    )
    return np.asarray(found.m_as("degC"), dtype=np.float64)


def best_rates(ways: dict[str, Callable[[], FloatArray]], rounds: int) -> list[float]:
    """Return what each way does at its best, all by turns. [1/s]"""
    sizes = [way().size for way in ways.values()]
    best_s = [np.inf] * len(ways)
    for _ in range(rounds):
        for place, way in enumerate(ways.values()):
            start = time.perf_counter()
            way()
            best_s[place] = min(best_s[place], time.perf_counter() - start)
    return [size / best for size, best in zip(sizes, best_s, strict=True)]


def rows(count: int = COUNT, rounds: int = ROUNDS) -> list[str]:
    """Return one figure a row: its name, its value, and the aim where there is one."""
    states = make_states(count)
    plain = {
        "wet": partial(plain_bulb_c, states, WATER, PSYCHROMETER_WATER_PER_C),
        "ice": partial(plain_bulb_c, states, ICE, PSYCHROMETER_ICE_PER_C),
    }
    ours = {"wet": partial(wet_bulb_c, *states), "ice": partial(ice_bulb_c, *states)}
    found = []
    for name in ("wet", "ice"):
        quick, slow = best_rates({"ours": ours[name], "plain": plain[name]}, rounds)
        apart = f"{np.nanmax(np.abs(ours[name]() - plain[name]())):.1e} degC"
        found += [
            f"{name} bulb: {quick / 1e6:.1f} million values a second",
            f"{name} bulb, the plain way: {slow / 1e6:.1f} million values a second",
            f"{name} bulb, times the plain way: {quick / slow:.2f} (aim {AIM_RATIO})",
            f"{name} bulb, apart from the plain way: {apart} (aim {AIM_C:.0e})",
        ]
        if name == "wet":
            [own] = best_rates({"own": partial(metpys_own_c, states)}, 1)
            found.append(f"wet bulb, MetPy's own: {own:,.0f} values a second")
            found.append(f"wet bulb, times MetPy's own: {quick / own:,.0f}")
    return found


def aims(count: int = COUNT, rounds: int = ROUNDS) -> list[Aim]:
    """Return the throughput beside the plain way, and how far apart both are."""
    states = make_states(count)
    plain = {
        "wet": partial(plain_bulb_c, states, WATER, PSYCHROMETER_WATER_PER_C),
        "ice": partial(plain_bulb_c, states, ICE, PSYCHROMETER_ICE_PER_C),
    }
    ours = {"wet": partial(wet_bulb_c, *states), "ice": partial(ice_bulb_c, *states)}
    found = []
    for name, way in ours.items():
        quick, slow = best_rates({"ours": way, "plain": plain[name]}, rounds)
        apart_c = float(np.nanmax(np.abs(way() - plain[name]())))
        found += [
            Aim(
                name=f"{name} bulb, times the plain way",
                value=quick / slow,
                limit=AIM_RATIO,
                is_least=True,
            ),
            Aim(
                name=f"{name} bulb, apart from the plain way",
                value=apart_c,
                unit="degC",
                limit=AIM_C,
            ),
        ]
    return found


def main() -> None:
    """Print all rows."""
    for row in rows():
        print(row)  # noqa: T201


if __name__ == "__main__":
    main()
