"""Humidity against published tables, independent libraries and its own equation."""

import math

import CoolProp.CoolProp
import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from metpy.calc import saturation_vapor_pressure, wet_bulb_temperature
from metpy.units import units

from frostalert.errors import PhysicsDomainError
from frostalert.physics.humidity import (
    dewpoint_c,
    frost_point_c,
    ice_bulb_c,
    vapour_pressure_hpa,
    wet_bulb_c,
)
from frostalert.physics.pressure import standard_pressure_hpa

TEMPERATURES = st.floats(-25.0, 25.0)
DEPRESSIONS = st.floats(0.0, 25.0)
PRESSURES = st.floats(700.0, 1050.0)


def fahrenheit(value: float) -> float:
    return (value - 32.0) / 1.8


# Relative humidity by air temperature and wet-bulb depression, FOSS Weather and Water
# teaching table (about 1000 hPa); whole percent, so the depression is checked to what
# a percent and a half of humidity is worth.
FOSS_TABLE = [
    (10, 1, 88),
    (10, 2, 77),
    (10, 3, 66),
    (10, 4, 56),
    (10, 5, 45),
    (10, 6, 35),
    (15, 2, 80),
    (15, 4, 62),
    (15, 8, 29),
]


@pytest.mark.parametrize(("air", "depression", "humidity"), FOSS_TABLE)
def test_wet_bulb_agrees_with_a_printed_humidity_table(
    air: float, depression: float, humidity: float
) -> None:
    dew = dewpoint_c(air, humidity)
    assert wet_bulb_c(air, dew, 1000.0) == pytest.approx(air - depression, abs=0.2)


# Ward, Practical Exercises in Elementary Meteorology, table I note: dew points in whole
# degF from air and wet bulb.
@pytest.mark.parametrize(("air", "wet", "dew"), [(47, 44, 41), (62, 56, 52)])
def test_wet_bulb_agrees_with_textbook_examples(
    air: float, wet: float, dew: float
) -> None:
    found = wet_bulb_c(fahrenheit(air), fahrenheit(dew), 1013.25)
    assert found == pytest.approx(fahrenheit(wet), abs=0.3)


def test_wet_bulb_agrees_with_the_weather_service_calculator() -> None:
    # 18.59 degC by a US National Weather Service calculator for 25 degC, dew point
    # 15 degC, 1000 hPa, as recorded in MetPy's tests/calc/test_thermo.py.
    # Our saturation pressures run 0.2 % below the usual ones at 25 degC.
    assert wet_bulb_c(25.0, 15.0, 1000.0) == pytest.approx(18.59, abs=0.1)


def test_one_third_rule_example_near_freezing() -> None:
    # Knox, UGA climate blog, March 2017: air 32, dew point 23 degF -> wet bulb 29 degF.
    found = wet_bulb_c(0.0, fahrenheit(23.0), 1013.25)
    assert found == pytest.approx(fahrenheit(29.0), abs=0.3)


# ASHRAE Handbook of Fundamentals 2017, ch. 1, table 3, as quoted in psychrolib's tests;
# saturation over water. [Pa] MetPy's formula is 0.1 % low at 5 and 0.23 % at 25 degC.
@pytest.mark.parametrize(("temp", "pascal"), [(5, 872.6), (25, 3169.7)])
def test_vapour_pressure_agrees_with_ashrae(temp: float, pascal: float) -> None:
    assert vapour_pressure_hpa(temp) == pytest.approx(pascal / 100.0, rel=3e-3)


def test_standard_pressure_agrees_with_ashrae() -> None:
    # ASHRAE Handbook of Fundamentals 2017, ch. 1: 101325 Pa at 0 m, 89875 Pa at 1000 m.
    found = standard_pressure_hpa([0.0, 1000.0])
    assert found == pytest.approx([1013.25, 898.75], abs=0.05)


def test_frost_point_agrees_with_psychrometric_saturation_over_ice() -> None:
    # ASHRAE 2017, ch. 1, table 3: over ice 401.74 Pa at -5 and 103.24 Pa at -20 degC.
    for frost, pascal in ((-5.0, 401.74), (-20.0, 103.24)):
        dew = dewpoint_c(0.0, 100.0 * pascal / 100.0 / float(vapour_pressure_hpa(0.0)))
        assert frost_point_c(dew) == pytest.approx(frost, abs=0.02)


def psychrometer_by_bisection(
    air: float, vapour_hpa: float, coefficient: float, phase: str
) -> float:
    """Solve the psychrometer equation for one value, to 1e-9 degC."""
    low, high = -120.0, air
    while high - low > 1e-9:
        middle = (low + high) / 2.0
        kelvin = units.Quantity(middle + 273.15, "K")
        pressure = saturation_vapor_pressure(kelvin, phase=phase).m_as("hPa")
        if float(pressure) - coefficient * (air - middle) < vapour_hpa:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def test_solver_error_against_bisection() -> None:
    random = np.random.default_rng(20260412)
    air = random.uniform(-25.0, 25.0, 150)
    dew = dewpoint_c(air, random.uniform(5.0, 100.0, 150))
    pressure = random.uniform(700.0, 1050.0, 150)
    vapour = vapour_pressure_hpa(dew)
    wet = wet_bulb_c(air, dew, pressure)
    ice = ice_bulb_c(air, dew, pressure)
    for n in range(air.size):
        over_water = psychrometer_by_bisection(
            air[n], vapour[n], 6.60e-4 * pressure[n], "liquid"
        )
        assert wet[n] == pytest.approx(over_water, abs=1e-6)
        over_ice = psychrometer_by_bisection(
            air[n], vapour[n], 5.82e-4 * pressure[n], "solid"
        )
        if math.isnan(ice[n]):
            assert over_ice > 0.0
        else:
            assert ice[n] == pytest.approx(min(over_ice, air[n]), abs=1e-6)


