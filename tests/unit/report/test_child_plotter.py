"""Pictures from a process of their own: the same, once, never in a warning's way."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from frostalert.model.chart import Chart
from frostalert.report.child_plotter import ChildPlotter, chart_text, read_chart
from frostalert.report.night_picture import NightPlotter
from tests.support.grids import frosty_hours, grid_text
from tests.support.plans import night_grid
from tests.unit.messages.test_picture import chart_of, mail_of


def a_chart(grid: str) -> Chart:
    chart = chart_of(grid)
    assert chart is not None
    return chart


def test_it_draws_what_the_process_itself_would_draw() -> None:
    chart = a_chart(night_grid(-3.0))
    assert ChildPlotter().draw(chart) == NightPlotter().draw(chart)


def test_a_chart_with_gaps_comes_through_whole() -> None:
    chart = a_chart(grid_text(air_c=frosty_hours(), dewpoint_c=[None] * 72))
    found = read_chart(chart_text(chart))
    for name in ("air_c", "dewpoint_c", "wet_bulb_c"):
        np.testing.assert_array_equal(getattr(found, name), getattr(chart, name))
    assert chart_text(found) == chart_text(chart)
    assert (found.night, found.line) == (chart.night, chart.line)
    assert (found.first_utc, found.starts) == (chart.first_utc, chart.starts)


def test_the_same_picture_is_drawn_once(tmp_path: Path) -> None:
    count = tmp_path / "drawn"
    words = f"open({str(count)!r}, 'a').write('x'); print('png', end='')"
    plotter = ChildPlotter((sys.executable, "-c", words))
    chart = a_chart(night_grid(-3.0))
    assert {plotter.draw(chart) for _ in range(3)} == {b"png"}
    assert count.read_text() == "x"
    plotter.draw(replace(chart, sigma_c=9.0))
    assert count.read_text() == "xx"


def test_a_process_that_dies_takes_no_warning_along(tmp_path: Path) -> None:
    plotter = ChildPlotter((sys.executable, "-c", "import os; os.abort()"))
    with pytest.raises(subprocess.SubprocessError):
        plotter.draw(a_chart(night_grid(-3.0)))
    mail = mail_of(tmp_path, plotter)
    assert mail.subject.startswith("Get ready")
    assert mail.html is not None
    assert "<img" not in mail.html


def test_the_service_draws_in_a_process_of_its_own() -> None:
    words = (
        "import sys; import frostalert.app; "
        "assert not any(name.startswith('matplotlib') for name in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", words], check=True)
