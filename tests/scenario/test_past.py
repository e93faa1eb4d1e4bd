"""`frostalert past` as a process, against a server that plays its archives."""

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from frostalert.errand import Errand
from frostalert.model.learned import LeadClass, PairOrigin
from frostalert.store.lock import StateLock
from frostalert.store.open import open_beside
from tests.support.archives import archive_server, past_section
from tests.support.commands import run_command
from tests.support.configs import config_text
from tests.support.servers import HttpServer, Reply
from tests.support.springs import (
    COLDER_C,
    Springs,
    file_of,
    invented_springs,
    station_of,
)

FROM_TO = ("--from", "2025-03-20", "--to", "2025-05-10")
OWN = 'csv = "old.csv"\nunit = "degC"\ntime_column = "Date"\nvalue_column = "Low"'
MEASURED = """
import resource, subprocess, sys
code = subprocess.run(sys.argv[1:]).returncode
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(used.ru_maxrss, used.ru_utime + used.ru_stime, file=sys.stderr)
sys.exit(code)
"""
"""Runs a command and says last what memory it took at most [kB], and what time of the
processor [s]: other work on the machine is not counted."""
_PAUSES_S = 20.0
STAGES = """\
block,stage,seen
Apricots by the lane,dormant,2025-03-01
Apricots by the lane,first white,2025-03-28
apricot,full bloom,2025-04-04
apricot,in the shuck,2025-04-16
apricot,green fruit,2025-04-26
"""


class Home:
    """A folder with a configuration whose archives are played by a server."""

    def __init__(self, folder: Path, springs: Springs, server: HttpServer) -> None:
        self.folder, self.springs, self.server = folder, springs, server
        (folder / "old.csv").write_text(file_of(springs.came_c))
        (folder / "stages.csv").write_text(STAGES)
        self.config = folder / "frostalert.toml"
        self.write(OWN)

    def write(self, past: str, *, sources: str = '["open-meteo"]') -> None:
        text = config_text(
            state=str(self.folder / "state"), more=past_section(self.server.url, past)
        )
        asked = f'open_meteo_url = "{self.server.url}"\nsources = {sources}'
        text = text.replace("[forecast]", f"[forecast]\n{asked}")
        self.config.write_text(text)

    def past(self, *options: str) -> "subprocess.CompletedProcess[str]":
        return run_command(
            "past", *(options or FROM_TO), "--config", str(self.config), cwd=self.folder
        )


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Home]:
    springs = invented_springs([2025], seed=7)
    with archive_server(springs.played) as server:
        yield Home(tmp_path, springs, server)


def test_one_screen_says_how_often_it_would_have_called_and_what_to_trust(
    home: Home,
) -> None:
    done = home.past(*FROM_TO, "--crop-stages", "stages.csv")
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    assert len(lines) <= 40
    words = " ".join(done.stdout.split())
    assert "2025: ready on" in words
    assert "called out" in words
    assert "none missed" in words or "missed." in words
    assert "as you have it" in words
    assert "more careful: chance_near = 0.09" in words
    assert "your thermometer (old.csv), 52 nights" in words
    assert "Stages: as you noted them." in words
    assert "each at half" in words


def test_the_document_adds_up_and_gives_a_reason_for_what_is_not_there(
    home: Home,
) -> None:
    gap = (datetime(2025, 4, 9, tzinfo=UTC) - home.springs.played.first) // timedelta(
        hours=1
    )
    for lead in (1, 2, 3):
        home.springs.played.leads[lead]["temperature_2m"][gap : gap + 24] = [None] * 24
    done = home.past(*FROM_TO, "--crop-stages", "stages.csv", "--json")
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    [spring] = document["springs"]
    nights = spring["nights"]
    lost = next(item for item in nights if item["night"] == "2025-04-08")
    assert lost["forecast_low_c"] is None
    assert lost["why"]["forecast_low_c"] == "the archive lacks hours of it"
    known = [n for n in nights if n["came_c"] is not None and not n["why"]]
    assert spring["nights_known"] == len(known)
    assert spring["called"] == sum(n["called"] for n in known)
    assert spring["nights_harmful"] == sum(n["harmful"] for n in known) > 3
    assert (
        spring["called_missed"] + spring["called_needed"]
        == spring["nights_needing_hands"]
    )
    assert spring["called_needed"] >= spring["nights_needing_hands"] - 1
    names = [setting["name"] for setting in document["settings"]]
    assert names[0] == "as you have it"
    assert len(names) == 5
    present, careful, less = document["settings"][:3]
    assert less["called"] <= present["called"] <= careful["called"]
    assert document["settings"][0]["called"] == spring["called"]


