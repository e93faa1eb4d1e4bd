"""Run `frostalert tonight --json` on recorded answers, and say what came of each.

    FROSTALERT_PAYLOADS=FOLDER python -m tests.payloads

The folder holds answers of api.weather.gov, one a file. For each grid the site is put
where the cell is and the moment a few hours after the forecast was made; every other
file must be refused with one clear message. Exit status 1 if anything else happens.
"""

import json
import os
import re
import subprocess
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from frostalert.forecast.nws_official import parse_alerts, parse_observations
from tests.support.configs import config_text

AFTER = timedelta(hours=4)
REFUSED = {65}


def cell_of(document: Any) -> tuple[float, float] | None:
    """Return the middle of a grid answer's cell; None for any other document."""
    properties = document.get("properties") if isinstance(document, dict) else None
    if not isinstance(properties, dict) or "validTimes" not in properties:
        return None
    ring = document["geometry"]["coordinates"][0][:-1]
    longitudes, latitudes = zip(*ring, strict=True)
    return sum(latitudes) / len(ring), sum(longitudes) / len(ring)


def is_by_hours(document: Any) -> bool:
    """Return whether it is a forecast for one point, of another service."""
    if not isinstance(document, dict):
        return False
    hourly, properties = document.get("hourly"), document.get("properties")
    return (isinstance(hourly, dict) and "temperature_2m" in hourly) or (
        isinstance(properties, dict) and "timeseries" in properties
    )


def time_zone(longitude: float) -> str:
    """Return a zone near a longitude: nights only need noon to be about noon."""
    return f"Etc/GMT{round(-longitude / 15):+d}"


def tonight(path: Path, config: Path, now: str) -> subprocess.CompletedProcess[str]:
    """Run the command on one file."""
    command = [sys.executable, "-m", "frostalert", "tonight", "--json"]
    command += ["--config", str(config), "--forecast", str(path), "--now", now]
    return subprocess.run(
        command, capture_output=True, text=True, timeout=120, check=False
    )


def _official(path: Path) -> tuple[bool, str]:
    """Return what our reading of warnings or observations makes of one answer."""
    body = path.read_text()
    stamps = re.findall(r'"(?:sent|timestamp)": *"([^"]+)"', body)
    now = max(
        map(datetime.fromisoformat, stamps), default=datetime(2026, 1, 1, tzinfo=UTC)
    )
    if path.name.startswith("alerts"):
        found = parse_alerts(body, now)
        return True, f"in force: {[f'{item.event}, {item.sender}' for item in found]}"
    return True, f"newest reading: {parse_observations(body, now)}"


def try_one(path: Path, folder: Path) -> tuple[bool, str]:
    """Return whether one file did as it should, and what it did."""
    try:
        document = json.loads(path.read_text())
    except ValueError:
        document = None
    if isinstance(document, dict) and path.name.startswith(("alerts", "observations")):
        return _official(path)
    cell = cell_of(document)
    config = folder / "orchard.toml"
    text = config_text()
    now = "2026-04-12T12:00:00+00:00"
    if cell is not None:
        updated = datetime.fromisoformat(document["properties"]["updateTime"])
        now = (updated + AFTER).isoformat()
        text = (
            text.replace("46.2205", f"{cell[0]:.4f}")
            .replace("-119.2412", f"{cell[1]:.4f}")
            .replace("America/Los_Angeles", time_zone(cell[1]))
            .replace("2026-04-10", str(updated.date()))
        )
    config.write_text(text)
    done = tonight(path, config, now)
    if "Traceback" in done.stderr:
        return False, done.stderr.strip().splitlines()[-1]
    if is_by_hours(document) and not done.returncode:
        return True, f"{len(json.loads(done.stdout)['nights'])} nights"
    if cell is None:
        is_right = done.returncode in REFUSED
        return is_right, f"refused ({done.returncode}): {done.stderr.strip()[:120]}"
    if done.returncode:
        return False, f"exit {done.returncode}: {done.stderr.strip()[:200]}"
    nights = json.loads(done.stdout)["nights"]
    tiers = " ".join(night["tier"] for night in nights)
    low = nights[0]["blocks"][0]["air_low_c"]
    return bool(nights), f"{len(nights)} nights, low {low} degC: {tiers}"


def main() -> int:
    """Try every file of the folder; return the exit status."""
    named = os.environ.get("FROSTALERT_PAYLOADS")
    if not named or not Path(named).is_dir():
        print("set FROSTALERT_PAYLOADS to a folder of recorded answers")  # noqa: T201
        return 2
    failed = 0
    with tempfile.TemporaryDirectory() as scratch:
        for path in sorted(Path(named).iterdir()):
            if path.suffix not in {".json", ".html"}:
                continue
            is_right, words = try_one(path, Path(scratch))
            failed += not is_right
            print(f"{'ok  ' if is_right else 'FAIL'} {path.name}: {words}")  # noqa: T201
    print(f"{failed} failed")  # noqa: T201
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
