"""What the picture of a night shows: the block most at risk, hour by hour."""

from datetime import datetime, timedelta

from frostalert.model.assessment import BlockNight, NightAssessment
from frostalert.model.chart import Chart, Line
from frostalert.model.forecast import HOUR, ForecastRun
from frostalert.model.site import Holding, Units
from frostalert.risk.block_hours import derive_block_hours, organ_of
from frostalert.risk.site_hours import prepare_site_hours

_BEFORE, _AFTER = timedelta(hours=3), timedelta(hours=5)
_MOST_LINES = 3


def night_chart(
    holding: Holding, run: ForecastRun, night: NightAssessment, now_utc: datetime
) -> Chart | None:
    """Return what is drawn of a night.

    Parameters
    ----------
    holding : Holding
        Its blocks.
    run : ForecastRun
        The forecast that the night was judged by.
    night : NightAssessment
        The night.
    now_utc : datetime
        The present moment.

    Returns
    -------
    Chart or None
        None where no block was judged, or the run does not hold the night.

    Raises
    ------
    PhysicsDomainError
        If the forecast holds values outside what the formulas hold for.

    References
    ----------
    .. [1] See `risk.assess`.
    """
    worst = night.worst
    if worst is None:
        return None
    block = next(item for item in holding.blocks if item.name == worst.block)
    shared = prepare_site_hours(run, holding.site, now_utc)
    organ = organ_of(holding, block, shared)
    hours = derive_block_hours(shared, holding.site, (block,), (organ,))
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
        air_c=hours.air_c[0, part],
        dewpoint_c=hours.dewpoint_c[0, part],
        wet_bulb_c=hours.wet_bulb_c[0, part],
        sigma_c=worst.sigma_c,
        lines=_lines(night, worst),
        sunset_utc=night.sunset_utc,
        sunrise_utc=night.sunrise_utc,
        start_utc=worst.running_by_utc if worst.tier.rank else None,
        stop_utc=night.stop_not_before_utc if block.plans_water else None,
        is_fahrenheit=holding.site.units is Units.US,
        time_zone=holding.site.time_zone,
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
