"""The nowcast's table, and that the program uses the coefficients it was fitted to."""

import numpy as np
import pytest

from frostalert.physics.cooling import (
    PER_DEPRESSION,
    PER_PAST_FALL,
    PER_ROOT_HOUR_C,
)
from tests.evaluation.nowcast import FIT_LEADS_H, fit, samples, table
from tests.evaluation.stations import AIRPORTS, load_airport, load_greensboro


@pytest.fixture(scope="module")
def rows() -> dict[tuple[str, str, float], tuple[float, float]]:
    return {(name, way, lead): (mae, rmse) for name, way, lead, _, mae, rmse in table()}


@pytest.mark.parametrize(("lead", "aim"), [(2.0, 1.0), (4.0, 1.5), (6.0, 2.0)])
def test_held_out_by_month_it_reaches_the_aim_inland(
    rows: dict[tuple[str, str, float], tuple[float, float]], lead: float, aim: float
) -> None:
    _, rmse = rows["Greensboro NC", "this program", lead]
    assert rmse < aim
    # Savage, Int. J. Biometeorol., 2016: under 1 degC at 2 h, 2.1 degC at 4 h.
    for way in ("persistence", "straight line", "square root"):
        assert rmse < rows["Greensboro NC", way, lead][1]


@pytest.mark.parametrize("lead", [2.0, 4.0, 6.0])
def test_on_the_coast_it_is_no_worse_than_the_plain_root(
    rows: dict[tuple[str, str, float], tuple[float, float]], lead: float
) -> None:
    _, rmse = rows["New York airports", "this program", lead]
    assert rmse <= rows["New York airports", "square root", lead][1] + 0.01


def test_the_program_uses_what_was_fitted() -> None:
    station = load_greensboro()
    airports = [load_airport(code) for code in AIRPORTS]
    fitted = fit(
        [s for lead in FIT_LEADS_H for s in samples(station, lead)],
        [s for port in airports for h in FIT_LEADS_H for s in samples(port, h)],
    )
    used = np.array([PER_ROOT_HOUR_C, PER_DEPRESSION, PER_PAST_FALL])
    assert fitted == pytest.approx(used, abs=1e-3)
