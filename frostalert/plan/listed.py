"""What is listed for a block and cannot be reckoned: when it starts, if at all."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from frostalert.model.equipment import Equipment
from frostalert.model.method import RefusalReason
from frostalert.model.plan import Option, Task
from frostalert.model.progress import Progress
from frostalert.model.site import Rules
from frostalert.plan.block_case import BlockAtRisk
from frostalert.plan.timeline import start_task
from frostalert.plan.unjudged_water import unjudged_water
from frostalert.plan.warm_judgement import unknown
from frostalert.plan.warm_start import running_by


def listed_option(
    case: BlockAtRisk, equipment: Equipment, ground: RefusalReason
) -> Option:
    """Return a method whose worth is not known, with the hour and reading to start at.

    Parameters
    ----------
    case : BlockAtRisk
        The block's night.
    equipment : Equipment
        What is there, or the method's name alone.
    ground : RefusalReason
        What is not known of it.

    Returns
    -------
    Option
        Water as from `unjudged_water`.
    """
    if equipment.method.wets_buds:
        return unjudged_water(case, equipment, ground)
    option = unknown(case, equipment, ground)
    if not equipment.method.is_before_dark:
        start_utc, air_c = running_by(case, equipment.method)
        return replace(option, start_utc=start_utc, start_air_c=air_c)
    return option


def listed_starts(
    listed: Sequence[Option], rules: Rules, progress: Progress, now_utc: datetime
) -> tuple[Task, ...]:
    """Return the starts of what is only listed, so that each is called at its hour.

    What people were called to, and may run, is nothing to start any more.
    """
    return tuple(
        start_task(item, rules.set_up, now_utc)
        for item in listed
        if item.start_utc is not None
        and not item.method.is_before_dark
        and item.pair not in progress.told_starts
    )
