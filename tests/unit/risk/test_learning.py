"""What is learned of a site: shrunk, limited, and not led astray by one night."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from frostalert.forecast.nws import parse_grid
from frostalert.model.assessment import NightKind
from frostalert.model.forecast import HOUR
from frostalert.model.hours import SiteNight
from frostalert.model.learned import ForecastObservation
from frostalert.model.nights import Facts, TermName
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.model.site import Farm
from frostalert.risk.assess import assess_all
from frostalert.risk.learning import (
    night_pair,
    observed_low_c,
)
from frostalert.risk.site_hours import prepare_site_hours
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import SITE, make_block, make_holding

CLEAR = NightKind.RADIATION
EVENING = datetime(2026, 4, 12, 23, tzinfo=UTC)
POST = Sensor(name="Post", kind=SensorKind.REFERENCE)
HOLDING: Farm = replace(make_holding(make_block()), sensors=(POST,))
RUN = parse_grid(grid_text(air_c=frosty_hours(low_c=1.0), wind_kmh=1.8), EVENING)
NIGHT: SiteNight = prepare_site_hours(RUN, SITE, EVENING).nights[0]


def pairs(*errors: float, kind: NightKind = CLEAR) -> list[ForecastObservation]:
    return [
        ForecastObservation(
            night=date(2026, 3, 1) + timedelta(days=n),
            source="nws",
            kind=kind,
            forecast_low_c=0.0,
            observed_low_c=error,
        )
        for n, error in enumerate(errors)
    ]


def readings(low_c: float, *, every_min: int = 30, **change: object) -> list[Reading]:
    assert NIGHT.sunset_utc is not None
    assert NIGHT.sunrise_utc is not None
    hours = (NIGHT.sunrise_utc - NIGHT.sunset_utc) / timedelta(minutes=every_min)
    return [
        Reading(
            sensor="Post",
            at_utc=NIGHT.sunset_utc + n * timedelta(minutes=every_min),
            air_c=low_c + 5.0 * (1.0 - n / hours),
            **change,  # type: ignore[arg-type]
        )
        for n in range(int(hours) + 1)
    ]


def test_the_low_of_a_night_stands_against_one_wild_reading() -> None:
    wild = [*readings(-1.0), replace(readings(-1.0)[9], air_c=-20.0)]
    low = observed_low_c(wild, HOLDING, NIGHT)
    assert low is not None
    assert low == pytest.approx(-1.0, abs=0.3)


@pytest.mark.parametrize(
    ("items", "sensor"),
    [
        (readings(-1.0)[:8], POST),
        (readings(-1.0, problem="stuck"), POST),
        (readings(-1.0), replace(POST, is_treated=True)),
        (readings(-1.0), replace(POST, kind=SensorKind.EXPOSED)),
        ([], POST),
    ],
    ids=["ends before dawn", "not believed", "beside a fire", "exposed", "none"],
)
def test_what_does_not_show_the_low_teaches_nothing(
    items: list[Reading], sensor: Sensor
) -> None:
    farm = replace(HOLDING, sensors=(sensor,))
    assert observed_low_c(items, farm, NIGHT) is None
    assert night_pair(RUN, farm, items, EVENING) is None


@pytest.mark.parametrize(
    ("before_dawn_h", "is_covered"),
    [((3.9, 2.0, 1.0, 0.2), True), ((4.1, 2.0, 1.0, 0.2), False)],
)
def test_four_readings_in_the_last_four_hours_of_the_dark_are_a_nights_low(
    before_dawn_h: tuple[float, ...], *, is_covered: bool
) -> None:
    assert NIGHT.sunrise_utc is not None
    items = [
        Reading(sensor="Post", at_utc=NIGHT.sunrise_utc - hours * HOUR, air_c=-1.0)
        for hours in (9.0, 7.0, 6.0, *before_dawn_h)
    ]
    assert observed_low_c(items, HOLDING, NIGHT) == (-1.0 if is_covered else None)


def test_a_pair_is_against_the_uncorrected_low() -> None:
    pair = night_pair(RUN, HOLDING, readings(-1.0), EVENING)
    assert pair is not None
    assert (pair.night, pair.source, pair.kind) == (date(2026, 4, 12), "nws", CLEAR)
    assert pair.forecast_low_c == pytest.approx(1.0)
    assert pair.error_c == pytest.approx(-2.0, abs=0.3)


def test_the_dark_hours_are_moved_once_and_the_note_says_by_how_much() -> None:
    known = pairs(*[-2.0] * 12)
    nights = assess_all(HOLDING, Facts(runs=(RUN,), pairs=tuple(known)), EVENING)
    moved = nights.site_hours
    assert moved is not None
    change = moved.air_c - RUN.hours.air_c
    # Nights fade by half after twelve of their kind.
    counted = sum(0.5 ** (n / 12.0) for n in range(12))
    assert change[25] == pytest.approx(-2.0 * counted / (counted + 3.0))  # before dawn
    assert change[9] == 0.0  # the afternoon
    assert (moved.dewpoint_c <= moved.air_c + 1e-9).all()
    low = nights.assessment.nights[0].site_low
    assert low is not None
    # Twelve nights that agree: the site is known, and the error that is left is small.
    assert (low.site_sigma_c, low.sigma_c < HOLDING.rules.sigma_c) == (0.0, True)
    assert nights.assessment.forecast is not None
    note = nights.assessment.forecast.notes[-1]
    assert "runs 1.5 C (2.7 F) below this forecast" in note
    assert "12 nights" in note
    # The source's own run stays what it was, and what was added has its name.
    assert moved.run is RUN
    terms = [item for item in nights.terms if item.name is TermName.LEARNED]
    assert terms[0].at_c(25) == pytest.approx(change[25])


def test_without_nights_nothing_is_changed() -> None:
    nights = assess_all(HOLDING, Facts(runs=(RUN,)), EVENING)
    assert nights.farm == HOLDING
    assert nights.site_hours is not None
    assert np.array_equal(nights.site_hours.air_c, RUN.hours.air_c)
