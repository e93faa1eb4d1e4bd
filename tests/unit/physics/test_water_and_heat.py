"""Water and heat against published figures, and against each other."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostalert.agronomy.kill import ERROR_WEIGHTS
from frostalert.errors import PhysicsDomainError
from frostalert.model.crop import Organ
from frostalert.physics.bud import clear_sky_loss_wpm2, heat_exchange_wpm2k
from frostalert.physics.heat import (
    heat_gain_delta_c,
    kept_heat_wpm2,
    lamp_gain_delta_c,
)
from frostalert.physics.humidity import ice_bulb_c
from frostalert.physics.units import parse_quantity
from frostalert.physics.water import (
    FUSION_J_PER_KG,
    ICED_SIZE_M,
    film_life_s,
    needed_rate_mm_per_h,
    wetted_loss_wpm2,
)
from frostalert.plan.water_tables import BY_WIND, OVER_TREE, published_rate

MM_PER_IN = 25.4
AIR_C = st.floats(-8.0, 2.0)
DEPRESSION_C = st.floats(0.0, 10.0)
WIND = st.floats(0.0, 6.0)


def test_freezing_water_gives_a_seventh_and_a_half_of_what_evaporating_takes() -> None:
    # FAO, Frost Protection, vol. 1, p. 65: 2.501 MJ/kg, and a ratio of 7.5.
    assert pytest.approx(7.5, abs=0.02) == 2.501e6 / FUSION_J_PER_KG


@pytest.mark.parametrize(
    ("inches_an_hour", "gallons_a_minute_an_acre"),
    # An acre-inch is 27,154 gallons (US Geological Survey).
    [(0.10, 45.3), (0.15, 67.9), (0.25, 113.1)],
)
def test_flow_over_an_acre_is_the_rate_of_the_tables(
    inches_an_hour: float, gallons_a_minute_an_acre: float
) -> None:
    litres_per_h = parse_quantity(f"{gallons_a_minute_an_acre} gpm", "flow")
    square_metres = parse_quantity("1 acre", "area")
    assert litres_per_h / square_metres == pytest.approx(
        inches_an_hour * MM_PER_IN, rel=0.002
    )


@given(AIR_C, st.floats(1.0, 10.0), WIND)
def test_without_sky_an_iced_surface_at_the_ice_bulb_exchanges_radiation_alone(
    air_c: float, depression_c: float, wind_mps: float
) -> None:
    # The psychrometer equation (AMS Glossary) makes the ice bulb the point where
    # convection and vapour cancel.
    dew_c = air_c - depression_c
    bulb_c = float(ice_bulb_c(air_c, dew_c, 1000.0))
    if np.isnan(bulb_c) or bulb_c > 0.0:
        return
    loss = wetted_loss_wpm2(bulb_c, air_c, dew_c, wind_mps, 0.0, pressure_hpa=1000.0)
    _, radiative = heat_exchange_wpm2k(np.array(air_c), np.array(wind_mps), ICED_SIZE_M)
    assert float(loss) == pytest.approx(float(radiative) * (bulb_c - air_c), abs=1.0)


@given(AIR_C, DEPRESSION_C, WIND, st.floats(0.1, 3.0))
def test_more_wind_dryness_or_cold_never_takes_less_water(
    air_c: float, depression_c: float, wind_mps: float, step: float
) -> None:
    def loss(air: float, dew: float, wind: float) -> float:
        return float(wetted_loss_wpm2(0.0, air, dew, wind, 1.0, pressure_hpa=1000.0))

    dew_c = air_c - depression_c
    here = loss(air_c, dew_c, wind_mps)
    # The loss to the sky falls a little with colder air: by 5 W/m2 in 8 degC.
    assert loss(air_c, dew_c - step, wind_mps) >= here - 0.1
    assert loss(air_c - step, dew_c - step, wind_mps) >= here - 0.1
    if here > 60.0:
        assert loss(air_c, dew_c, wind_mps + step) >= here - 0.1


def test_wind_that_is_not_known_is_no_calm() -> None:
    loss = wetted_loss_wpm2(0.0, -3.0, -5.0, np.nan, 1.0, pressure_hpa=1000.0)
    assert np.isnan(loss)
    assert np.isnan(film_life_s(loss))


def test_a_share_of_nothing_or_more_than_all_is_refused() -> None:
    for share in (0.0, 1.2):
        with pytest.raises(PhysicsDomainError, match="between 0 and 1"):
            needed_rate_mm_per_h(100.0, Organ.BUD, share)


@pytest.mark.parametrize(
    ("low_f", "wind_mph", "inches_an_hour"),
    # Gerber and Martsolf, UF Circular 287, three columns (from memory).
    [(27, 1, 0.10), (26, 6, 0.14), (22, 3, 0.24), (20, 8, 0.60), (15, 1, 0.26)],
)
def test_the_table_by_wind(
    low_f: float, wind_mph: float, inches_an_hour: float
) -> None:
    found = published_rate((low_f - 32.0) / 1.8, wind_mph * 0.447)
    assert found.source == BY_WIND
    assert found.mm_per_h == pytest.approx(inches_an_hour * MM_PER_IN)


def test_in_calm_air_at_24_f_the_higher_of_two_published_rates_counts() -> None:
    # 70 to 80 gpm an acre protect to 24 F (R. Evans, USDA-ARS, in Good Fruit Grower):
    # the higher of the two; the table by wind asks for 45.
    found = published_rate(-4.4, 0.4)
    assert found.source == OVER_TREE
    assert found.mm_per_h == pytest.approx(80.0 / 17.82, abs=0.05)


def test_between_rows_the_colder_counts_and_past_the_last_none() -> None:
    assert published_rate(-5.0, 1.5).mm_per_h == pytest.approx(0.24 * MM_PER_IN)
    assert published_rate(-12.0, 0.4).mm_per_h is None


def test_the_heat_balance_stays_within_a_factor_of_the_published_rates() -> None:
    # Calm, humid, 26 F: the tables ask for 2.5 mm/h; Univ. of Maine for 2.5 to 3.8.
    loss = wetted_loss_wpm2(-2.3, -3.3, -4.5, 0.5, 1.0, pressure_hpa=1000.0)
    rate = float(needed_rate_mm_per_h(loss, Organ.BUD, 0.7))
    assert 2.5 <= rate <= 2.0 * 3.8


def test_a_published_density_of_heaters_holds_and_a_tenth_of_it_does_not() -> None:
    # FAO, vol. 1, p. 152: 75 to 100 oil heaters a hectare, 2.8 L/h each; 36 MJ/L.
    one_w = 2.8 * 36e6 / 3600.0
    lost = float(clear_sky_loss_wpm2(np.array(-2.0), np.array(-4.0)))
    assert 0.5 <= kept_heat_wpm2(100, one_w, 1e4) / lost <= 1.0
    assert kept_heat_wpm2(10, one_w, 1e4) / lost < 0.5


def test_heat_gains_by_watts_and_loss_alone() -> None:
    assert heat_gain_delta_c(500.0, 80.0) == pytest.approx(3.0)
    assert heat_gain_delta_c(40.0, 80.0) == pytest.approx(1.5)
    assert heat_gain_delta_c(40.0, 0.0) == 0.0


def test_nothing_is_divided_by_no_ground_and_no_cover() -> None:
    with pytest.raises(PhysicsDomainError, match="ground"):
        kept_heat_wpm2(1, 1000.0, 0.0)
    with pytest.raises(PhysicsDomainError, match="surface"):
        lamp_gain_delta_c(100.0, 0.0)


def test_shares_of_the_error_make_one() -> None:
    assert ERROR_WEIGHTS.sum() == pytest.approx(1.0)
