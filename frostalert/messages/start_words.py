"""When and by what reading to start, in words."""

from frostalert.messages.wording import Wording
from frostalert.model.assessment import BlockNight, NightAssessment
from frostalert.model.site import Farm
from frostalert.physics.start_reading import START_WET_BULB_C
from frostalert.risk.timing import act_at_utc


def start_line(record: BlockNight, wording: Wording) -> str:
    """Return the reading at which water must start, where water is planned."""
    if record.start_air_c is None:
        return ""
    if record.dry is not None and record.dry.first_below_utc is None:
        dry_low = wording.temperature(record.dry.low_c)
        return (
            f"Dry buds are expected to stay above the alarm temperature, at {dry_low}: "
            "leave them dry unless you measure colder."
        )
    wet = wording.temperature(START_WET_BULB_C)
    dew = wording.temperature(record.dewpoint_at_low_c)
    air = wording.temperature(record.start_air_c)
    running = wording.clock(record.running_by_utc)
    return (
        f"Have water running when the wet bulb falls to {wet} (the thermometer reads "
        f"{air} at a dew point of {dew}; measure that if you can): by this forecast "
        f"at {running}."
    )


def start_order(night: NightAssessment, farm: Farm, wording: Wording) -> str:
    """Return when to start in each block at risk, the earliest first."""
    before_dark, starts = [], []
    for place, record in enumerate(night.blocks):
        block = farm.blocks[place]
        if not record.tier.rank or record.running_by_utc is None:
            continue
        if any(method.is_before_dark for method in block.methods):
            before_dark.append(block.name)
        if any(not method.is_before_dark for method in block.methods):
            starts.append((record.running_by_utc, block.name))
    covered = [f"before dark {name}" for name in before_dark]
    timed = [
        f"{wording.clock(act_at_utc(moment, farm.rules))} {name}"
        for moment, name in sorted(starts)
    ]
    return ", ".join([*covered, *timed]) or "no method is listed for any block"
