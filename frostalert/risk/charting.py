"""What the picture of a night shows: the block most at risk, hour by hour."""

from datetime import datetime, timedelta

from frostalert.model.assessment import BlockNight, NightAssessment
from frostalert.model.chart import Chart, Line, Mark
from frostalert.model.forecast import HOUR
from frostalert.model.nights import Nights
from frostalert.model.plan import Plan
from frostalert.model.site import Block, Units

_BEFORE, _AFTER = timedelta(hours=3), timedelta(hours=5)


def night_chart(
    nights: Nights, night: NightAssessment, plan: Plan | None = None
) -> Chart | None:
    """Return what is drawn of a night, with its plan's starts."""
    worst, hours, shared = night.likeliest, nights.block_hours, nights.site_hours
    if worst is None or worst.bud is None or hours is None or shared is None:
        return None
    farm, run = nights.farm, shared.run
    row = next(n for n, item in enumerate(farm.blocks) if item.name == worst.block)
    # A freeze that begins by day is shown from before its first harm, or its low.
    cold = worst.bud.first_below_utc or worst.bud.low_utc
    first = min(night.sunset_utc or night.start_utc, cold)
    last = night.sunrise_utc or night.end_utc
    begin = max(first - _BEFORE, night.start_utc)
    start = max(0, (begin - run.hours.first_utc) // HOUR)
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
        line=_line(worst),
        sunset_utc=night.sunset_utc,
        sunrise_utc=night.sunrise_utc,
        starts=_starts(worst, plan),
        stop_utc=_stop_utc(night, farm.blocks[row], plan),
        is_fahrenheit=farm.site.units is Units.US,
        time_zone=farm.site.time_zone,
    )


def _line(worst: BlockNight) -> Line | None:
    """Return the temperature that the block is compared with."""
    threshold = worst.stage.threshold
    if threshold is None:
        return None
    return Line(name=f"{worst.crop}, {worst.stage.stage}", value_c=threshold.alarm_c)


def _starts(worst: BlockNight, plan: Plan | None) -> tuple[Mark, ...]:
    """Return the block's starts by the plan; by the forecast where there is none."""
    if plan is not None:
        found = [
            Mark(name=task.equipment, run_by_utc=task.deadline_utc)
            for task in plan.starts
            if worst.block in task.blocks
        ]
        return tuple(sorted(found, key=lambda mark: mark.run_by_utc))
    if not worst.tier.rank or worst.running_by_utc is None:
        return ()
    return (Mark(name="", run_by_utc=worst.running_by_utc),)


def _stop_utc(
    night: NightAssessment, block: Block, plan: Plan | None
) -> datetime | None:
    """Return before when the block's water must not stop, where any is to run."""
    if plan is None:
        return night.stop_not_before_utc if block.plans_water else None
    own = [i for i in (*plan.chosen, *plan.begun) if i.block == block.name]
    is_wet = any(item.method.wets_buds for item in own)
    return plan.stop_not_before_utc if is_wet else None
