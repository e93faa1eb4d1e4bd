"""MetPy's saturation pressure by shorter ways: they must give what MetPy gives."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from frostalert.model.forecast import FloatArray
from frostalert.physics import saturation
from frostalert.physics.humidity import dewpoint_c, ice_bulb_c, wet_bulb_c
from frostalert.physics.saturation import (
    ICE,
    WATER,
    ZERO_C_K,
    saturation_curve,
    saturation_hpa,
    saturation_with_units_hpa,
)


@pytest.mark.parametrize("phase", [WATER, ICE])
def test_the_quick_way_into_metpy_gives_what_the_public_one_gives(phase: str) -> None:
    air = np.linspace(-70.0, 60.0, 131)
    quick = saturation_hpa(air, phase)
    public = saturation_with_units_hpa(air, phase)
    np.testing.assert_allclose(quick, public, rtol=1e-12)


@pytest.mark.parametrize("phase", [WATER, ICE])
def test_the_curve_is_metpys(phase: str) -> None:
    curve = saturation_curve(phase)
    assert curve.is_exact
    # Beyond what the formulas take as well: a solver may look there on its way.
    temp = np.linspace(-120.0, 80.0, 20_001)
    log, _, _ = curve.log_and_slopes(temp + ZERO_C_K)
    public = saturation_with_units_hpa(temp, phase)
    np.testing.assert_allclose(np.exp(log), public, rtol=1e-12)


@pytest.mark.parametrize("phase", [WATER, ICE])
def test_the_slopes_are_those_of_metpys_curve(phase: str) -> None:
    temp = np.linspace(-90.0, 50.0, 141)
    colder, there, warmer = (
        saturation_with_units_hpa(temp + by, phase) for by in (-0.01, 0.0, 0.01)
    )
    _, slope, bend = saturation_curve(phase).log_and_slopes(temp + ZERO_C_K)
    np.testing.assert_allclose(slope, (warmer - colder) / 0.02 / there, rtol=1e-5)
    second = (warmer - 2.0 * there + colder) / 1e-4 / there
    np.testing.assert_allclose(bend, second, rtol=1e-4)


def test_the_curve_serves_in_single_precision() -> None:
    kelvin = np.linspace(200.0, 330.0, 50)
    exact = saturation_curve(WATER).log_and_slopes(kelvin)
    rough = saturation_curve(WATER).log_and_slopes(kelvin.astype(np.float32))
    for one, other in zip(exact, rough, strict=True):
        assert other.dtype == np.float32
        np.testing.assert_allclose(other, one, rtol=1e-4, atol=1e-4)


MAGNUS = {WATER: (17.62, 243.12), ICE: (22.46, 272.62)}
"""WMO-No. 8, annex 4.B, as another formula that a version of MetPy might have."""


def magnus_hpa(temp_c: FloatArray, phase: str) -> FloatArray:
    rate, offset = MAGNUS[phase]
    return np.asarray(6.112 * np.exp(rate * temp_c / (offset + temp_c)))


@pytest.fixture
def _other_formula(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    def pascal(kelvin: FloatArray, phase: str) -> FloatArray:
        return 100.0 * magnus_hpa(kelvin - ZERO_C_K, phase)

    def without_units() -> Any:
        return pascal

    monkeypatch.setattr(saturation, "_without_units", without_units)
    saturation_curve.cache_clear()
    yield
    saturation_curve.cache_clear()


@pytest.mark.usefixtures("_other_formula")
def test_of_another_formula_the_pressures_are_metpys_all_the_same() -> None:
    assert not saturation_curve(WATER).is_exact
    assert not saturation_curve(ICE).is_exact
    random = np.random.default_rng(4)
    air = random.uniform(-25.0, 25.0, 500)
    humidity = random.uniform(10.0, 100.0, 500)
    dew = dewpoint_c(air, humidity)
    vapour = magnus_hpa(air, WATER) * humidity / 100.0
    np.testing.assert_allclose(magnus_hpa(dew, WATER), vapour, rtol=1e-6)
    wet, ice = wet_bulb_c(air, dew, 950.0), ice_bulb_c(air, dew, 950.0)
    lacking = magnus_hpa(wet, WATER) - 6.60e-4 * 950.0 * (air - wet) - vapour
    assert np.max(np.abs(lacking)) < 1e-6
    is_below = ice < air
    lacking = magnus_hpa(ice, ICE) - 5.82e-4 * 950.0 * (air - ice) - vapour
    assert is_below.sum() > 100
    assert np.max(np.abs(lacking[is_below])) < 1e-6
