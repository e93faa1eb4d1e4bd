"""What is allowed in a configuration and may still not be meant."""

from dataclasses import asdict
from datetime import date, datetime
from difflib import get_close_matches
from zoneinfo import ZoneInfo

from frostalert.agronomy.stages import HALF_YEAR_DAYS
from frostalert.config.invented import invented_remarks
from frostalert.config.open_secrets import open_files, written_secrets
from frostalert.model.settings import Settings
from frostalert.model.site import DORMANT, HARVESTED, Block, Farm, Rules

CLOSING_GATEWAY = ("vtext.com", "31 March 2027")
"""A mail-to-text gateway with the day on which it closes (from secondary pages)."""
_COLD_LIMIT_C = -5.0
_OLD_STAGE_DAYS = 8


def settings_remarks(settings: Settings, now_utc: datetime) -> list[str]:
    """Return what is worth a second look, in words.

    Parameters
    ----------
    settings : Settings
        A configuration without mistakes.
    now_utc : datetime
        The present moment.

    Returns
    -------
    list of str
        Remarks; empty if nothing stands out.
    """
    farm = settings.farm
    today = now_utc.astimezone(ZoneInfo(farm.site.time_zone)).date()
    remarks = invented_remarks(settings)
    remarks += _abbreviation_remarks(farm.site.time_zone, now_utc)
    for block in farm.blocks:
        remarks += _seen_remarks(block, today, farm.rules)
        remarks += _offset_remarks(block)
    remarks += _readiness_remarks(farm, today)
    remarks += [
        f"{person.name}: {person.email} is a mail-to-text gateway that its carrier "
        f'closes on {CLOSING_GATEWAY[1]}; use the channel "sms" before that'
        for person in farm.people
        if (person.email or "").lower().endswith("@" + CLOSING_GATEWAY[0])
    ]
    remarks += open_files(settings)
    remarks += written_secrets(settings)
    remarks += _untold_crew(farm)
    remarks += _unused_equipment(farm)
    remarks += _unfinished_equipment(farm)
    remarks += _groundless_equipment(farm)
    if settings.watcher is None:
        remarks.append(
            "[watcher] is not set: nobody notices when this service dies, and a dead "
            "service looks like good weather"
        )
    return remarks


def _untold_crew(farm: Farm) -> list[str]:
    """Return names of the crew that are nearly those of people who are told."""
    names = {person.name.lower(): person.name for person in farm.people}
    return [
        f'[supplies] crew: "{name}" is not among the people, so that nobody is told of '
        f'their jobs; is it "{names[near[0]]}"?'
        for name in farm.supplies.crew
        if name.lower() not in names
        and (near := get_close_matches(name.lower(), names, n=1))
    ]


def _unfinished_equipment(farm: Farm) -> list[str]:
    """Return the equipment that no plan can reckon, with the keys that are missing."""
    return [
        f"{item.name}: no plan can use it without {', '.join(item.missing)}"
        for item in farm.equipment
        if item.missing
    ]


def _groundless_equipment(farm: Farm) -> list[str]:
    """Return the equipment whose ground is not known, so that no plan can reckon it."""
    remarks = []
    for item in farm.equipment:
        lacking = [
            block.name
            for block in farm.blocks
            if block.may_use(item) and block.area_m2 is None
        ]
        if item.area_m2 is None and item.method.needs_ground and lacking:
            remarks.append(
                f"{item.name}: no plan can use it in {', '.join(lacking)} "
                "without area, the ground that it wets or heats: crowns are less"
            )
    return remarks


def _unused_equipment(farm: Farm) -> list[str]:
    """Return the equipment that no plan will ever use, and why."""
    remarks = []
    methods = {block.name: block.methods for block in farm.blocks}
    for item in farm.equipment:
        wanted = item.blocks or tuple(methods)
        if any(item.method in methods[name] for name in wanted):
            idle = [name for name in item.blocks if item.method not in methods[name]]
        else:
            idle = list(wanted)
        if idle:
            remarks.append(
                f"{item.name} is never used in {', '.join(idle)}: no "
                f'"{item.method.name}" under its methods'
            )
    return remarks


def _seen_remarks(block: Block, today: date, rules: Rules) -> list[str]:
    """Return whether a stage was seen too long ago, or is yet to be seen."""
    age_days = (today - block.stage_seen).days
    if age_days < 0:
        return [
            f"{block.name}: stage_seen {block.stage_seen} lies in the future; write "
            "the day on which you looked"
        ]
    believed = {DORMANT: rules.dormant_days, HARVESTED: HALF_YEAR_DAYS}
    if age_days < believed.get(block.stage, _OLD_STAGE_DAYS):
        return []
    season = ", in another season" if age_days > HALF_YEAR_DAYS else ""
    return [
        f"{block.name}: {block.stage} was seen {age_days} days ago{season}; look "
        f'again, then: frostalert stage "{block.name}"'
    ]


def _readiness_remarks(farm: Farm, today: date) -> list[str]:
    """Return what was tried in the future."""
    return [
        f"[readiness] {key} {day} lies in the future; write the day of the trial"
        for key, day in asdict(farm.readiness).items()
        if isinstance(day, date) and day > today
    ]


def _abbreviation_remarks(zone: str, now_utc: datetime) -> list[str]:
    """Return whether a zone is an abbreviation that knows no summer time."""
    offsets = {
        now_utc.replace(month=month, day=1).astimezone(ZoneInfo(zone)).utcoffset()
        for month in (1, 7)
    }
    is_offset = zone.startswith("Etc/")
    if ("/" in zone and not is_offset) or len(offsets) > 1:
        return []
    if not (is_offset or zone.isupper()):
        return []
    return [
        f'time_zone "{zone}" has no summer time: if your clocks change, every hour '
        'would be an hour off; write a place such as "America/New_York"'
    ]


def _offset_remarks(block: Block) -> list[str]:
    """Return whether a block's offset is warm or very cold."""
    delta = block.cold_spot_delta_c
    words = f"{abs(delta):.1f} C ({abs(delta) * 1.8:.0f} F)"
    if delta > 0.0:
        return [f"{block.name}: cold_spot makes it {words} WARMER on clear nights"]
    if delta < _COLD_LIMIT_C:
        return [f"{block.name}: cold_spot makes it {words} colder: was it measured?"]
    return []
