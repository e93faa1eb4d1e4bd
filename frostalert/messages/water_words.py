"""What holds for water, heat and snow in any mail or plan: its start, its stop.

One home for each sentence, so that plan, mail and page say the same.
"""

from collections.abc import Sequence
from datetime import datetime

from frostalert.messages.wording import Wording
from frostalert.model.method import MethodKind
from frostalert.model.plan import Plan, WaterFacts
from frostalert.model.site import Units
from frostalert.physics.start_reading import START_WET_BULB_C, start_air_c

_DEWS_F = (32.0, 28.0, 24.0, 20.0, 15.0, 10.0)
_DEWS_C = (0.0, -2.0, -4.0, -6.0, -8.0, -10.0)


def keep_water_on(plan: Plan, wording: Wording) -> str:
    """Return when water may stop, and by what alone; empty where none wets buds."""
    running = (*plan.chosen, *plan.begun, *plan.listed)
    if not any(item.method.wets_buds for item in running):
        return ""
    until = stop_hour(plan.stop_not_before_utc, wording)
    return (
        "Once water runs, KEEP IT ON until you measure a wet bulb above "
        f"{wording.temperature(0.0)} and ice melts freely, and never stop it before "
        f"{until}."
    )


def stop_hour(stop_utc: datetime | None, wording: Wording) -> str:
    """Return the hour before which water must not stop."""
    return "full daylight" if stop_utc is None else wording.clock(stop_utc)


def brief_keep_on(stop_utc: datetime | None, wording: Wording) -> str:
    """Return that water stays on, until when and by what, for a text message."""
    return (
        f"KEEP WATER ON until {_hour_and(stop_utc, wording, 'AND ')}you MEASURE wet "
        f"bulb over {wording.temperature(0.0)} AND ice melts."
    )


def keep_on_line(stop_utc: datetime | None, wording: Wording) -> str:
    """Return the same for a mail, with what comes of stopping by a forecast."""
    return (
        f"Keep water on until {_hour_and(stop_utc, wording, 'and until ')}you measure "
        f"a wet bulb above {wording.temperature(0.0)} and ice melts freely in every "
        "block. Never stop it on a forecast: shade, wind or dry air can refreeze wet "
        "plants."
    )


def _hour_and(stop_utc: datetime | None, wording: Wording, between: str) -> str:
    """Return the hour before which water must not stop; empty once it has gone by.

    An hour that is over would read as if the rest had come true as well.
    """
    if stop_utc is not None and stop_utc <= wording.now_utc:
        return ""
    return f"{stop_hour(stop_utc, wording)} {between}"


def heat_out_line(wording: Wording) -> str:
    """Return when heat goes out: by what is measured, never by the clock."""
    return (
        "Heat off, the coldest spot last, once the air among the buds has stayed above "
        f"{wording.temperature(0.0)} for 15 minutes."
    )


def snow_line(blossom: Sequence[str]) -> str:
    """Return that snow stays where it falls on blossom; empty where none does."""
    if not blossom:
        return ""
    names = ", ".join(blossom)
    return f"Snow may fall: let it melt, never shake it off the blossom ({names})."


def tank_words(plan: Plan, wording: Wording) -> str:
    """Return which night gets a tank that two in a row ask for; empty without such."""
    tank = plan.tank
    if tank is None:
        return ""
    then = wording.night(tank.next_night)
    left, needed = wording.amount(tank.left_l), wording.amount(tank.needed_l)
    if tank.is_kept_back:
        return (
            f"The tank does not last for both nights: it is kept for {then}, which "
            f"needs {needed}, since that saves more of the crop."
        )
    words = f"After this night {left} are left for {then}, which needs {needed}"
    if tank.lasts:
        return f"{words}: the tank lasts for both."
    return (
        f"{words}: it does not last for both, and this night gets it. Fill it by day."
    )


def start_table(plan: Plan, wording: Wording) -> str:
    """Return at which reading water starts by dew point; empty without such water.

    The dew point of the hour that is to come is not known: whoever measures it reads
    the start off here.
    """
    pressures_hpa = [
        item.facts.pressure_hpa
        for item in plan.chosen
        if item.method.kind is MethodKind.OVER_PLANT_WATER
        and isinstance(item.facts, WaterFacts)
    ]
    if not pressures_hpa:
        return ""
    # Thin air needs the higher reading: the earlier start.
    pressure_hpa = min(pressures_hpa)
    is_us = wording.site.units is Units.US
    dews_c = [(dew - 32.0) / 1.8 for dew in _DEWS_F] if is_us else list(_DEWS_C)
    airs_c = start_air_c(START_WET_BULB_C, dews_c, pressure_hpa)
    first, *others = (
        (_bare(float(air), wording), _bare(dew, wording))
        for dew, air in zip(dews_c, airs_c, strict=True)
    )
    unit = wording.temperature(0.0).split()[1]
    rest = "".join(f", {air} at {dew}" for air, dew in others)
    return (
        f"Start water when air ({unit}) reads {first[0]} at dew point {first[1]}{rest}."
    )


def _bare(celsius: float, wording: Wording) -> str:
    """Return a temperature without its unit."""
    return wording.temperature(celsius).split()[0]
