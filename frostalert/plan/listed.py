"""What is listed for a block and cannot be reckoned: when it starts, if at all."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from frostalert.model.equipment import Equipment
from frostalert.model.method import RefusalReason
from frostalert.model.plan import Option, Task, Verdict
from frostalert.model.progress import Progress
from frostalert.model.site import Rules
from frostalert.plan.block_case import BlockAtRisk
from frostalert.plan.timeline import start_task
from frostalert.plan.warm_judgement import refused, unknown
from frostalert.plan.warm_start import running_by
from frostalert.plan.water_options import latest_dry_start


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
        Whoever uses it by their own experience must not wet dry buds that would freeze
        as they are wetted: after that hour it is refused, as water that is known is.
    """
    option = unknown(case, equipment, ground)
    if equipment.method.wets_buds:
        latest_utc = latest_dry_start(case)
        if case.is_too_late(case.now_utc, latest_utc):
            return refused(case, equipment, Verdict.NOT_TONIGHT, RefusalReason.TOO_LATE)
        return replace(
            option,
            start_air_c=case.record.start_air_c,
            not_dry_after_utc=latest_utc,
        )
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
