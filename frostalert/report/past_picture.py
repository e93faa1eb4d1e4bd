"""Draw past springs as a small PNG: the low of each night, and who was called."""

import io
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from frostalert.model.past import PastNight, SpringSpan

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_WIDTH_IN, _ROW_IN, _HEAD_IN, _DPI = 6.4, 1.7, 0.7, 100
_INK, _GROUND, _LINE = "#1b1f24", "#ffffff", "#8a94a3"
_MARKS = (
    ("called, needed", "o", "#0b4f8a", True),
    ("called for nothing", "o", "#0b4f8a", False),
    ("missed", "X", "#8a2f0b", True),
)
"""Each mark is told by its form and its filling, not by its colour alone."""
_SHOWN = 3


def draw_past(
    springs: Mapping[SpringSpan, Sequence[PastNight]], *, is_fahrenheit: bool
) -> bytes:
    """Return a picture of the last three springs as PNG."""
    # Loaded when a picture is drawn: it takes half a second.
    from matplotlib.backends.backend_agg import FigureCanvasAgg  # noqa: PLC0415
    from matplotlib.figure import Figure  # noqa: PLC0415

    shown = sorted(springs)[-_SHOWN:]
    height = _HEAD_IN + _ROW_IN * len(shown)
    figure = Figure(figsize=(_WIDTH_IN, height), dpi=_DPI, facecolor=_GROUND)
    FigureCanvasAgg(figure)
    for place, span in enumerate(shown):
        axes = figure.add_subplot(len(shown), 1, place + 1)
        _draw_spring(axes, span, springs[span], is_fahrenheit=is_fahrenheit)
        if not place:
            axes.legend(
                loc="lower left",
                bbox_to_anchor=(0.0, 1.0),
                ncols=len(_MARKS),
                frameon=False,
                fontsize=10,
                handletextpad=0.2,
                borderaxespad=0.1,
            )
    figure.subplots_adjust(
        left=0.12, right=0.98, top=1.0 - 0.35 / height, bottom=0.3 / height, hspace=0.35
    )
    content = io.BytesIO()
    figure.savefig(content, format="png")
    return content.getvalue()


def _draw_spring(
    axes: "Axes",
    span: SpringSpan,
    nights: Sequence[PastNight],
    *,
    is_fahrenheit: bool,
) -> None:
    """Draw one spring: its lows, and a mark for each night called or missed."""
    days = np.array([(night.night - span.first).days for night in nights])
    lows = np.array([np.nan if n.came_c is None else n.came_c for n in nights])
    lows = lows * 1.8 + 32.0 if is_fahrenheit else lows
    axes.plot(days, lows, "-", color=_LINE, linewidth=1.2)
    axes.axhline(32.0 if is_fahrenheit else 0.0, color=_INK, linewidth=0.6)
    marked = (
        [n.is_known and n.is_called and n.is_worth_hands for n in nights],
        [n.is_known and n.is_called and not n.is_worth_hands for n in nights],
        [n.is_known and n.is_worth_hands and not n.is_called for n in nights],
    )
    for (name, form, colour, is_filled), chosen in zip(_MARKS, marked, strict=True):
        wanted = np.array(chosen, dtype=np.bool_)
        axes.scatter(
            days[wanted],
            lows[wanted],
            marker=form,
            s=34,
            label=name,
            facecolors=colour if is_filled else _GROUND,
            edgecolors=colour,
            zorder=3,
        )
    _dress(axes, span, "F" if is_fahrenheit else "C")


def _dress(axes: "Axes", span: SpringSpan, unit: str) -> None:
    """Name months and degrees."""
    last = (span.last - span.first).days
    firsts = [
        (span.first.replace(month=month, day=1), month)
        for month in range(span.first.month, span.last.month + 1)
    ]
    ticks = [max(0, (day - span.first).days) for day, _ in firsts]
    axes.set_xticks(ticks, [f"1 {day:%b}" for day, _ in firsts])
    axes.set_xlim(-1, last + 1)
    axes.set_ylabel(f"{span.year}\n{unit}", rotation=0, labelpad=16, va="center")
    axes.tick_params(labelsize=10, colors=_INK)
    axes.grid(axis="y", color="#c9ced6", linewidth=0.6)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
