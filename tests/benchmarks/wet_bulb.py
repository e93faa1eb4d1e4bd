"""The wet bulb for 100,000 values, beside MetPy's own function on a sample.

    python -m tests.benchmarks.wet_bulb

The two solve different definitions of the wet bulb (see `physics.humidity`); the
comparison is of time only.
"""

import time

import numpy as np
from metpy.calc import wet_bulb_temperature
from metpy.units import units

from frostalert.physics.humidity import dewpoint_c, ice_bulb_c, wet_bulb_c

COUNT, SAMPLE, ROUNDS = 100_000, 200, 5


def best(seconds: list[float]) -> float:
    """Return the least disturbed of several timings."""
    return min(seconds)


def main() -> None:
    """Print values a second for both, and their ratio."""
    random = np.random.default_rng(1)
    air = random.uniform(-15.0, 15.0, COUNT)
    dew = dewpoint_c(air, random.uniform(20.0, 100.0, COUNT))
    pressure = random.uniform(850.0, 1020.0, COUNT)
    ours, ice = [], []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        wet_bulb_c(air, dew, pressure)
        ours.append(time.perf_counter() - start)
        start = time.perf_counter()
        ice_bulb_c(air, dew, pressure)
        ice.append(time.perf_counter() - start)
    part = slice(0, SAMPLE)
    given = (
        units.Quantity(pressure[part], "hPa"),
        units.Quantity(air[part], "degC"),
        units.Quantity(dew[part], "degC"),
    )
    wet_bulb_temperature(*(values[:2] for values in given))
    start = time.perf_counter()
    wet_bulb_temperature(*given)
    theirs = time.perf_counter() - start
    our_rate, their_rate = COUNT / best(ours), SAMPLE / theirs
    print(f"wet bulb, this program:   {our_rate:12,.0f} values a second")  # noqa: T201
    print(f"ice bulb, this program:   {COUNT / best(ice):12,.0f} values a second")  # noqa: T201
    print(f"wet bulb, MetPy's own:    {their_rate:12,.0f} values a second")  # noqa: T201
    print(f"ratio:                    {our_rate / their_rate:12,.0f}")  # noqa: T201


if __name__ == "__main__":
    main()
