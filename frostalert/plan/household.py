"""What a house has against frost, for low plants that nothing else is there for."""

from collections.abc import Sequence
from datetime import datetime

from frostalert.agronomy.methods import HOUSEHOLD, LOW_PLANT_M
from frostalert.model.assessment import NightAssessment
from frostalert.model.plan import Household, Option
from frostalert.model.progress import Progress
from frostalert.plan.block_case import BlockAtRisk


def household_of(
    night: NightAssessment,
    cases: Sequence[BlockAtRisk],
    done: Sequence[Option],
    now_utc: datetime,
    progress: Progress,
) -> Household | None:
    """Return what a house has for low plants at risk that get nothing else.

    `done` is what is chosen, or listed by its name alone. Whoever has covers is told of
    those, and why they stay off where they do. By night there is none of what helps
    only by day, and in the morning none at all.
    """
    sunset, sunrise = night.sunset_utc, night.sunrise_utc
    if sunrise is not None and now_utc >= sunrise:
        return None
    helped = {item.block for item in done}
    low = [
        case.block
        for case in cases
        if case.block.height_m <= LOW_PLANT_M
        and case.block.name not in helped
        and not case.block.has_cover
    ]
    if not low:
        return None
    is_dark = sunset is not None and now_utc >= sunset
    may_burn = any(block.has_straw for block in low)
    return Household(
        blocks=tuple(block.name for block in low),
        means=tuple(
            item
            for item in HOUSEHOLD
            if not (item.is_by_day and is_dark) and not (item.is_hot and may_burn)
        ),
        is_laid=is_dark and _was_told_by_day(progress, sunset),
    )


def _was_told_by_day(progress: Progress, sunset_utc: datetime | None) -> bool:
    """Return whether people were called before the sun set, or may have been."""
    if not progress.is_known:
        return True
    since = progress.hands_since_utc
    return since is not None and sunset_utc is not None and since < sunset_utc
