"""Draw pictures in a short process of their own: the service never holds the drawing.

Matplotlib takes some 60 MB for as long as a process lives, and a fault in it could take
the service along. A picture that does not come in time is left out; its warning goes.
"""

import json
import subprocess
import sys
from collections import OrderedDict
from datetime import date, datetime
from typing import Any

import numpy as np

from frostalert.model.chart import Chart, Line, Mark
from frostalert.model.forecast import FloatArray
from frostalert.report.night_picture import NightPlotter

_COMMAND = (sys.executable, "-m", "frostalert.report.child_plotter")
_PATIENCE_S = 30.0
_KEPT = 8
_ARRAYS = ("air_c", "dewpoint_c", "wet_bulb_c")


class ChildPlotter:
    """Draws charts of nights, each in a process that ends with it.

    What was drawn of late is kept: the page shows the same picture look after look.

    Parameters
    ----------
    command : tuple of str, optional
        What draws: a chart on its input, a picture on its output.
    """

    def __init__(self, command: tuple[str, ...] = _COMMAND) -> None:
        self._command = command
        self._kept: OrderedDict[str, bytes] = OrderedDict()

    def draw(self, chart: Chart) -> bytes:
        """Return the picture of a night as PNG.

        Raises
        ------
        subprocess.SubprocessError
            If the process fails, or takes longer than half a minute.
        """
        given = chart_text(chart)
        if given not in self._kept:
            done = subprocess.run(  # noqa: S603 - our own program
                self._command,
                input=given.encode(),
                capture_output=True,
                check=True,
                timeout=_PATIENCE_S,
            )
            self._kept[given] = done.stdout
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
        self._kept.move_to_end(given)
        return self._kept[given]


def chart_text(chart: Chart) -> str:
    """Return a chart as text that `read_chart` reads."""
    content: dict[str, Any] = {}
    for name in Chart.__dataclass_fields__:
        value = getattr(chart, name)
        if isinstance(value, np.ndarray):
            value = [v if np.isfinite(v) else None for v in value.tolist()]
        elif isinstance(value, date):
            value = value.isoformat()
        elif name == "line":
            value = None if value is None else [value.name, value.value_c]
        elif name == "starts":
            value = [[mark.name, mark.run_by_utc.isoformat()] for mark in value]
        content[name] = value
    return json.dumps(content)


def read_chart(text: str) -> Chart:
    """Return a chart from its text."""
    content = json.loads(text)
    moments = {
        name: datetime.fromisoformat(value)
        for name, value in content.items()
        if name.endswith("_utc") and value is not None
    }
    arrays = {name: _array(content[name]) for name in _ARRAYS}
    given = content["line"]
    parts = {
        "line": None if given is None else Line(name=given[0], value_c=given[1]),
        "starts": tuple(
            Mark(name=name, run_by_utc=datetime.fromisoformat(moment))
            for name, moment in content["starts"]
        ),
        "night": date.fromisoformat(content["night"]),
    }
    return Chart(**{**content, **moments, **arrays, **parts})


def _array(values: list[float | None]) -> FloatArray:
    """Return numbers, NaN where there is none."""
    plain = [np.nan if value is None else value for value in values]
    return np.array(plain, dtype=np.float64)


def main() -> None:
    """Draw the chart that stands on the input."""
    chart = read_chart(sys.stdin.read())
    sys.stdout.buffer.write(NightPlotter().draw(chart))


if __name__ == "__main__":
    main()
