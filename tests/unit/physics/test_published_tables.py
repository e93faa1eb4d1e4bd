"""Old psychrometric tables in their own convention, and start tables for irrigation.

Tables of the US Weather Bureau below freezing give humidity relative to ice, keep the
water coefficient for an iced bulb, and print frost points. They check the saturation
pressures over ice that the ice bulb and the frost point rest on.
"""

import CoolProp.CoolProp
import numpy as np
import psychrolib
import pytest
from metpy.calc import wet_bulb_temperature
from metpy.units import units

from frostalert.physics.humidity import (
    dewpoint_c,
    frost_point_c,
    ice_bulb_c,
    vapour_pressure_hpa,
    wet_bulb_c,
)
from frostalert.physics.pressure import standard_pressure_hpa
from frostalert.physics.start_reading import start_air_c


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


def ice_pressure_hpa(temp_c: float) -> float:
    """Saturation over ice, through our own frost point turned round by bisection."""
    low, high = temp_c - 15.0, temp_c
    for _ in range(60):
        middle = (low + high) / 2.0
        if float(frost_point_c(middle)) < temp_c:
            low = middle
        else:
            high = middle
    return float(vapour_pressure_hpa((low + high) / 2.0))


# US Weather Bureau Bulletin 1071, condensed humidity table at 74.27 cmHg (990.2 hPa):
# air [degC], depression of the iced bulb [degC], relative humidity [%].
BULLETIN_1071 = [
    (-10, 1.0, 67),
    (-10, 2.0, 35),
    (-8, 1.0, 71),
    (-8, 2.0, 43),
    (-7, 1.0, 73),
    (-7, 2.0, 46),
    (-5, 1.0, 76),
    (-5, 2.0, 52),
    (-5, 3.0, 29),
    (-4, 1.0, 77),
    (-4, 2.0, 55),
    (-2, 1.0, 79),
    (-2, 2.0, 60),
    (-2, 3.0, 40),
    (-1, 1.0, 81),
    (-1, 2.0, 62),
    (-1, 3.0, 43),
]


@pytest.mark.parametrize(("air", "depression", "humidity"), BULLETIN_1071)
def test_bulletin_1071_in_its_own_convention(
    air: float, depression: float, humidity: float
) -> None:
    bulb = air - depression
    coefficient = 6.6e-4 * (1.0 + 0.00115 * bulb)
    vapour = ice_pressure_hpa(bulb) - coefficient * 990.2 * depression
    found = 100.0 * vapour / ice_pressure_hpa(air)
    assert found == pytest.approx(humidity, abs=1.2)


# NWS El Paso psychrometric table at 25.00 inHg (846.6 hPa): air [degF], depression
# [degF], and the point in its "dew point" column, which is a frost point. [degF]
@pytest.mark.parametrize(
    ("air", "depression", "point"),
    [(17, 6.2, -25), (19, 6.4, -18), (20, 6.2, -12), (20, 7.0, -24)],
)
def test_nws_table_at_25_inches_in_its_own_convention(
    air: float, depression: float, point: float
) -> None:
    bulb = celsius(air - depression)
    coefficient = 6.6e-4 * (1.0 + 0.00115 * bulb)
    vapour = ice_pressure_hpa(bulb) - coefficient * 846.6 * depression / 1.8
    assert ice_pressure_hpa(celsius(point)) == pytest.approx(vapour, abs=0.04)


# Vapour pressure over ice in the same table. [degF, inHg]
@pytest.mark.parametrize(
    ("fahrenheit", "inches"), [(18, 0.0933), (19, 0.0979), (20, 0.1026)]
)
def test_vapour_pressure_over_ice(fahrenheit: float, inches: float) -> None:
    found = ice_pressure_hpa(celsius(fahrenheit)) / 33.8639
    assert found == pytest.approx(inches, abs=3e-4)


def test_ashrae_wet_bulb_example() -> None:
    # ASHRAE Handbook of Fundamentals 2017, ch. 1, example 1, as quoted in psychrolib's
    # tests: 40 degC with a wet bulb of 20 degC at sea level has a dew point of 7 degC.
    assert wet_bulb_c(40.0, 7.0, 1013.25) == pytest.approx(20.0, abs=0.3)