def pairs_in(home: Home) -> list[tuple[str, LeadClass, PairOrigin]]:
    store = open_beside(home.folder / "state")
    found = [(p.source, p.lead, p.origin) for p in store.night_pairs()]
    store.database.close()
    return found


def test_it_teaches_the_service_once_by_lead_and_marked(home: Home) -> None:
    home.past()
    first = pairs_in(home)
    assert {source for source, _, _ in first} == {"open-meteo"}
    assert {lead for _, lead, _ in first} == {LeadClass.TOMORROW, LeadClass.LATER}
    assert {origin for _, _, origin in first} == {PairOrigin.ARCHIVE}
    assert len(first) > 80
    home.past()
    assert pairs_in(home) == first
    # The same nights by a station take the place of those, and count less.
    home.springs.played.stations = [station_of(home.springs)]
    home.write("")
    home.past()
    assert {origin for _, _, origin in pairs_in(home)} == {PairOrigin.ARCHIVE_STATION}


def test_a_station_is_told_with_its_distance_and_height(home: Home) -> None:
    home.springs.played.stations = [station_of(home.springs, elevation_m=325.0)]
    home.write("", sources='["nws", "open-meteo"]')
    words = " ".join(home.past().stdout.split())
    assert "NOT your place but the station NORTH LANE 2 W (USC00450001)" in words
    assert "7 mi away, 656 ft higher" in words
    assert "nws keeps no archive" in words
    assert "each at a quarter" in words


def test_a_reanalysis_is_called_one_and_teaches_nothing(home: Home) -> None:
    home.springs.played.reanalysis = home.springs.played.leads[0]["temperature_2m"]
    home.write("")
    done = home.past()
    words = " ".join(done.stdout.split())
    assert "REANALYSIS" in words
    assert "last resort" in words
    assert "Nothing of it enters what the site teaches" in words
    assert pairs_in(home) == []


def test_without_network_it_says_what_it_needs(home: Home) -> None:
    home.server.close()
    try:
        done = home.past()
    finally:
        home.server = HttpServer(home.springs.played.answer)
    assert done.returncode == 69
    words = " ".join(done.stderr.split())
    assert "Past springs need https to 127.0.0.1" in words
    assert "answers of some 40 kB" in words
    assert "run the same command again" in words


def test_a_service_that_runs_beside_it_is_not_disturbed(home: Home) -> None:
    home.past()
    with StateLock(home.folder / "state"):
        assert home.past().returncode == 0


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--springs", "0"), "from 1 to 10"),
        (("--springs", "2", "--from", "2025-03-01"), "give --springs, or --from"),
        (("--to", "2025-03-01"), "give --springs, or --from"),
        (("--from", "March"), "is not a date"),
        (("--from", "2025-07-01", "--to", "2025-07-09"), "no night of a spring"),
        (
            ("--crop-stages", "none.csv"),
            "none.csv cannot be read: No such file or directory",
        ),
        (("--picture", "-", "--json"), "prints that file alone"),
    ],
)
def test_what_cannot_be_meant_is_refused_before_anything_is_asked(
    home: Home, options: tuple[str, ...], words: str
) -> None:
    done = home.past(*options)
    assert done.returncode == 64
    assert words in " ".join(done.stderr.split())
    assert not home.server.seen


def test_the_picture_is_written_small_enough_for_a_mail(home: Home) -> None:
    done = home.past(*FROM_TO, "--picture", "past.png")
    assert done.returncode == 0
    content = (home.folder / "past.png").read_bytes()
    assert content.startswith(b"\x89PNG")
    assert len(content) < 40_000


def test_doctor_offers_it_until_it_is_done(home: Home) -> None:
    def line() -> str:
        done = run_command(
            "doctor", "--json", "--config", str(home.config), cwd=home.folder
        )
        found = json.loads(done.stdout)["findings"]
        return next(str(f["words"]) for f in found if f["what"] == "past springs")

    assert "frostalert past --springs 3" in line()
    home.past()
    assert "looked at on" in line()


