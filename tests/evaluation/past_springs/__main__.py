"""Run the real command on real springs; print its screen, its time and its memory."""

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

from tests.evaluation.hindcast.documents import ZONE, read_archive, read_observed
from tests.evaluation.past_springs.fortnight import fortnight_lines
from tests.evaluation.past_springs.layout import played_from
from tests.support.archives import Played, archive_server, past_section

SITE = """\
config_version = 1

[site]
name = "{name}"
latitude = {latitude}
longitude = {longitude}
elevation = "{elevation} m"
time_zone = "{zone}"
units = "us"

[[blocks]]
name = "Apples"
crop = "apple"
stage = "dormant"
stage_seen = 2026-01-10
plants = 40
height = "9 ft"

[[people]]
name = "Ines"
channels = ["email"]
email = "ines@heron-bench.example"

[email]
host = "127.0.0.1"
port = 2525
security = "none"
sender = "frost@heron-bench.example"

[forecast]
sources = ["open-meteo"]
contact = "us@heron-bench.example"

[storage]
directory = "{state}"
"""


_PAST = (sys.executable, "-m", "frostalert", "past")


def main(arguments: list[str] | None = None) -> int:
    """Do what the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.evaluation.past_springs")
    parser.add_argument("--documents", type=Path, metavar="ARCHIVE", required=True)
    parser.add_argument("--observed", type=Path, metavar="FILE", required=True)
    parser.add_argument("--crop-stages", type=Path, metavar="FILE")
    parser.add_argument("--picture", type=Path, metavar="FILE")
    parser.add_argument("--first", type=date.fromisoformat, metavar="DATE")
    given = parser.parse_args(arguments)
    runs = list(read_archive(given.documents))
    came = read_observed(given.observed)
    first, last = (
        run.updated_utc.astimezone(ZONE).date() for run in (runs[0], runs[-1])
    )
    options = ["--from", str(first), "--to", str(last)]
    if given.crop_stages is not None:
        options += ["--crop-stages", str(given.crop_stages.resolve())]
    if given.picture is not None:
        options += ["--picture", str(given.picture.resolve())]
    sys.stdout.write(run_past(played_from(runs), came, options))
    _figures()
    for line in fortnight_lines(runs, came):
        sys.stdout.write(f"{line}\n")
    return 0


def run_past(
    played: Played, came: dict[date, float], options: Sequence[str], zone: str = ""
) -> str:
    """Return what the command prints, with the site's own lows as its thermometer."""
    with tempfile.TemporaryDirectory() as folder, archive_server(played) as server:
        home = Path(folder)
        lows = "\n".join(
            f"{night + timedelta(days=1)},{low}" for night, low in sorted(came.items())
        )
        (home / "lows.csv").write_text(f"day,low\n{lows}\n")
        columns = (
            'csv = "lows.csv"\nunit = "degC"\ntime_column = "day"\nvalue_column = "low"'
        )
        text = SITE.format(
            name="Heron Bench",
            latitude=played.latitude,
            longitude=played.longitude,
            elevation=played.elevation_m,
            zone=zone or ZONE.key,
            state=home / "state",
        )
        config = home / "frostalert.toml"
        config.write_text(text + past_section(server.url, columns))
        began = time.monotonic()
        done = subprocess.run(
            [*_PAST, "--config", str(config), *options],
            capture_output=True,
            text=True,
            check=False,
            env={**os.environ, "HOME": folder},
        )
        took = time.monotonic() - began
        return f"{done.stdout}{done.stderr}\nexit {done.returncode}, {took:.1f} s\n"


def _figures() -> None:
    """Print the most memory that the command took."""
    most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024.0
    sys.stdout.write(f"most memory: {most:.0f} MB\n")


if __name__ == "__main__":
    sys.exit(main())
