"""The night minimum: which value gave the low, and how the hours are bent."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostalert.errors import PhysicsDomainError
from frostalert.model.assessment import LowFrom
from frostalert.physics.low import NightShape, fit_to_minimum

NIGHT = np.array([12.0, 8.0, 5.0, 2.0, 0.0, -1.0, 1.0, 6.0, 11.0])
CURVES = st.lists(st.floats(-20.0, 20.0), min_size=3, max_size=25)


def bend(
    air: np.ndarray, minimum: float | None, *, is_windy: bool = False
) -> tuple[np.ndarray, np.ndarray, float, LowFrom]:
    shape = NightShape(
        within=slice(0, air.size), night=np.ones(air.size), is_windy=is_windy
    )
    bent = fit_to_minimum(air, air - 2.0, minimum, shape)
    return bent.air_c, bent.dewpoint_c, bent.low_c, bent.low_from


def test_a_warmer_minimum_changes_nothing() -> None:
    air, _, low, source = bend(NIGHT, 0.5)
    assert air.tolist() == NIGHT.tolist()
    assert (low, source) == (-1.0, LowFrom.HOURS)


def test_a_colder_minimum_deepens_the_trough_and_keeps_the_evening() -> None:
    air, _, low, source = bend(NIGHT, -3.0)
    assert (low, source) == (-3.0, LowFrom.NIGHT_MINIMUM)
    assert air.min() == pytest.approx(-3.0)
    assert air[0] == 12.0
    assert air[-1] == 11.0
    # T' = T - d (M - T) / (M - low) with d = 2, M = 12, low = -1, for T = 5.
    assert air[2] == pytest.approx(5.0 - 2.0 * 7.0 / 13.0)


def test_on_a_windy_night_every_hour_is_lowered_alike() -> None:
    air, _, _, _ = bend(NIGHT, -3.0, is_windy=True)
    assert air == pytest.approx(NIGHT - 2.0)


def test_a_flat_night_is_lowered_whole() -> None:
    air, _, low, _ = bend(np.zeros(5), -1.0)
    assert air.tolist() == [-1.0] * 5
    assert low == -1.0


def test_a_trough_at_the_edge_of_what_is_known_is_not_bent() -> None:
    falling = np.array([9.0, 6.0, 3.0, 1.0])
    shape = NightShape(
        within=slice(0, 4),
        night=np.ones(4),
        is_windy=False,
        open_ends=(False, True),
    )
    bent = fit_to_minimum(falling, falling - 2.0, -4.0, shape)
    assert bent.air_c.tolist() == falling.tolist()
    assert (bent.low_c, bent.low_from) == (-4.0, LowFrom.NIGHT_MINIMUM)


def test_gaps_stay_gaps() -> None:
    holed = NIGHT.copy()
    holed[3] = np.nan
    air, _, _, _ = bend(holed, -3.0)
    assert np.isnan(air[3])
    assert np.isfinite(air[[0, 1, 2, 4, 5]]).all()


def test_a_night_without_air_is_refused() -> None:
    with pytest.raises(PhysicsDomainError):
        bend(np.full(4, np.nan), 0.0)


@given(curve=CURVES, deficit=st.floats(0.0, 4.0), is_windy=st.booleans())
def test_bent_hours_are_never_warmer_nor_colder_than_the_deficit(
    curve: list[float], deficit: float, *, is_windy: bool
) -> None:
    air = np.array(curve)
    bent, dew, low, _ = bend(air, float(air.min()) - deficit, is_windy=is_windy)
    assert np.all(bent <= air + 1e-9)
    assert np.all(bent >= air - deficit - 1e-9)
    assert low == pytest.approx(air.min() - deficit)
    assert np.all(dew <= bent + 1e-9)
