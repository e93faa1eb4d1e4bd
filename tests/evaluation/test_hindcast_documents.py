"""The whole program on the answers of an archive whose outcome is known."""

import io
import json
import tarfile
from datetime import date, timedelta
from pathlib import Path

import pytest

from tests.evaluation.hindcast.__main__ import main
from tests.evaluation.hindcast.documents import (
    as_served_today,
    read_archive,
    read_observed,
)
from tests.support.grids import frosty_hours

FIRST = date(2025, 3, 1)
DAYS = 12
COLDER_C = 1.5


def fahrenheit(celsius: float) -> float:
    return round(celsius * 1.8 + 32.0, 1)


def older_answer(day: date, low_c: float) -> dict[str, object]:
    """An answer with names and units of years ago, from noon UTC of a day on."""
    hours = [v for v in frosty_hours(low_c=low_c, high_c=low_c + 9.0) if v is not None]
    dew = [value - 2.0 for value in hours]
    return {
        "latitude": 40.71,
        "longitude": -73.99,
        "utc_offset_seconds": 0,
        "elevation": 7.0,
        "hourly_units": {
            "time": "iso8601",
            "temperature_2m": "°F",
            "dewpoint_2m": "°F",
            "windspeed_10m": "mp/h",
            "cloudcover": "%",
        },
        "hourly": {
            "time": [
                f"{day + timedelta(days=(12 + n) // 24)}T{(12 + n) % 24:02d}:00"
                for n in range(72)
            ],
            "temperature_2m": [fahrenheit(value) for value in hours],
            "dewpoint_2m": [fahrenheit(value) for value in dew],
            "windspeed_10m": [3.0 + n % 2 for n in range(72)],
            "cloudcover": [10] * 72,
        },
    }


def low_of(n: int) -> float:
    return (-4.0, 3.0, -1.0)[n % 3]


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    archive, observed = tmp_path / "answers.tar.xz", tmp_path / "lows.csv"
    rows = ["day,low_f,local_standard_time"]
    with tarfile.open(archive, "w:xz") as packed:
        for n in range(DAYS):
            day = FIRST + timedelta(days=n)
            body = json.dumps(older_answer(day, low_of(n))).encode()
            item = tarfile.TarInfo(f"a/{day}_1500.json")
            item.size = len(body)
            packed.addfile(item, io.BytesIO(body))
            # The station is colder than its cell by a habit that can be learned.
            low_f = fahrenheit(low_of(n) - COLDER_C)
            rows.append(f"{day + timedelta(days=1)},{low_f},610A")
    # A low of the evening says nothing of the morning's.
    rows.append(f"{FIRST},-40,1130P")
    observed.write_text("\n".join(rows))
    return archive, observed


def test_an_older_answer_is_read_as_what_it_says(files: tuple[Path, Path]) -> None:
    run = next(read_archive(files[0]))
    assert float(run.hours.air_c.min()) == pytest.approx(low_of(0), abs=0.06)
    assert float(run.hours.wind_mps[0]) == pytest.approx(3.0 * 0.44704, abs=0.001)
    served = json.loads(as_served_today(older_answer(FIRST, 0.0)))
    assert served["hourly_units"]["dew_point_2m"] == "°C"


def test_a_low_of_the_evening_is_no_mornings(files: tuple[Path, Path]) -> None:
    lows = read_observed(files[1])
    assert FIRST - timedelta(days=1) not in lows
    assert lows[FIRST] == pytest.approx(low_of(0) - COLDER_C, abs=0.06)


def test_the_command_plays_the_program_and_counts_its_calls(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    archive, observed = files
    assert main(["--documents", str(archive), "--observed", str(observed)]) == 0
    printed = dict(line.split(": ", 1) for line in capsys.readouterr().out.splitlines())
    tonight = {
        name.removeprefix("0 nights ahead, "): value for name, value in printed.items()
    }
    assert tonight["nights"] == str(DAYS)
    bias = float(tonight["bias of source [degC]"])
    assert bias == pytest.approx(COLDER_C, abs=0.1)
    # What the site teaches takes part of it off, night by night.
    assert abs(float(tonight["bias of ours [degC]"])) < bias - 0.15
    # Two nights of three reach what kills a tenth, and each is called for.
    counts = tonight["get ready, times called, needed, missed"].split(", ")
    called, needed, missed = map(int, counts)
    assert (needed, missed) == (2 * DAYS // 3, 0)
    assert called >= needed
