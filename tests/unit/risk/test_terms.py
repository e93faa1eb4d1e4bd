"""What corrections do to a site's hours and to a night's low."""

from datetime import timedelta

import numpy as np
import pytest

from frostalert.forecast.nws import parse_grid
from frostalert.model.nights import Term, TermName
from frostalert.risk.terms import corrected
from tests.support.holdings import make_block, make_holding
from tests.support.judged import nights_of
from tests.support.plans import TWO_IN_THE_AFTERNOON, night_grid


@pytest.mark.parametrize("value_c", [-1.5, 0.8])
def test_a_correction_moves_hours_and_low_of_its_own_night_the_same_way(
    value_c: float,
) -> None:
    now = TWO_IN_THE_AFTERNOON
    run = parse_grid(night_grid(-3.0, updated=now - timedelta(minutes=20)), now)
    shared = nights_of(make_holding(make_block()), run, now).site_hours
    assert shared is not None
    first, second, *_ = shared.nights
    assert first.low_c is not None
    weights = np.zeros_like(shared.air_c)
    weights[:30] = 1.0  # until the next afternoon
    term = Term(
        name=TermName.LEARNED,
        value_c=value_c,
        weights=weights,
        origin="a test",
        night=first.window.night,
    )
    moved = corrected(shared, [term])
    np.testing.assert_allclose(moved.air_c, shared.air_c + weights * value_c)
    assert moved.nights[0].low_c == pytest.approx(first.low_c + value_c)
    assert moved.nights[1].low_c == second.low_c
