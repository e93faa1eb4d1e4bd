"""What the picture of a night shows: the block most at risk, hour by hour."""

from datetime import timedelta

from frostalert.model.assessment import BlockNight, NightAssessment
from frostalert.model.chart import Chart, Line
from frostalert.model.forecast import HOUR
from frostalert.model.nights import Nights
from frostalert.model.site import Units

_BEFORE, _AFTER = timedelta(hours=3), timedelta(hours=5)
_MOST_LINES = 3


def night_chart(nights: Nights, night: NightAssessment) -> Chart | None:
    """Return what is drawn of a night."""
    worst, hours, shared = night.likeliest, nights.block_hours, nights.site_hours
    if worst is None or worst.bud is None or hours is None or shared is None:
        return None
    farm, run = nights.farm, shared.run
    row = next(n for n, item in enumerate(farm.blocks) if item.name == worst.block)
    first = night.sunset_utc or night.start_utc
    last = night.sunrise_utc or night.end_utc
    start = max(0, (first - _BEFORE - run.hours.first_utc) // HOUR)
    stop = min(run.hours.count, (last + _AFTER - run.hours.first_utc) // HOUR + 1)
    if stop - start < 2:  # noqa: PLR2004 - a line has two ends
        return None
    part = slice(start, stop)
    return Chart(
        night=night.night,
        block=worst.block,
        first_utc=run.hours.first_utc + start * HOUR,
        air_c=hours.air_c[row, part],
        dewpoint_c=hours.dewpoint_c[row, part],
        wet_bulb_c=hours.wet_bulb_c[row, part],
        sigma_c=worst.sigma_c,
        lines=_lines(night, worst),
        sunset_utc=night.sunset_utc,
        sunrise_utc=night.sunrise_utc,
        start_utc=worst.running_by_utc if worst.tier.rank else None,
        stop_utc=night.stop_not_before_utc if farm.blocks[row].plans_water else None,
        is_fahrenheit=farm.site.units is Units.US,
        time_zone=farm.site.time_zone,
    )


def _lines(night: NightAssessment, worst: BlockNight) -> tuple[Line, ...]:
    """Return the alarm temperatures of the blocks at risk, each crop and stage once."""
    found: dict[str, float] = {}
    for block in (worst, *night.at_risk):
        if block.stage.threshold is not None:
            name = f"{block.crop}, {block.stage.stage}"
            found.setdefault(name, block.stage.threshold.alarm_c)
    return tuple(
        Line(name=name, value_c=value)
        for name, value in list(found.items())[:_MOST_LINES]
    )
