"""What is allowed in a configuration and may still not be meant."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from frostalert.model.channel import ChannelKind
from frostalert.model.settings import Settings
from frostalert.model.site import Block, Farm

CLOSING_GATEWAY = ("vtext.com", "31 March 2027")
"""A mail-to-text gateway with the day on which it closes (from secondary pages)."""
_DEGREES_AN_HOUR = 15.0
_FAR_ZONE_H = 3.0
_COLD_LIMIT_C = -5.0
_OLD_STAGE = timedelta(days=8)


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
    remarks = zone_remarks(farm, now_utc)
    today = now_utc.astimezone(ZoneInfo(farm.site.time_zone)).date()
    for block in farm.blocks:
        age = today - block.stage_seen
        if age < timedelta(0):
            remarks.append(f"{block.name}: stage_seen {block.stage_seen} is to come")
        elif age >= _OLD_STAGE:
            remarks.append(
                f"{block.name}: {block.stage} was seen {age.days} days ago; look again"
            )
        remarks += _offset_remarks(block)
    remarks += [
        f"{person.name}: {person.email} is a mail-to-text gateway that its carrier "
        f'closes on {CLOSING_GATEWAY[1]}; use the channel "sms" before that'
        for person in farm.people
        if (person.email or "").lower().endswith("@" + CLOSING_GATEWAY[0])
    ]
    remarks += _open_secrets(settings)
    remarks += _unused_equipment(farm)
    remarks += _unfinished_equipment(farm)
    remarks += _groundless_equipment(farm)
    if settings.watcher is None:
        remarks.append(
            "[watcher] is not set: nobody notices when this service dies, and a dead "
            "service looks like good weather"
        )
    return remarks


def _unfinished_equipment(farm: Farm) -> list[str]:
    """Return the equipment that no plan can reckon, with the keys that are missing."""
    return [
        f"{item.name}: no plan can reckon with it without {', '.join(item.missing)}"
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
                f"{item.name}: no plan can reckon with it in {', '.join(lacking)} "
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


def _open_secrets(settings: Settings) -> list[str]:
    """Return which files with secrets everybody on the machine can read."""
    set_up = (settings.of_channel(kind) for kind in ChannelKind)
    logins = [login for login in set_up if login is not None]
    secrets = [login.password for login in logins] + [settings.sources.open_meteo_key]
    files = {secret.open_file for secret in secrets if secret is not None}
    return [
        f"{file} can be read by everybody on this machine: chmod 600 {file}"
        for file in sorted(file for file in files if file is not None)
    ]


def zone_remarks(farm: Farm, now_utc: datetime) -> list[str]:
    """Return whether the time zone does not go with the longitude.

    Parameters
    ----------
    farm : Farm
        Holds the site.
    now_utc : datetime
        The present moment.

    Returns
    -------
    list of str
        One remark, or none.
    """
    site = farm.site
    offset = now_utc.astimezone(ZoneInfo(site.time_zone)).utcoffset() or timedelta(0)
    by_zone_h = offset / timedelta(hours=1)
    by_sun_h = site.longitude / _DEGREES_AN_HOUR
    apart_h = abs((by_zone_h - by_sun_h + 12.0) % 24.0 - 12.0)
    if apart_h <= _FAR_ZONE_H:
        return _abbreviation_remarks(site.time_zone, now_utc)
    return [
        f"{site.time_zone} is {apart_h:.0f} h off the sun at longitude "
        f"{site.longitude:g}; one of them may be wrong: west, so all of America, is "
        "negative"
    ]


def _abbreviation_remarks(zone: str, now_utc: datetime) -> list[str]:
    """Return whether a zone is an abbreviation that knows no summer time."""
    offsets = {
        now_utc.replace(month=month, day=1).astimezone(ZoneInfo(zone)).utcoffset()
        for month in (1, 7)
    }
    if "/" in zone or len(offsets) > 1 or not zone.isupper():
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
