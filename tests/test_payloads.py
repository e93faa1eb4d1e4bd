"""Recorded answers of the service, if a folder of them is at hand."""

import os
from pathlib import Path

import pytest

from tests.payloads import main, try_one
from tests.support.grids import grid_text


def test_recorded_answers() -> None:
    if not os.environ.get("FROSTALERT_PAYLOADS"):
        pytest.skip(
            "FROSTALERT_PAYLOADS names no folder: save answers of api.weather.gov in "
            "one, a file each, and set FROSTALERT_PAYLOADS to it"
        )
    assert main() == 0


def test_the_script_judges_grids_and_other_documents(tmp_path: Path) -> None:
    good = tmp_path / "grid.json"
    good.write_text(grid_text())
    assert try_one(good, tmp_path)[0]
    page = tmp_path / "page.html"
    page.write_text("<html>")
    is_right, words = try_one(page, tmp_path)
    assert is_right
    assert "refused" in words
