"""The benchmark of the wet bulb in the short form: it measures what it says."""

import numpy as np

from frostalert.physics.humidity import (
    PSYCHROMETER_ICE_PER_C,
    PSYCHROMETER_WATER_PER_C,
    ice_bulb_c,
    wet_bulb_c,
)
from frostalert.physics.saturation import ICE, WATER
from tests.benchmarks.wet_bulb import (
    AIM_C,
    SAMPLE,
    make_states,
    metpys_own_c,
    plain_bulb_c,
    rows,
)


def test_the_plain_way_finds_the_same_bulbs() -> None:
    states = make_states(500)
    water = plain_bulb_c(states, WATER, PSYCHROMETER_WATER_PER_C)
    np.testing.assert_allclose(water, wet_bulb_c(*states), rtol=0.0, atol=AIM_C)
    ice, ours = plain_bulb_c(states, ICE, PSYCHROMETER_ICE_PER_C), ice_bulb_c(*states)
    has_ice = np.isfinite(ours)
    assert 100 < has_ice.sum() < 500
    np.testing.assert_allclose(ice[has_ice], ours[has_ice], rtol=0.0, atol=AIM_C)
    assert np.all(ice[~has_ice] > 0.0)


def test_metpys_own_wet_bulb_is_taken_of_the_same_air() -> None:
    states = make_states(SAMPLE)
    assert np.max(np.abs(metpys_own_c(states) - wet_bulb_c(*states))) < 0.6


def test_every_row_has_a_name_and_a_figure() -> None:
    found = dict(row.split(": ") for row in rows(count=2000, rounds=1))
    assert len(found) == 10
    for value in found.values():
        assert float(value.split()[0].replace(",", "")) > 0.0