def random_states() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    random = np.random.default_rng(7)
    air = random.uniform(-25.0, 25.0, 300)
    humidity = random.uniform(5.0, 100.0, 300)
    pressure = random.uniform(700.0, 1050.0, 300)
    return air, humidity, dewpoint_c(air, humidity), pressure


# The adiabatic definition (psychrolib, CoolProp, MetPy) and the psychrometer equation
# differ by tenths of a degree: the equation is a shade warmer. The bounds below are the
# spread measured once over these states with a margin; an error of sign or units in
# either would break them.
def test_difference_from_psychrolib_is_bounded_above_freezing() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    air, humidity, dew, pressure = random_states()
    theirs = np.array(
        [
            psychrolib.GetTWetBulbFromRelHum(a, h / 100.0, p * 100.0)
            for a, h, p in zip(air, humidity, pressure, strict=True)
        ]
    )
    # Below freezing psychrolib goes over to ice, which is another quantity.
    difference = (theirs - wet_bulb_c(air, dew, pressure))[theirs > 0.0]
    assert difference.size > 80
    assert difference.min() > -0.2
    assert difference.max() < 0.02


def test_difference_from_coolprop_is_bounded_above_freezing() -> None:
    air, humidity, dew, pressure = random_states()
    theirs = np.array(
        [
            CoolProp.CoolProp.HAPropsSI(
                "B", "T", a + 273.15, "R", h / 100.0, "P", p * 100.0
            )
            - 273.15
            for a, h, p in zip(air, humidity, pressure, strict=True)
        ]
    )
    difference = (theirs - wet_bulb_c(air, dew, pressure))[theirs > 0.0]
    assert difference.size > 80
    assert difference.min() > -0.25
    assert difference.max() < 0.02


def test_difference_from_metpy_is_bounded_near_freezing() -> None:
    air = np.array([0.0, 2.0, 5.0, 8.0])
    dew = np.array([-4.0, -3.0, -2.0, 1.0])
    adiabatic = wet_bulb_temperature(
        units.Quantity(1000.0, "hPa"),
        units.Quantity(air, "degC"),
        units.Quantity(dew, "degC"),
    ).m_as("degC")
    difference = adiabatic - wet_bulb_c(air, dew, 1000.0)
    assert np.all(np.abs(difference) < 0.5)


@given(air=TEMPERATURES, depression=DEPRESSIONS, pressure=PRESSURES)
def test_wet_bulb_lies_between_dew_point_and_air(
    air: float, depression: float, pressure: float
) -> None:
    dew = air - depression
    wet = float(wet_bulb_c(air, dew, pressure))
    assert dew <= wet <= air


@given(air=TEMPERATURES, depression=DEPRESSIONS, pressure=PRESSURES)
def test_ice_bulb_is_capped_at_the_air_and_never_above_freezing(
    air: float, depression: float, pressure: float
) -> None:
    ice = float(ice_bulb_c(air, air - depression, pressure))
    assert math.isnan(ice) or ice <= min(air, 0.0)


@given(air=TEMPERATURES, drier=st.floats(0.5, 10.0), more=st.floats(0.5, 10.0))
def test_drier_air_has_a_colder_wet_bulb(air: float, drier: float, more: float) -> None:
    moist = wet_bulb_c(air, air - drier, 1000.0)
    dry = wet_bulb_c(air, air - drier - more, 1000.0)
    assert dry < moist


def test_missing_values_pass_through() -> None:
    masked = np.ma.masked_array([1.0, 2.0], mask=[False, True])
    wet = wet_bulb_c(masked, [0.0, 0.0], 1000.0)
    assert np.isfinite(wet[0])
    assert np.isnan(wet[1])
    assert np.isnan(ice_bulb_c(np.nan, -3.0, 1000.0))
    assert np.isnan(dewpoint_c(0.0, np.nan))
    assert np.isnan(frost_point_c(np.nan))


def test_shapes_broadcast() -> None:
    assert wet_bulb_c([[1.0], [2.0]], [-1.0, -2.0, -3.0], 950.0).shape == (2, 3)


@pytest.mark.parametrize(
    ("air", "dew", "pressure"),
    [(80.0, 0.0, 1000.0), (1.0, 2.0, 1000.0), (1.0, 0.0, 100.0), (-80.0, -90.0, 900.0)],
    ids=["too warm", "dew above air", "no atmosphere", "too cold"],
)
def test_values_outside_the_domain_are_refused(
    air: float, dew: float, pressure: float
) -> None:
    with pytest.raises(PhysicsDomainError):
        wet_bulb_c(air, dew, pressure)
    with pytest.raises(PhysicsDomainError):
        ice_bulb_c(air, dew, pressure)


@pytest.mark.parametrize("humidity", [0.0, -5.0, 101.0])
def test_impossible_humidity_is_refused(humidity: float) -> None:
    with pytest.raises(PhysicsDomainError):
        dewpoint_c(5.0, humidity)
