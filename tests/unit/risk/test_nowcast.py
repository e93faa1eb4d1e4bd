"""The nowcast: what it starts from, and how a site's own past corrects it."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from frostalert.forecast.nws import parse_grid
from frostalert.model.forecast import HOUR, ForecastRun
from frostalert.model.hours import SiteHours
from frostalert.model.learned import NowcastPair
from frostalert.model.nights import Facts, Nights, TermName
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.model.site import Farm
from frostalert.physics.cooling import SQUARE_ROOT
from frostalert.physics.nights import night_window
from frostalert.risk.assess import assess_all
from frostalert.risk.explain import explain
from frostalert.risk.nowcast import (
    GUESSED_AFTER,
    AirAt,
    ForecastEvening,
    Nowcast,
    begin_nowcast,
    sunset_air_c,
)
from frostalert.risk.nowcast_error import (
    MOST_MISSED_C,
    VERSION,
    guess_moment,
    nowcast_error,
    nowcast_pair,
)
from frostalert.risk.readings import expected_air
from tests.support.grids import FIRST, frosty_hours, grid_text
from tests.support.holdings import SITE, make_block, make_holding

NIGHT = date(2026, 4, 12)
WINDOW = night_window(NIGHT, ZoneInfo(SITE.time_zone))
EVENING = datetime(2026, 4, 13, 5, tzinfo=UTC)  # 22:00 local
POST = Sensor(name="Post", kind=SensorKind.REFERENCE)
HOLDING = replace(make_holding(make_block()), sensors=(POST,))
SUNSET = datetime(2026, 4, 13, 2, 30, tzinfo=UTC)
SUNRISE = datetime(2026, 4, 13, 13, tzinfo=UTC)
GUESS_AT = guess_moment(SITE, WINDOW)
BEFORE_DAWN = 24
"""12 UTC: the hour before sunrise, on the grid that begins at 12 UTC."""


def evening(**change: object) -> ForecastEvening:
    return replace(
        ForecastEvening(
            sunset_utc=SUNSET, sunrise_utc=SUNRISE, sunset_air_c=9.0, dewpoint_c=0.0
        ),
        **change,  # type: ignore[arg-type]
    )


def at(hours_after_sunset: float, air_c: float) -> AirAt:
    return AirAt(at_utc=SUNSET + hours_after_sunset * HOUR, air_c=air_c)


def begun(
    hours: float = 2.0, air_c: float = 5.0, *readings: AirAt, **change: object
) -> Nowcast:
    nowcast = begin_nowcast(at(hours, air_c), readings, evening(**change))
    assert nowcast is not None
    return nowcast


def run_of(low_c: float = 2.0, wind_kmh: float = 1.8) -> ForecastRun:
    air = frosty_hours(low_c=low_c)
    return parse_grid(grid_text(air_c=air, wind_kmh=wind_kmh), EVENING)


RUN = run_of()


def taught(*errors: float, version: int = VERSION) -> tuple[NowcastPair, ...]:
    return tuple(
        NowcastPair(
            night=NIGHT - timedelta(days=n + 1),
            guess_c=1.0,
            low_c=1.0 + error,
            version=version,
        )
        for n, error in enumerate(errors)
    )


def read(air_c: float, moment: datetime = EVENING) -> Reading:
    return Reading(sensor="Post", at_utc=moment, air_c=air_c)


def judged(*errors: float, air_c: float = 0.0, **change: object) -> Nights:
    """Return the nights by a reading, and by what was missed.

    It lies so far below the forecast that the curve from it shapes the night.
    """
    facts = Facts(runs=(RUN,), readings=(read(air_c),), nowcasts=taught(*errors))
    return assess_all(HOLDING, replace(facts, **change), EVENING)  # type: ignore[arg-type]


def air_of(nights: Nights) -> np.ndarray:
    assert nights.site_hours is not None
    return nights.site_hours.air_c


def term(nights: Nights, name: TermName) -> float:
    return sum(item.at_c(BEFORE_DAWN) for item in nights.terms if item.name is name)


def night_readings(*, fall_c: float = 8.0, every_min: int = 20) -> list[Reading]:
    """Return a clear night's readings: a square root of time from 10 degC on."""
    assert GUESS_AT is not None
    sunset = GUESS_AT - GUESSED_AFTER
    moments = [
        sunset + n * timedelta(minutes=every_min)
        for n in range(-4, 12 * 60 // every_min)
    ]
    hours = [max(0.0, (moment - sunset) / HOUR) for moment in moments]
    return [
        read(10.0 - fall_c * min(1.0, (hour / 10.5) ** 0.5), moment)
        for moment, hour in zip(moments, hours, strict=True)
    ]


def test_the_thermometers_own_sunset_goes_before_the_forecasts() -> None:
    read_there = [at(-0.5, 9.0), at(0.5, 7.0)]
    own, forecast = begun(2.0, 5.0, *read_there), begun(2.0, 5.0)
    assert (own.has_own_sunset, forecast.has_own_sunset) == (True, False)
    assert (own.fall_c, forecast.fall_c) == pytest.approx((3.0, 4.0))


@pytest.mark.parametrize(
    ("readings", "air_c"),
    [
        ([at(-0.75, 9.0), at(0.25, 7.0)], 7.5),
        ([at(0.0, 8.0)], 8.0),
        ([at(-1.0, 9.0), at(-0.2, 8.4), at(0.2, 8.0), at(1.0, 6.0)], 8.2),
        ([at(-0.1, 9.0)], None),
        ([at(0.1, 9.0)], None),
        ([at(-1.5, 9.0), at(0.5, 7.0)], None),
        ([], None),
    ],
    ids=["between", "at it", "the nearest", "before", "after", "too far", "none"],
)
def test_the_air_at_sunset_lies_between_readings(
    readings: list[AirAt], air_c: float | None
) -> None:
    found = sunset_air_c(readings, SUNSET)
    assert found == (None if air_c is None else pytest.approx(air_c))


@pytest.mark.parametrize("change", [{"sunset_air_c": None}, {"dewpoint_c": None}])
def test_what_nobody_knows_is_not_made_up(change: dict[str, None]) -> None:
    assert begin_nowcast(at(2.0, 5.0), (), evening(**change)) is None


def test_the_plain_root_goes_on_as_it_fell() -> None:
    # 4 degC in 2 h: as much again at the fourfold time.
    nowcast = begun(2.0, 5.0)
    low = nowcast.air_after_c(np.array([6.0]), cooling=SQUARE_ROOT)
    assert float(low[0]) == pytest.approx(1.0)


def test_what_was_missed_counts_whole_two_hours_after_sunset_and_less_later() -> None:
    early, late = begun(2.0), begun(8.0)
    assert early.low_c(-2.0) - early.low_c() == pytest.approx(-2.0)
    # From 8 to 10.5 h after sunset the root of time still grows by a quarter of what
    # it grows from 2 h on: (3.24 - 2.83) / (3.24 - 1.41).
    assert late.low_c(-2.0) - late.low_c() == pytest.approx(-0.452, abs=0.005)
    assert begun(0.5).low_c(-2.0) - begun(0.5).low_c() == pytest.approx(-2.0)


def test_a_site_that_cools_less_is_never_told_to_warm() -> None:
    nowcast = begun(2.0, 5.0, sunset_air_c=5.0, dewpoint_c=5.0)
    assert nowcast.low_c() < 5.0
    assert nowcast.low_c(9.0) == 5.0


@pytest.mark.parametrize(
    ("errors", "applied_c"),
    [
        ([], 0.0),
        ([-2.0], -0.4),
        ([-2.0] * 4, -1.0),
        ([-2.0] * 12, -1.5),
        ([1.4] * 9, 0.0),
        ([1.4] * 10, 0.5),
        ([9.0] * 10, 1.0),
        ([2.0, -2.0] * 5, 0.0),
    ],
    ids=["none", "one", "four", "twelve", "nine", "ten", "hot", "no habit"],
)
def test_the_mean_error_is_shrunk_by_four_nights_and_warmth_counts_late(
    errors: list[float], applied_c: float
) -> None:
    found = nowcast_error(taught(*errors), NIGHT)
    assert found.applied_c == pytest.approx(applied_c)
    assert found.nights == len(errors)


def test_one_night_teaches_only_so_much() -> None:
    wild = nowcast_error(taught(-20.0, -1.0), NIGHT)
    assert wild.applied_c == pytest.approx((-MOST_MISSED_C - 1.0) / 6.0)


def test_nights_to_come_and_another_way_to_guess_teach_nothing() -> None:
    pairs = taught(-2.0, -2.0)
    assert nowcast_error(pairs, NIGHT - timedelta(days=1)).nights == 1
    assert nowcast_error(taught(-2.0, version=VERSION - 1), NIGHT).nights == 0


def test_a_night_is_paired_as_it_was_guessed_after_sunset() -> None:
    assert GUESS_AT is not None
    readings = night_readings()
    pair = nowcast_pair(RUN, HOLDING, readings, GUESS_AT)
    assert pair is not None
    assert (pair.night, pair.version) == (NIGHT, VERSION)
    assert pair.low_c == pytest.approx(2.0)
    now = min(readings, key=lambda item: abs(item.at_utc - GUESS_AT))
    shared = prepare(RUN)
    dew = float(np.interp((now.at_utc - FIRST) / HOUR, range(72), shared.dewpoint_c))
    night = shared.nights[0]
    assert night.sunset_utc is not None
    assert night.sunrise_utc is not None
    guess = begin_nowcast(
        AirAt(at_utc=now.at_utc, air_c=now.air_c),
        [AirAt(at_utc=item.at_utc, air_c=item.air_c) for item in readings],
        ForecastEvening(
            sunset_utc=night.sunset_utc,
            sunrise_utc=night.sunrise_utc,
            sunset_air_c=None,
            dewpoint_c=dew,
        ),
    )
    assert guess is not None
    assert pair.guess_c == pytest.approx(guess.low_c())


@pytest.mark.parametrize(
    ("run", "farm", "readings"),
    [
        (run_of(wind_kmh=30.0), HOLDING, night_readings()),
        (RUN, HOLDING, night_readings()[8:]),
        (RUN, HOLDING, night_readings()[:20]),
        (RUN, HOLDING, [*night_readings()[:8], *night_readings()[12:]]),
        (RUN, HOLDING, [replace(r, problem="stuck") for r in night_readings()]),
        (RUN, HOLDING, []),
        (
            RUN,
            replace(HOLDING, sensors=(replace(POST, is_treated=True),)),
            night_readings(),
        ),
    ],
    ids=[
        "windy",
        "not read at sunset",
        "not read until dawn",
        "not read two hours after sunset",
        "not believed",
        "not read",
        "beside a fire",
    ],
)
def test_what_shows_no_clear_night_teaches_nothing(
    run: ForecastRun, farm: Farm, readings: list[Reading]
) -> None:
    assert GUESS_AT is not None
    assert nowcast_pair(run, farm, readings, GUESS_AT) is None


def test_the_live_hours_follow_the_same_nowcast() -> None:
    # So much colder than forecast that nothing else shapes the hours before dawn.
    nights, here = judged(-2.0, air_c=-1.0), read(-1.0)
    shared = prepare(RUN)
    night = shared.nights[0]
    assert night.sunset_utc is not None
    assert night.sunrise_utc is not None
    place = (night.sunset_utc - FIRST) / HOUR
    nowcast = begin_nowcast(
        AirAt(at_utc=here.at_utc, air_c=here.air_c),
        (),
        ForecastEvening(
            sunset_utc=night.sunset_utc,
            sunrise_utc=night.sunrise_utc,
            sunset_air_c=float(np.interp(place, range(72), shared.air_c)),
            dewpoint_c=float(shared.dewpoint_c[(EVENING - FIRST) // HOUR]),
        ),
    )
    assert nowcast is not None
    ahead = np.array([FIRST + BEFORE_DAWN * HOUR - EVENING]) / HOUR
    told = nowcast.air_after_c(ahead.astype(float), -0.4)
    assert air_of(nights)[BEFORE_DAWN] == pytest.approx(float(told[0]))


def test_a_reading_at_sunset_changes_the_live_curve() -> None:
    cold = read(0.0)
    # It stood at 2 degC at sunset: it has hardly fallen, whatever was forecast.
    sunset = prepare(RUN).nights[0].sunset_utc
    assert sunset is not None
    early = (read(2.0, sunset - HOUR / 4), read(2.0, sunset + HOUR / 4))
    alone = judged(readings=(cold,))
    beside = judged(readings=(*early, cold))
    assert air_of(beside)[BEFORE_DAWN] > air_of(alone)[BEFORE_DAWN] + 1.0


def test_colder_is_a_term_of_its_own_that_fades_in_until_sunrise() -> None:
    plain, nights = judged(), judged(*[-3.0] * 6)
    added = air_of(nights) - air_of(plain)
    assert added[BEFORE_DAWN] < -0.5
    assert term(nights, TermName.NOWCAST) == pytest.approx(added[BEFORE_DAWN])
    assert term(plain, TermName.NOWCAST) == 0.0
    now = (EVENING - FIRST) // HOUR
    assert np.abs(added[: now + 1]).max() == 0.0
    assert (np.diff(added[now : BEFORE_DAWN + 1]) <= 0.0).all()
    assert (added[BEFORE_DAWN + 3 :] == 0.0).all()
    [own] = [item for item in nights.terms if item.name is TermName.NOWCAST]
    assert (own.origin, own.block) == ("Post, 6 nights", None)
    assert ((own.weights >= 0.0) & (own.weights <= 1.0)).all()


def test_warmer_takes_back_part_of_the_curve_and_never_passes_the_forecast() -> None:
    nine, ten = (judged(*[3.0] * n) for n in (9, 10))
    plain = judged()
    assert np.array_equal(air_of(nine), air_of(plain))
    raised = air_of(ten) - air_of(plain)
    assert 0.0 < raised.max() <= 1.0
    assert (raised >= 0.0).all()
    assert (air_of(ten) <= RUN.hours.air_c + 1e-9).all()


def test_without_a_reading_the_past_changes_nothing() -> None:
    nights = judged(*[-3.0] * 6, readings=())
    assert np.array_equal(air_of(nights), RUN.hours.air_c)


def test_it_is_said_and_explained() -> None:
    nights = judged(*[-3.0] * 6)
    assert nights.assessment.forecast is not None
    note = nights.assessment.forecast.notes[-1]
    assert "falls 1.8 C (3.2 F) further" in note
    assert note.endswith("(6 nights): included")
    [step] = [
        step
        for step in explain(nights, HOLDING.blocks[0], NIGHT).steps
        if step.source == "Post, 6 nights"
    ]
    assert step.value is not None
    assert step.value < -0.5
    warm = judged(*[3.0] * 12).assessment.forecast
    assert warm is not None
    assert "falls 2.2 C (4.0 F) less far" in warm.notes[-1]
    assert "+1.0 C of it included" in warm.notes[-1]


def test_what_a_thermometer_should_read_is_by_the_forecast_alone() -> None:
    [plain] = expected_air(judged(readings=()))
    [taught_too] = expected_air(judged(*[-3.0] * 6))
    assert taught_too.air_c == pytest.approx(plain.air_c, abs=0.011)


def prepare(run: ForecastRun) -> SiteHours:
    hours = assess_all(HOLDING, Facts(runs=(run,)), EVENING).site_hours
    assert hours is not None
    return hours