def test_altitude_example() -> None:
    # FAO-56, example 4 (from memory): at 1200 m, air 25.6 and wet bulb 19.5 degC give
    # a vapour pressure of 1.91 kPa.
    pressure = float(standard_pressure_hpa(1200.0))
    dew = dewpoint_c(25.6, 100.0 * 19.1 / float(vapour_pressure_hpa(25.6)))
    assert wet_bulb_c(25.6, dew, pressure) == pytest.approx(19.5, abs=0.1)


# --- other libraries below freezing -----------------------------------------------


def frozen_states() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    random = np.random.default_rng(11)
    air = random.uniform(-25.0, -0.5, 200)
    humidity = random.uniform(5.0, 95.0, 200)
    pressure = random.uniform(700.0, 1050.0, 200)
    return air, humidity, dewpoint_c(air, humidity), pressure


def test_psychrolib_below_freezing_stays_within_the_stated_difference() -> None:
    # psychrolib goes over to ice below freezing, and takes humidity relative to ice
    # there; its dew point is then a frost point. Compared at equal vapour pressure.
    psychrolib.SetUnitSystem(psychrolib.SI)
    air, _, dew, pressure = frozen_states()
    vapour = vapour_pressure_hpa(dew)
    ice = ice_bulb_c(air, dew, pressure)
    theirs = []
    for a, v, p in zip(air, vapour, pressure, strict=True):
        share = min(1.0, 100.0 * v / psychrolib.GetSatVapPres(a))
        theirs.append(psychrolib.GetTWetBulbFromRelHum(a, share, 100.0 * p))
    difference = np.array(theirs) - ice
    # The adiabatic definition is a shade colder; the bound is the spread measured once.
    assert difference.min() > -0.25
    assert difference.max() < 0.15


def test_coolprop_below_freezing_stays_within_the_stated_difference() -> None:
    air, _, dew, pressure = frozen_states()
    vapour = vapour_pressure_hpa(dew)
    ice = ice_bulb_c(air, dew, pressure)
    difference = []
    for a, v, p, i in zip(air, vapour, pressure, ice, strict=True):
        if i > a - 1e-6:
            # Supersaturated over ice: ours is capped at the air, theirs is not.
            continue
        ratio = 0.621945 * v / (p - v)
        try:
            theirs = CoolProp.CoolProp.HAPropsSI(
                "B", "T", a + 273.15, "W", ratio, "P", 100.0 * p
            )
        except ValueError:
            # Air that is supersaturated over ice has no wet bulb there.
            continue
        difference.append(theirs - 273.15 - i)
    assert len(difference) > 120
    assert min(difference) > -0.2
    assert max(difference) < 0.15


def test_metpy_below_freezing_stays_within_the_stated_difference() -> None:
    air, _, dew, pressure = frozen_states()
    adiabatic = wet_bulb_temperature(
        units.Quantity(pressure[:40], "hPa"),
        units.Quantity(air[:40], "degC"),
        units.Quantity(dew[:40], "degC"),
    ).m_as("degC")
    difference = adiabatic - wet_bulb_c(air[:40], dew[:40], pressure[:40])
    assert difference.min() > -0.5
    assert difference.max() < 0.3


# --- start tables -----------------------------------------------------------------

# Pate, Frost Protection Options for Strawberry Growers, Ontario, May 2024: dew point
# and air temperature at which irrigation is started. [degC] Printed from whole degF.
ONTARIO_START = [
    (-1.1, 0.0),
    (-1.7, 0.5),
    (-3.8, 1.6),
    (-4.4, 2.7),
    (-6.7, 3.8),
    (-8.3, 4.4),
]


@pytest.mark.parametrize(("dew", "air"), ONTARIO_START)
def test_the_published_start_table_is_met_to_within_its_rounding(
    dew: float, air: float
) -> None:
    # Whole degrees Fahrenheit in both columns are worth 0.3 degC of air each and 0.2
    # of dew point; the table's own wet bulb scatters between -0.43 and 0.12 degC.
    assert float(start_air_c(-0.15, dew, 1013.25)) == pytest.approx(air, abs=0.55)


def test_starting_at_half_a_degree_is_earlier_than_the_table() -> None:
    for dew, air in ONTARIO_START:
        assert float(start_air_c(0.5, dew, 1013.25)) > air


@pytest.mark.parametrize("pressure", [850.0, 930.0, 1013.25])
def test_the_start_reading_is_the_wet_bulb_turned_round(pressure: float) -> None:
    for dew in (-10.0, -5.0, -1.0):
        air = start_air_c(0.5, dew, pressure)
        assert wet_bulb_c(air, dew, pressure) == pytest.approx(0.5, abs=1e-4)
