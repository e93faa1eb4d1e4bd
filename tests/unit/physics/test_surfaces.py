"""Sky, site air, buds and wetness: limits, monotony and published ranges."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostalert.errors import PhysicsDomainError
from frostalert.model.assessment import NightKind, NightSigns
from frostalert.model.crop import Organ
from frostalert.physics.bud import ORGAN_SIZE_M, dry_bud_c, dry_deficit_c, wet_bud_c
from frostalert.physics.humidity import frost_point_c, ice_bulb_c, wet_bulb_c
from frostalert.physics.night_type import night_kind
from frostalert.physics.site_air import (
    ground_delta_c,
    lapse_delta_c,
    shifted_dewpoint_c,
)
from frostalert.physics.sky import calm_weight, open_sky
from frostalert.physics.wetness import (
    dew_probability,
    drying_mm_per_h,
    rain_wet_probability,
    wet_weather_chance,
)


def one(value: float) -> np.ndarray:
    return np.array([value])


def deficit(air: float, dew: float, wind: float, organ: Organ = Organ.BUD) -> float:
    return float(
        dry_deficit_c(one(air), one(dew), one(wind), one(1.0), ORGAN_SIZE_M[organ])[0]
    )


def test_a_dry_bud_runs_about_a_degree_below_calm_air() -> None:
    # The design value: about 1 degC in the calm, half of it at 2 m/s.
    assert deficit(0.0, -6.0, 0.0) == pytest.approx(1.0, abs=0.2)
    assert deficit(0.0, -6.0, 2.0) == pytest.approx(0.5, abs=0.12)


def test_a_leaf_runs_one_to_three_degrees_below_calm_air() -> None:
    # Leuning and Cremer, Agric. For. Meteorol. 42, 1988: leaves 1-3 degC below the air
    # under a clear sky.
    assert 1.0 <= deficit(0.0, -6.0, 0.0, Organ.LEAF) <= 3.0
    assert deficit(0.0, -6.0, 0.0, Organ.LEAF) == pytest.approx(
        2.0 * deficit(0.0, -6.0, 0.0), rel=0.15
    )


@given(
    air=st.floats(-15.0, 10.0),
    depression=st.floats(0.0, 15.0),
    wind=st.floats(0.0, 6.0),
    sky=st.floats(0.0, 1.0),
    organ=st.sampled_from(Organ),
)
def test_buds_keep_their_bounds(
    air: float, depression: float, wind: float, sky: float, organ: Organ
) -> None:
    air_c, dew_c, wind_mps = one(air), one(air - depression), one(wind)
    full = dry_deficit_c(air_c, dew_c, wind_mps, one(sky), ORGAN_SIZE_M[organ])
    frost = frost_point_c(dew_c)
    saturation = np.where(np.isfinite(frost), frost, dew_c)
    dry = dry_bud_c(air_c, saturation, full, wind_mps, ORGAN_SIZE_M[organ])
    assert air_c - full - 1e-9 <= dry <= air_c + 1e-9
    # Dew shrinks the deficit and never removes it.
    assert (air_c - dry) >= 0.5 * full - 1e-9
    wet_bulb = wet_bulb_c(air_c, dew_c, 1000.0)
    wet = wet_bud_c(wet_bulb, ice_bulb_c(air_c, dew_c, 1000.0), full)
    # A wet bud is warmer than a dry one by no more than the share it does not lose.
    assert wet - dry <= 0.4 * full + 1e-6


def test_calm_weight_has_no_step() -> None:
    winds = np.arange(0.0, 10.0, 0.01)
    for hides_calm in (False, True):
        weight = calm_weight(winds, hides_calm=hides_calm)
        assert weight[0] == 1.0
        assert weight[-1] == 0.0
        assert np.abs(np.diff(weight)).max() < 0.01


def test_a_source_that_hides_calms_counts_light_wind_as_calm() -> None:
    assert calm_weight(one(3.5), hides_calm=True)[0] == pytest.approx(1.0)
    assert calm_weight(one(3.5), hides_calm=False)[0] < 0.6


def test_unknown_wind_and_sky_count_as_calm_and_clear() -> None:
    assert calm_weight(one(np.nan), hides_calm=False)[0] == 1.0
    assert open_sky(one(np.nan), one(np.nan))[0] == 1.0


def test_low_cloud_shuts_the_sky_and_total_cloud_only_half() -> None:
    assert open_sky(one(100.0), one(np.nan))[0] == pytest.approx(0.5)
    assert open_sky(one(100.0), one(100.0))[0] == 0.0
    assert open_sky(one(100.0), one(0.0))[0] == 1.0


@given(low=st.floats(0.0, 100.0), total=st.floats(0.0, 100.0), more=st.floats(0.0, 5.0))
def test_more_cloud_shuts_the_sky_further_and_never_at_a_step(
    low: float, total: float, more: float
) -> None:
    both = np.array([low, min(100.0, low + more)])
    by_layers = open_sky(np.full(2, total), both)
    by_total = open_sky(both, np.full(2, np.nan))
    for share, least in ((by_layers, 0.0), (by_total, 0.5)):
        assert least <= share[1] <= share[0] <= 1.0
        assert share[0] - share[1] <= more / 100.0 + 1e-9


def test_height_and_hollow_are_never_counted_together_in_full() -> None:
    # 6.5 degC a kilometre, ICAO Standard Atmosphere, on mixed nights only.
    lapse = lapse_delta_c(1200.0, 1000.0, np.array([0.0, 0.5, 1.0]))
    assert lapse == pytest.approx([-1.3, -0.65, 0.0])
    assert lapse_delta_c(1200.0, None, np.zeros(2)).tolist() == [0.0, 0.0]


def test_ground_crops_get_an_allowance_unless_measured_there() -> None:
    assert ground_delta_c(0.2, is_measured_at_height=False) == -2.0
    assert ground_delta_c(0.2, is_measured_at_height=True) == 0.0
    assert ground_delta_c(2.5, is_measured_at_height=False) == 0.0


@given(air=st.floats(-20, 20), dew=st.floats(-30, 20))
def test_cooled_air_never_falls_below_its_dew_point(air: float, dew: float) -> None:
    assert shifted_dewpoint_c(one(dew), one(air))[0] <= air


def test_a_film_dries_in_dry_wind_and_stays_in_humid_calm() -> None:
    # 0.1 mm: about 20 minutes in dry wind, hours when it is calm and humid.
    windy = drying_mm_per_h(one(6.5), one(4.2), one(3.0))[0]
    calm = drying_mm_per_h(one(6.0), one(5.8), one(0.2))[0]
    assert 0.1 / windy * 60.0 < 25.0
    assert 0.1 / calm > 3.0


def test_wetness_lasts_until_the_film_is_dry() -> None:
    rain = np.array([0.0, 0.9, 0.0, 0.0, 0.0])
    slow, quick = np.full(5, 0.04), np.full(5, 0.2)
    assert rain_wet_probability(rain, slow).tolist() == [0.0, 0.9, 0.9, 0.9, 0.0]
    assert rain_wet_probability(rain, quick).tolist() == [0.0, 0.9, 0.0, 0.0, 0.0]


def test_unknown_rain_is_refused_not_taken_as_dry() -> None:
    with pytest.raises(PhysicsDomainError):
        rain_wet_probability(np.array([np.nan]), np.array([0.1]))


def test_dew_is_likelier_the_colder_the_bud() -> None:
    chance = dew_probability(np.array([-3.0, -1.0, 1.0]), np.full(3, -1.0))
    assert chance[1] == pytest.approx(0.5)
    assert chance[0] > 0.85
    assert chance[2] < 0.15


def test_wet_weather_without_a_stated_chance_counts_half() -> None:
    chance = wet_weather_chance(
        np.array([np.nan, np.nan, 30.0]), np.array([True, False, True])
    )
    assert chance.tolist() == [0.5, 0.0, 0.3]


@pytest.mark.parametrize(
    ("wind_mps", "high_c", "kind"),
    [
        (3.5, 9.0, NightKind.RADIATION),
        # 2.5 m/s at 2 m, above which an inversion is unlikely, is 3.6 m/s at 10 m.
        (3.6, 9.0, NightKind.MIXED),
        (4.3, 9.0, NightKind.MIXED),
        (3.5, -0.5, NightKind.MIXED),
        (4.3, -0.5, NightKind.ADVECTION),
        (None, 9.0, NightKind.RADIATION),
    ],
)
def test_radiation_needs_light_wind_and_a_day_above_freezing(
    wind_mps: float | None, high_c: float, kind: NightKind
) -> None:
    signs = NightSigns(
        calm=0.7,
        open_sky=0.95,
        wind_mps=wind_mps,
        has_sky=True,
        evening_wet_chance=0.0,
        evening_high_c=high_c,
    )
    assert night_kind(signs)[0] is kind


@pytest.mark.parametrize(
    ("calm", "sky", "wet", "kind"),
    [
        (1.0, 0.95, 0.0, NightKind.RADIATION),
        (0.1, 0.9, 0.0, NightKind.ADVECTION),
        (0.5, 0.9, 0.0, NightKind.MIXED),
        (0.9, 0.5, 0.0, NightKind.MIXED),
        (0.9, 0.9, 0.8, NightKind.WET_THEN_CLEARING),
        # A sky that stays shut clears nothing.
        (0.9, 0.0, 0.8, NightKind.MIXED),
        (0.1, 0.0, 0.8, NightKind.ADVECTION),
    ],
)
def test_kinds_of_night(calm: float, sky: float, wet: float, kind: NightKind) -> None:
    signs = NightSigns(
        calm=calm,
        open_sky=sky,
        wind_mps=2.0,
        has_sky=True,
        evening_wet_chance=wet,
        evening_high_c=9.0,
    )
    found, reason = night_kind(signs)
    assert found is kind
    assert "m/s" in reason
    if kind is not NightKind.ADVECTION:
        assert ("80 % chance of rain or snow" in reason) is (wet > 0.5)
