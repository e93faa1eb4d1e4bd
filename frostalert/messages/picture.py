"""What goes into a mail beside its words: a night's plan, and its picture."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from frostalert.messages.wording import Wording
from frostalert.model.forecast import HOUR
from frostalert.model.notice import Attachment

if TYPE_CHECKING:
    # Whoever plans and draws nothing need not load them.
    from numpy import intp
    from numpy.typing import NDArray

    from frostalert.model.chart import Chart
    from frostalert.model.plan import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Enclosure:
    """What goes with the messages about a night; each part may be missing."""

    plan: "Plan | None" = None
    picture: "NightPicture | None" = None


PICTURE_CID = "night"
"""Name of the picture inside a mail."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NightPicture:
    """What is drawn, and the drawing as PNG."""

    chart: "Chart"
    png: bytes

    def attachment(self) -> Attachment:
        """Return the picture as a file that the mail's HTML shows."""
        return Attachment(
            name=f"night-{self.chart.night}.png",
            media_type="image/png",
            content=self.png,
            cid=PICTURE_CID,
        )

    def alt(self, wording: Wording) -> str:
        """Return what the picture shows, in words."""
        # Commands that draw no night must not wait for it.
        import numpy as np  # noqa: PLC0415

        chart = self.chart
        parts = [
            f"Air, wet bulb and dew point in {chart.block}, hour by hour from "
            f"{wording.clock(chart.first_utc)}"
        ]
        known = np.flatnonzero(np.isfinite(chart.air_c))
        # The words beside it tell the low to come; the picture has the whole night.
        coming = known[known >= (wording.now_utc - chart.first_utc) // HOUR]
        lows = [_lowest(chart, places, wording) for places in (coming, known)]
        if coming.size:
            parts.append(f"air lowest {lows[0]}")
        if lows[1] != lows[0]:
            parts.append(f"{lows[1]} has gone by")
        if chart.line is not None:
            limit = wording.temperature(chart.line.value_c)
            parts.append(f"harm to {chart.line.name} at {limit}")
        parts += [
            f"start {mark.name} by {wording.clock(mark.run_by_utc)}".replace("  ", " ")
            for mark in chart.starts
        ]
        if chart.stop_utc is not None:
            parts.append(f"stop not before {wording.clock(chart.stop_utc)}")
        return "; ".join(parts)


def _lowest(chart: "Chart", places: "NDArray[intp]", wording: Wording) -> str:
    """Return the lowest air at some of a chart's hours, and when; empty without any."""
    if not places.size:
        return ""
    low = int(places[chart.air_c[places].argmin()])
    air = wording.temperature(float(chart.air_c[low]))
    return f"{air} at {wording.clock(chart.first_utc + low * HOUR)}"
