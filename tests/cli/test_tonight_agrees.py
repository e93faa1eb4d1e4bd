"""What `tonight` says to do is what the plan of the same minute says."""

from pathlib import Path

import pytest

from tests.golden.house import april, command, empty_folder
from tests.golden.planting import (
    APRICOTS,
    BARE_STRAWBERRIES,
    COVERS,
    INES,
    LINE,
    STRAWBERRIES,
    planting,
)
from tests.support.grids import frosty_hours, grid_text


def asked(at: str, *parts: str) -> dict[str, str]:
    """What three commands print at a moment, by a file, each on one line."""
    with empty_folder():
        air = frosty_hours(low_c=-3.5)
        Path("frostalert.toml").write_text(planting(*parts, INES))
        Path("grid.json").write_text(grid_text(air_c=air, wind_kmh=1.8))
        moment = april(at)
        given = ["--config", "frostalert.toml", "--forecast", "grid.json"]
        given += ["--now", moment.isoformat()]
        block = parts[0].partition('name = "')[2].partition('"')[0]
        wanted = {"tonight": ["tonight"], "plan": ["plan"], "explain": ["explain"]}
        wanted["explain"].append(block)
        return {
            name: " ".join(command(*words, *given, at_utc=moment).split())
            for name, words in wanted.items()
        }


@pytest.mark.parametrize(
    ("at", "parts", "words"),
    [
        ("13 04:30", (APRICOTS, LINE), "Nothing you have can stop the frost overnight"),
        ("13 04:30", (APRICOTS,), "Nothing you have can stop the frost overnight"),
        ("13 04:30", (STRAWBERRIES, COVERS), "Nothing to start, covers stay on"),
        ("12 18:00", (BARE_STRAWBERRIES,), "Cover Strawberry beds before dark"),
        ("12 17:00", (STRAWBERRIES, COVERS), "Get ready from 6:25 pm"),
    ],
    ids=["too late", "listed, too late", "covered", "by hand", "before dark"],
)
def test_tonight_tells_what_the_plan_comes_to(
    at: str, parts: tuple[str, ...], words: str
) -> None:
    shown = asked(at, *parts)
    assert words in shown["tonight"]
    assert "start has come" not in shown["tonight"] + shown["explain"]
    # Only where the plan has a start is there an hour to be ready for it.
    assert "ready to start at" not in shown["tonight"].lower()
    assert ": start in" not in shown["plan"]


def test_the_hour_to_be_ready_by_is_the_plans_first_start() -> None:
    shown = asked("12 18:00", APRICOTS, LINE)
    _, _, rest = shown["tonight"].partition("Ready to start at ")
    hour = rest.partition(";")[0]
    assert f"{hour} Ines: Lane line: start in Apricots by the lane" in shown["plan"]
