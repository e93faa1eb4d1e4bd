"""What the nowcast's command prints: no worse than is stated, by station held out.

And on synthetic sites that the site's own past helps where there is a habit to learn.
"""

import re
from collections.abc import Iterator
from contextlib import redirect_stdout
from datetime import UTC, date, datetime, timedelta
from io import StringIO
from pathlib import Path

import numpy as np
import pytest

from frostalert.model.learned import NowcastPair
from frostalert.physics.cooling import FITTED
from frostalert.risk.nowcast import AirAt, ForecastEvening, Nowcast, begin_nowcast
from frostalert.risk.nowcast_error import VERSION, nowcast_error
from tests.evaluation.clear_nights import AFTER_SUNSET
from tests.evaluation.nowcast import CURVE, OWN, ROOT, WAYS, main
from tests.evaluation.stations import Station, load_greensboro, read_hours

PAGE = Path(__file__).parents[1] / "README.md"
HELD_OUT = "held out by station"
FROSTY = f"{HELD_OUT}, lows of 0 to 3 degC"
ERRING = f"{HELD_OUT}, read only after sunset, and the forecast errs"
BEFORE_SUNRISE = tuple(f"{lead} h before sunrise" for lead in (6, 4, 2))
STATED_C = {
    HELD_OUT: (1.93, 1.41, 1.07, 0.65),
    FROSTY: (2.5, 1.41, 1.39, 0.65),
    ERRING: (2.45, 1.55, 1.13, 0.69),
}
"""Most that the shipped way may err, 2 h after sunset and 6, 4 and 2 h before sunrise.
[degC]"""
LEAST_GAIN = 0.03
"""Less than this better than the plain square root, and that would ship instead."""

Printed = dict[str, dict[str, dict[str, str]]]


@pytest.fixture(scope="module")
def printed() -> Printed:
    return tables_of(said())


def said(*arguments: str) -> str:
    text = StringIO()
    with redirect_stdout(text):
        assert main(list(arguments)) == 0
    return text.getvalue()


def tables_of(text: str) -> Printed:
    """Return by table, row and column what was printed."""
    found: Printed = {}
    for part in text.strip().split("\n\n"):
        title, *lines = part.splitlines()
        rows = [line.split(" | ") for line in lines]
        if rows:
            found[title.partition(";")[0]] = {
                row[0]: dict(zip(rows[0], row, strict=True)) for row in rows[1:]
            }
    return found


def errors(printed: Printed, table: str, way: str) -> dict[str, float]:
    return {row: float(cells[way]) for row, cells in printed[table].items()}


@pytest.mark.parametrize("table", STATED_C)
def test_the_shipped_way_is_no_worse_than_is_stated(
    printed: Printed, table: str
) -> None:
    rows = (AFTER_SUNSET, *BEFORE_SUNRISE)
    found = errors(printed, table, OWN)
    assert found.keys() == set(rows)
    for row, most in zip(rows, STATED_C[table], strict=True):
        assert 0.0 < found[row] <= most, row


def test_the_curve_earns_its_place_against_the_plain_square_root(
    printed: Printed,
) -> None:
    for table in (HELD_OUT, FROSTY, ERRING):
        curve, root = (errors(printed, table, way) for way in (CURVE, ROOT))
        assert all(curve[row] <= root[row] for row in root), table
        late = [sum(way[row] for row in BEFORE_SUNRISE) for way in (curve, root)]
        assert late[0] <= (1.0 - LEAST_GAIN) * late[1], table
        assert curve[AFTER_SUNSET] <= (1.0 - LEAST_GAIN) * root[AFTER_SUNSET], table


def test_all_carried_places_are_tried(printed: Printed) -> None:
    places = printed[f"{HELD_OUT}, {AFTER_SUNSET}"]
    assert len(places) == 5
    counted = sum(int(cells["nights"]) for cells in places.values())
    assert counted == int(printed[HELD_OUT][AFTER_SUNSET]["nights"]) > 250
    assert int(printed[FROSTY][AFTER_SUNSET]["nights"]) > 25


def test_the_program_uses_what_was_fitted() -> None:
    assert said().strip().splitlines()[-1] == f"fitted to all carried places: {FITTED}"


def test_the_page_says_what_is_printed(printed: Printed) -> None:
    rows = re.findall(
        r"^\| (five places|lows of 0 to 3 °C), (.+?) \|(.+)\|$",
        PAGE.read_text(),
        re.M,
    )
    assert len(rows) == 8
    for what, moment, cells in rows:
        table = printed[HELD_OUT if what == "five places" else FROSTY][moment]
        shown = [cell.strip() for cell in cells.split("|")]
        ways = ("persistence", "mean of other places", ROOT, CURVE, OWN)
        assert shown == [table["nights"], *(table[way] for way in ways)], moment


