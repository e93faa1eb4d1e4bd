"""Spoiled documents in short, and that what they are to show would be noticed."""

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any
from unittest import mock

import pytest

from frostalert.forecast import consistency, nws
from frostalert.forecast.notes import Notes
from frostalert.model.hours import SiteHours
from frostalert.risk.lost_minimum import LostMinimums, usual_deficits
from tests.mutations import play as played
from tests.mutations.__main__ import is_clean, lines, play_some
from tests.mutations.documents import Original, ours, recorded
from tests.mutations.kinds import KINDS, SEEN, UNSEEN
from tests.mutations.play import Outcome

CASES = [f"short/{n}" for n in range(4)]


@pytest.fixture(scope="module")
def originals() -> list[Original]:
    return list(ours())


@pytest.mark.parametrize("kind", KINDS)
def test_a_spoiled_document_neither_breaks_nor_warms_a_night_in_silence(
    originals: Sequence[Original], kind: str
) -> None:
    found = play_some(CASES, originals, [kind])
    assert is_clean(found), "\n".join(lines(found))


@contextmanager
def no_middle() -> Iterator[None]:
    """A reader that breaks on a cell that is drawn in another way."""

    def first_point(polygons: Any) -> tuple[float, float]:
        return float(polygons[0][0][1]), float(polygons[0][0][0])

    with mock.patch.object(nws, "middle_of", first_point):
        yield


@contextmanager
def endless() -> Iterator[None]:
    """A reader that looks for the name of a cell for ever."""

    def look(_: object, notes: object) -> None:
        while True:
            pass

    with (
        mock.patch.object(nws, "_centre", look),
        mock.patch.object(played, "LONGEST_S", 0.5),
    ):
        yield


@contextmanager
def doubt_swallowed() -> Iterator[None]:
    """A program that says no word of what it left out."""

    def unsaid(hours: SiteHours) -> LostMinimums:
        return replace(usual_deficits(hours), notes=())

    with (
        mock.patch.object(Notes, "doubt"),
        mock.patch("frostalert.risk.members.usual_deficits", unsaid),
    ):
        yield


@contextmanager
def degf_believed() -> Iterator[None]:
    """A program that believes any temperature, and says no word of it."""
    with (
        doubt_swallowed(),
        mock.patch.object(consistency, "refuse_fahrenheit"),
        mock.patch.object(nws, "refuse_out_of_season"),
    ):
        yield


@pytest.mark.parametrize(
    ("defect", "kind", "end", "line"),
    [
        (no_middle, "other_geometry", "crash", "crashes: "),
        (endless, "nested", "hang", "hangs: "),
        (degf_believed, "fahrenheit", "warmer", "silently warmer: "),
        (doubt_swallowed, "minimum_lost", "warmer", "silently warmer: "),
    ],
    ids=lambda value: getattr(value, "__name__", value),
)
def test_a_planted_defect_is_noticed(
    originals: Sequence[Original], defect: Any, kind: str, end: str, line: str
) -> None:
    grid = [item for item in originals if item.name == "grid"]
    cases = [f"planted/{n}" for n in range(3 if end == "hang" else 8)]
    assert is_clean(play_some(cases, grid, [kind]))
    with defect():
        found = play_some(cases, grid, [kind])
    assert {item.end for item in found} >= {end}
    assert not is_clean(found)
    assert f"{line}0" not in list(lines(found))[-3:]


def test_what_nobody_can_see_is_counted_apart() -> None:
    outcome = Outcome(case="1/1", kind="value_moved", name="grid", end="warmer")
    assert is_clean([outcome])
    last = list(lines([outcome]))
    assert last[-5].endswith(": 1")
    assert last[-3:] == ["crashes: 0", "hangs: 0", "silently warmer: 0"]
    assert not is_clean([replace(outcome, kind="minimum_lost")])
    assert not set(SEEN) & set(UNSEEN)


def test_a_case_is_known_by_its_name_alone(originals: Sequence[Original]) -> None:
    assert play_some(CASES, originals) == play_some(CASES, originals)


def test_recorded_documents_are_found_and_cut_to_three_nights(
    tmp_path: Path, originals: Sequence[Original]
) -> None:
    (tmp_path / "below").mkdir()
    (tmp_path / "below" / "grid.json").write_text(originals[0].body)
    (tmp_path / "points.json").write_text('{"properties": {}}')
    found = list(recorded(tmp_path))
    assert [item.name for item in found] == ["grid+4h", "grid+13h"]
    layer = json.loads(found[0].body)["properties"]["temperature"]["values"]
    assert 60 < len(layer) <= 72 + 12