def test_three_springs_take_less_than_two_minutes_and_300_mb(tmp_path: Path) -> None:
    springs = invented_springs([2023, 2024, 2025], seed=3)
    with archive_server(springs.played) as server:
        home = Home(tmp_path, springs, server)
        command = [
            *(sys.executable, "-c", MEASURED, sys.executable, "-m", "frostalert"),
            *("past", "--config", str(home.config), "--json"),
            *("--from", "2023-02-01", "--to", "2025-06-15"),
        ]
        done = subprocess.run(
            command,
            capture_output=True,
            text=True,
            cwd=tmp_path,
            env={**os.environ, "HOME": str(tmp_path)},
            check=True,
        )
    document = json.loads(done.stdout)
    most_kb, used_s = map(float, done.stderr.splitlines()[-1].split())
    assert used_s + _PAUSES_S < 120.0
    assert 50.0 < most_kb / 1024.0 < 300.0
    assert [spring["first"] for spring in document["springs"]] == [
        "2023-02-01",
        "2024-02-01",
        "2025-02-01",
    ]
    assert all(spring["nights_known"] > 130 for spring in document["springs"])
    # What earlier springs taught makes the forecast fit this colder site.
    first, _, last = (bias_of(spring) for spring in document["springs"])
    assert last[0] == pytest.approx(COLDER_C, abs=0.3)
    assert 0.0 < last[1] < min(first[1], 0.5 * last[0])


def bias_of(spring: dict[str, Any]) -> tuple[float, float]:
    """How much too warm a spring was forecast, and with what was learned taken off."""
    nights = [n for n in spring["nights"] if n["site_low_c"] is not None]
    return (
        sum(n["forecast_low_c"] - n["came_c"] for n in nights) / len(nights),
        sum(n["site_low_c"] - n["came_c"] for n in nights) / len(nights),
    )


NOW = datetime(2025, 9, 1, 12, tzinfo=UTC)


def is_busy(errand: Errand) -> bool:
    return errand.is_busy


def wait_for(errand: Errand, folder: Path, now: datetime) -> None:
    ends = time.monotonic() + 240.0
    while errand.is_busy and time.monotonic() < ends:
        time.sleep(0.05)
        errand.go_on(folder / "frostalert.toml", now)


def test_an_errand_does_it_once_in_a_process_of_its_own(home: Home) -> None:
    command = (sys.executable, "-m", "frostalert", "past", *FROM_TO)
    errand = Errand(command)
    errand.go_on(home.config, NOW)
    assert is_busy(errand)
    wait_for(errand, home.folder, NOW)
    assert not is_busy(errand)
    store = open_beside(home.folder / "state")
    record = store.past_record()
    store.database.close()
    assert record is not None
    assert record.lines[0].startswith("- 2025: ready on")
    # It is not begun again at once, whatever came of it.
    errand.go_on(home.config, NOW + timedelta(minutes=5))
    assert not is_busy(errand)


def test_an_errand_without_network_is_tried_again_in_an_hour(home: Home) -> None:
    home.springs.played.replies = [("/v1/forecast", Reply(503))] * 3
    errand = Errand((sys.executable, "-m", "frostalert", "past", *FROM_TO))
    errand.go_on(home.config, NOW)
    wait_for(errand, home.folder, NOW)
    errand.go_on(home.config, NOW + timedelta(minutes=30))
    assert not is_busy(errand)
    errand.go_on(home.config, NOW + timedelta(minutes=61))
    assert is_busy(errand)
    errand.end()
    assert not is_busy(errand)


@pytest.mark.parametrize("hours", [3, 30])
def test_an_errand_that_hangs_is_broken_off(home: Home, hours: int) -> None:
    errand = Errand((sys.executable, "-c", "import time; time.sleep(600)"))
    errand.go_on(home.config, NOW)
    errand.go_on(home.config, NOW + timedelta(minutes=1))
    assert is_busy(errand)
    errand.go_on(home.config, NOW + timedelta(hours=hours))
    assert not is_busy(errand)


def test_where_a_unit_kills_who_yields_it_is_done_without_yielding(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    killed = home.folder / "nice"
    killed.write_text("#!/bin/sh\nkill -SYS $$\n")
    killed.chmod(0o755)
    monkeypatch.setenv("PATH", f"{home.folder}:{os.environ['PATH']}")
    errand = Errand((sys.executable, "-m", "frostalert", "past", *FROM_TO))
    errand.go_on(home.config, NOW)
    wait_for(errand, home.folder, NOW)
    errand.go_on(home.config, NOW)
    assert is_busy(errand)
    wait_for(errand, home.folder, NOW)
    store = open_beside(home.folder / "state")
    assert store.past_record() is not None
    store.database.close()


def test_nights_are_named_by_their_evenings(home: Home) -> None:
    document = json.loads(home.past(*FROM_TO, "--json").stdout)
    nights = {n["night"]: n["came_c"] for n in document["springs"][0]["nights"]}
    evening = date(2025, 4, 2)
    came = home.springs.came_c[evening]
    assert nights[evening.isoformat()] == pytest.approx(came, abs=0.06)