@pytest.mark.parametrize("suffix", [".epw", ".dat"])
def test_a_file_of_hours_is_read_as_the_packaged_one(
    tmp_path: Path, suffix: str
) -> None:
    station = load_greensboro()
    path = tmp_path / f"hours{suffix}"
    write = {".epw": epw_lines, ".dat": try_lines}[suffix]
    path.write_text("\n".join(write(station)), encoding="utf-8")
    back = read_hours(path)
    assert (back.name, back.air_c.size) == (station.name, 8760)
    assert back.latitude == pytest.approx(station.latitude, abs=0.01)
    assert np.allclose(back.air_c, station.air_c)
    assert np.allclose(back.dewpoint_c, station.dewpoint_c, atol=0.4)
    assert np.allclose(back.wind_mps, station.wind_mps)
    assert np.allclose(back.cloud_pct, station.cloud_pct, atol=6.3)


def epw_lines(station: Station) -> Iterator[str]:
    place = (station.latitude, station.longitude, -5.0, station.elevation_m)
    yield f"LOCATION,{station.name},NC,USA,TMY3,723170,{','.join(map(str, place))}"
    yield from ["-"] * 7
    for hour in range(station.air_c.size):
        cells = ["0"] * 35
        cells[6], cells[7] = str(station.air_c[hour]), str(station.dewpoint_c[hour])
        cells[21] = str(station.wind_mps[hour])
        cells[22] = str(station.cloud_pct[hour] / 10.0)
        yield ",".join(cells)


def try_lines(station: Station) -> Iterator[str]:
    yield "TRY99   Somewhere    (Klimaregion 99)"
    yield f"Station: {station.name}          WMO-Nummer: 99999"
    yield "Lage: 36°06'N <- B.  79°57'O <- L.    273 Meter ueber NN"
    yield from ["", "***"]
    for hour in (-1, *range(station.air_c.size)):
        cells = ["0"] * 19
        air, dew = station.air_c[hour], station.dewpoint_c[hour]
        # Over water, Bolton 1980, eq. 10.
        part = [np.exp(17.67 * value / (value + 243.5)) for value in (dew, air)]
        cells[5] = str(round(station.cloud_pct[hour] / 12.5))
        cells[7], cells[8] = str(station.wind_mps[hour]), str(air)
        cells[11] = str(round(100.0 * part[0] / part[1], 1))
        yield " ".join(cells)


def test_further_files_are_places_of_their_own(tmp_path: Path) -> None:
    path = tmp_path / "hours.epw"
    path.write_text("\n".join(epw_lines(load_greensboro())))
    unseen = tables_of(said("--hours", str(path)))["unseen places"]
    assert unseen[AFTER_SUNSET]["nights"] == "45"
    # By the coefficients that ship, not by those of the other places.
    assert set(unseen[AFTER_SUNSET]) > set(WAYS)


SITES, NIGHTS, NOISE_C = 30, 24, 1.2
SUNSET = datetime(2026, 4, 13, 2, tzinfo=UTC)
SUNRISE = SUNSET + timedelta(hours=11)


def synthetic_site(seed: int, habit_c: float) -> tuple[float, float]:
    """Return the RMSE without and with its own past, of the second half of a season.

    Each low is the program's own guess, with a habitual error and one of chance; half
    of the readings come two hours after sunset, half towards morning. [degC]
    """
    random = np.random.default_rng([seed, 5])
    pairs: list[NowcastPair] = []
    missed: list[tuple[float, float]] = []
    for n in range(NIGHTS):
        night = date(2026, 3, 1) + timedelta(days=n)
        dusk_c, rate = random.uniform(5.0, 15.0), random.uniform(1.0, 4.0)
        early, late = (
            begun(hours, dusk_c, dusk_c - rate * hours**0.5) for hours in (2.0, 7.0)
        )
        error_c = habit_c + random.normal(0.0, NOISE_C)
        applied_c = nowcast_error(pairs, night).applied_c
        now = late if n % 2 else early
        low_c = now.low_c(error_c)
        if n >= NIGHTS // 2:
            missed.append((low_c - now.low_c(), low_c - now.low_c(applied_c)))
        guess_c = early.low_c()
        pairs.append(
            NowcastPair(
                night=night,
                guess_c=guess_c,
                low_c=guess_c + error_c,
                version=VERSION,
            )
        )
    plain, own = (np.array(column) for column in zip(*missed, strict=True))
    return float(np.sqrt((plain**2).mean())), float(np.sqrt((own**2).mean()))


def begun(hours: float, dusk_c: float, air_c: float) -> Nowcast:
    readings = [AirAt(at_utc=SUNSET, air_c=dusk_c)]
    evening = ForecastEvening(
        sunset_utc=SUNSET,
        sunrise_utc=SUNRISE,
        sunset_air_c=None,
        dewpoint_c=air_c - 4.0,
    )
    now = AirAt(at_utc=SUNSET + timedelta(hours=hours), air_c=air_c)
    found = begin_nowcast(now, readings, evening)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("habit_c", "most_share"),
    [(-3.0, 0.45), (-1.5, 0.7), (0.0, 1.015), (1.5, 0.82), (3.0, 0.75)],
    ids=["much colder", "colder", "no habit", "warmer", "much warmer"],
)
def test_a_sites_own_past_helps_where_it_has_a_habit_and_does_no_harm_elsewhere(
    habit_c: float, most_share: float
) -> None:
    found = [synthetic_site(seed, habit_c) for seed in range(SITES)]
    plain, own = (np.mean(column) for column in zip(*found, strict=True))
    assert own / plain <= most_share
