"""Draw a night as a small PNG. The only importer of matplotlib.

Drawn for a phone: few lines, large letters, each line told by its dash and its name at
the end, not by colour alone; a light ground that stays readable in dark mail programs.
"""

import io
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import numpy as np

from frostalert.messages.wording import full_hour
from frostalert.model.chart import Chart
from frostalert.model.forecast import FloatArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_SIZE_IN, _DPI = (6.4, 3.6), 100
_INK, _GROUND, _NIGHT = "#1b1f24", "#ffffff", "#e6ebf2"
_AIR, _WET, _DEW, _LIMIT = "#8a2f0b", "#0b4f8a", "#3d6b21", "#6b1d6b"


class NightPlotter:
    """Draws charts of nights."""

    def draw(self, chart: Chart) -> bytes:
        """Return the picture of a night as PNG."""
        # Loaded when the first picture is drawn: it takes half a second.
        from matplotlib.backends.backend_agg import FigureCanvasAgg  # noqa: PLC0415
        from matplotlib.figure import Figure  # noqa: PLC0415

        figure = Figure(figsize=_SIZE_IN, dpi=_DPI, facecolor=_GROUND)
        FigureCanvasAgg(figure)
        axes = figure.add_subplot()
        _draw_hours(axes, chart)
        _draw_limit(axes, chart)
        _draw_moments(axes, chart)
        _dress(axes, chart)
        figure.subplots_adjust(left=0.09, right=0.8, top=0.9, bottom=0.13)
        content = io.BytesIO()
        figure.savefig(content, format="png")
        return content.getvalue()


def _shown(values: FloatArray | float, chart: Chart) -> Any:
    """Return temperatures in the site's unit."""
    celsius = np.asarray(values, dtype=np.float64)
    return celsius * 1.8 + 32.0 if chart.is_fahrenheit else celsius


def _hour(moment: datetime, chart: Chart) -> float:
    """Return a moment as hours from the chart's first. [h]"""
    return (moment - chart.first_utc) / timedelta(hours=1)


def _draw_hours(axes: "Axes", chart: Chart) -> None:
    """Draw the three curves and the band of error round the air."""
    hours = np.arange(chart.air_c.size)
    axes.fill_between(
        hours,
        _shown(chart.air_c - chart.sigma_c, chart),
        _shown(chart.air_c + chart.sigma_c, chart),
        color=_AIR,
        alpha=0.13,
        linewidth=0,
    )
    for values, colour, style, width, name in (
        (chart.air_c, _AIR, "-", 2.4, "air"),
        (chart.wet_bulb_c, _WET, "--", 2.0, "wet bulb"),
        (chart.dewpoint_c, _DEW, ":", 2.0, "dew point"),
    ):
        shown = _shown(values, chart)
        axes.plot(hours, shown, style, color=colour, linewidth=width)
        known = np.flatnonzero(np.isfinite(shown))
        if known.size:
            axes.annotate(
                name,
                (hours[known[-1]], shown[known[-1]]),
                xytext=(5, 0),
                textcoords="offset points",
                color=colour,
                va="center",
                fontsize=10,
            )


def _draw_limit(axes: "Axes", chart: Chart) -> None:
    """Draw the temperature that hurts the block, named above the curves."""
    if chart.line is None:
        return
    unit = "F" if chart.is_fahrenheit else "C"
    value = float(_shown(chart.line.value_c, chart))
    axes.axhline(value, color=_LIMIT, linewidth=1.2, dashes=(6, 2, 1, 2))
    words = f"harm at {value:.0f} {unit}: {chart.line.name}"
    axes.set_title(words, loc="right", fontsize=10, color=_LIMIT)


def _draw_moments(axes: "Axes", chart: Chart) -> None:
    """Shade the night, and mark each start and before what not to stop."""
    end = chart.air_c.size - 1
    dusk = 0.0 if chart.sunset_utc is None else _hour(chart.sunset_utc, chart)
    dawn = float(end) if chart.sunrise_utc is None else _hour(chart.sunrise_utc, chart)
    axes.axvspan(max(0.0, dusk), min(end, dawn), color=_NIGHT, zorder=0)
    for moment, words in _marks(chart):
        place = _hour(moment, chart)
        if not 0.0 <= place <= end:
            continue
        axes.axvline(place, color=_INK, linewidth=1.4)
        axes.annotate(
            words,
            # The curves have fallen by then: the upper side has room.
            (place, 0.98),
            xycoords=("data", "axes fraction"),
            xytext=(3, 0),
            textcoords="offset points",
            ha="left",
            va="top",
            rotation=90,
            fontsize=10,
            color=_INK,
        )


def _marks(chart: Chart) -> list[tuple[datetime, str]]:
    """Return what is marked: what starts at one moment stands at one line."""
    names: dict[datetime, list[str]] = {}
    for mark in chart.starts:
        names.setdefault(mark.run_by_utc, []).append(mark.name)
    marks = [(at, f"start {', '.join(some)}".strip()) for at, some in names.items()]
    if chart.stop_utc is not None:
        marks.append((chart.stop_utc, "stop?"))
    return marks


def _dress(axes: "Axes", chart: Chart) -> None:
    """Name hours and degrees; no frame that says nothing."""
    zone = ZoneInfo(chart.time_zone)
    ticks, names = [], []
    for hour in range(chart.air_c.size):
        local = (chart.first_utc + timedelta(hours=hour)).astimezone(zone)
        if local.hour % 3 == 0:
            ticks.append(hour)
            names.append(full_hour(local, is_us=chart.is_fahrenheit))
    axes.set_xticks(ticks, names)
    axes.set_title(chart.block, loc="left", fontsize=12, color=_INK)
    axes.set_xlim(0, chart.air_c.size - 1)
    axes.set_ylabel("F" if chart.is_fahrenheit else "C", rotation=0, labelpad=10)
    freezing = float(_shown(0.0, chart))
    axes.axhline(freezing, color=_INK, linewidth=0.6)
    axes.grid(axis="y", color="#c9ced6", linewidth=0.6)
    axes.tick_params(labelsize=10, colors=_INK)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
