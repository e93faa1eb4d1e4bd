"""Water over the plants that cannot be worked out: when it starts, if at all."""

from dataclasses import replace

from frostalert.model.equipment import Equipment
from frostalert.model.method import RefusalReason
from frostalert.model.plan import Option, Verdict
from frostalert.plan.block_case import BlockAtRisk
from frostalert.plan.dry_start import driest_start, latest_dry_start
from frostalert.plan.warm_judgement import refused, unknown


def unjudged_water(
    case: BlockAtRisk, equipment: Equipment, ground: RefusalReason
) -> Option:
    """Return water whose worth is not known, with the hour and reading to start at.

    Parameters
    ----------
    case : BlockAtRisk
        The block's night.
    equipment : Equipment
        What there is, or the method's name alone.
    ground : RefusalReason
        What is not known of it.

    Returns
    -------
    Option
        Whoever uses it by their own experience must not wet dry buds that would freeze
        as they are wetted: after that hour it is refused, as water that is known is.
    """
    latest_utc = latest_dry_start(case)
    if case.is_too_late(case.now_utc, latest_utc):
        return refused(case, equipment, Verdict.NOT_TONIGHT, RefusalReason.TOO_LATE)
    start_utc, air_c = case.start_utc, case.record.start_air_c
    if air_c is None:
        start_utc, air_c = driest_start(case)
    return replace(
        unknown(case, equipment, ground),
        start_utc=start_utc,
        start_air_c=air_c,
        not_dry_after_utc=latest_utc,
    )
