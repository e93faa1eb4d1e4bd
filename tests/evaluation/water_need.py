"""What water over plants takes by our reckoning, beside the figures that were read.

    python -m tests.evaluation.water_need

A bud is held at -1.7 degC under a clear sky in nearly saturated air. The demand is the
higher of our share of the heat balance and the published figure; of a figure that was
read it must be 1.0 to 1.5 times.
"""

import sys
from dataclasses import dataclass

import numpy as np

from frostalert.model.crop import Organ
from frostalert.physics.water import needed_rate_mm_per_h, wetted_loss_wpm2
from frostalert.plan.water_tables import (
    CALIBRATED_TO_PRACTICE,
    OVER_TREE,
    TableRate,
    published_rate,
)

LOWS_C = (-2.0, -3.0, -4.4, -5.6, -6.7, -8.0)
WINDS_MPS = (0.4, 1.0, 2.0)
HELD_C, CATCH, PRESSURE_HPA = -1.7, 0.7, 1000.0
DEWPOINT_BELOW_C = 0.5
READ = ((-4.4, 0.4, 3.9, 4.5, OVER_TREE),)
"""Low [degC], wind [m/s], figures from and to [mm/h], and who gives them: those that
were read, not remembered."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What one low and wind take. [mm/h]"""

    low_c: float
    wind_mps: float
    balance: float
    published: TableRate

    @property
    def demand(self) -> float | None:
        """The higher of the two; None beyond what is published."""
        if self.published.mm_per_h is None:
            return None
        return max(self.balance, self.published.mm_per_h)


def need_of(low_c: float, wind_mps: float) -> Need:
    """Return what a low and a wind take."""
    loss = wetted_loss_wpm2(
        HELD_C,
        np.array([low_c]),
        np.array([low_c - DEWPOINT_BELOW_C]),
        np.array([wind_mps]),
        np.array([1.0]),
        pressure_hpa=PRESSURE_HPA,
    )
    rate = float(needed_rate_mm_per_h(loss, Organ.BUD, CATCH)[0])
    return Need(
        low_c=low_c,
        wind_mps=wind_mps,
        balance=CALIBRATED_TO_PRACTICE * rate,
        published=published_rate(low_c, wind_mps),
    )


def ratios() -> list[tuple[float, float, float, float, str]]:
    """Return low, wind, demand over the figures read (least and most), and source."""
    found = []
    for low_c, wind_mps, least, most, source in READ:
        demand = need_of(low_c, wind_mps).demand
        assert demand is not None
        found.append((low_c, wind_mps, demand / most, demand / least, source))
    return found


def write(line: str) -> None:
    """Write a line."""
    sys.stdout.write(line + "\n")


def main() -> int:
    """Print the table, and how the demand lies to the figures that were read."""
    write("low_c wind_mps balance_mm_per_h published_mm_per_h demand_mm_per_h source")
    for low_c in LOWS_C:
        for wind_mps in WINDS_MPS:
            need = need_of(low_c, wind_mps)
            rate, demand = need.published.mm_per_h, need.demand
            told = "refused" if rate is None else f"{rate:.1f}"
            needed = "refused" if demand is None else f"{demand:.1f}"
            write(
                f"{low_c:5.1f} {wind_mps:8.1f} {need.balance:16.1f} {told:>18} "
                f"{needed:>15} {need.published.source}"
            )
    for low_c, wind_mps, least, most, source in ratios():
        write(
            f"ratio at {low_c} degC and {wind_mps} m/s: {least:.2f} to {most:.2f} "
            f"(aim 1.0 to 1.5): {source}"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
