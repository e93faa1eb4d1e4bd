"""Which stage counts on a night: the one that was seen, or the next if that is old."""

from dataclasses import dataclass
from datetime import date

from frostalert.errors import UnknownStageError
from frostalert.model.assessment import StageInForce
from frostalert.model.crop import Crop
from frostalert.model.site import DORMANT, HARVESTED
from frostalert.model.warmth import StageWarmth

_SLACK_DAYS = 1
HARVESTED_DAYS = 180
"""Age at which "harvested" may belong to the season before. [d] Common practice,
no source."""


def stage_in_force(
    crop: Crop,
    stage: str,
    seen: date,
    night: date,
    *,
    stage_days: int,
    dormant_days: int,
    warmth: StageWarmth | None = None,
) -> StageInForce:
    """Return the stage that counts, with the reason.

    Buds move on while nobody looks. For every `stage_days` of its age a stage counts as
    one further, or for the warmth since then if that is more, and the most tender on
    the way is taken; after the last row its value holds until the block is entered as
    harvested. "Dormant" is believed for `dormant_days` and until the warmth of a stage
    has gone by, "harvested" until the next season may have begun.

    Where the site's own past years tell what a stage takes, and every day since is
    known, age alone counts half as fast: a cold spell holds buds back.

    Parameters
    ----------
    crop : Crop
        The crop.
    stage : str
        Stage of the most advanced tenth of the buds when last looked at.
    seen, night : date
        Local dates of that look and of the night.
    stage_days, dormant_days : int
        Ages at which a stage, or "dormant", cannot be relied on. [d]
    warmth : StageWarmth, optional
        Warmth since it was seen.

    Returns
    -------
    StageInForce
        Without a threshold where there is nothing to compare with.

    Raises
    ------
    UnknownStageError
        If the crop's table has no such stage.

    References
    ----------
    .. [1] The ages are common practice, no source; stage models err by several days
       (Zavalloni et al. 2006, abstract: -4 to +1 days for tart cherry).
    """
    age = (night - seen).days
    if age < -_SLACK_DAYS:
        # A date that is to come says nothing of today: trust it least.
        age = max(stage_days, dormant_days)
    looked = f"looked at {_days((night - seen).days)}"
    age = max(0, age)
    if stage == HARVESTED and age >= HARVESTED_DAYS:
        reason = f"harvested was {looked}; a new season may have begun"
        return _without(stage, reason, is_muted=False)
    if stage == HARVESTED:
        return _without(stage, f"harvested, {looked}: not watched", is_muted=True)
    if stage == DORMANT:
        return _dormant(age, dormant_days, looked, _moved(warmth, night))
    steps, why = _steps(age, stage_days, _moved(warmth, night))
    return _by_table(crop, stage, steps, f"{looked}{why}")


@dataclass(frozen=True, slots=True)
class _Moved:
    """How far warmth may have moved buds by a night, in words too."""

    steps: int
    words: str
    is_sure: bool


def _moved(warmth: StageWarmth | None, night: date) -> _Moved:
    """Return how far warmth may have moved buds."""
    if warmth is None:
        return _Moved(0, "", is_sure=False)
    by = "this site's past years" if warmth.is_own else "a rule of thumb"
    words = f"{warmth.sum_on(night):.0f} degree-days C since; by {by}"
    is_sure = warmth.is_own and warmth.is_whole
    return _Moved(warmth.steps_on(night), words, is_sure=is_sure)


def _steps(age: int, stage_days: int, moved: _Moved) -> tuple[int, str]:
    """Return how many stages further one counts, and by what."""
    by_age = age // (2 * stage_days if moved.is_sure else stage_days)
    if moved.steps > by_age:
        return moved.steps, f" ({moved.words})"
    if age // stage_days > by_age:
        return by_age, f" (not moved on by days alone: {moved.words})"
    return by_age, ""


def _by_table(crop: Crop, stage: str, steps: int, looked: str) -> StageInForce:
    """Return a stage of the crop's table, or the next one if it is old."""
    names = crop.stage_names
    if stage not in names:
        raise UnknownStageError(stage, [], names)
    index = names.index(stage)
    row = crop.stages[index]
    if not steps:
        return StageInForce(
            stage=row.stage,
            threshold=row,
            is_assumed=False,
            is_muted=False,
            reason=f"{row.stage}, {looked}",
        )
    on_the_way = crop.stages[index : index + 1 + steps]
    # The latest of the most tender: kill shares still rise where warnings do not.
    counts = max(reversed(on_the_way), key=lambda stage: stage.alarm_c)
    moved = f", so {counts.stage} is assumed" if counts is not row else ""
    return StageInForce(
        stage=counts.stage,
        threshold=counts,
        is_assumed=True,
        is_muted=False,
        reason=f"{row.stage} was {looked}{moved}",
    )


def _dormant(age: int, dormant_days: int, looked: str, moved: _Moved) -> StageInForce:
    """Return "dormant", believed or not."""
    if moved.steps:
        looked += f" ({moved.words})"
    elif age < dormant_days:
        return _without(DORMANT, f"dormant, {looked}: not watched", is_muted=True)
    reason = f"dormant was {looked}; buds may have moved since"
    return _without(DORMANT, reason, is_muted=False)


def _without(stage: str, reason: str, *, is_muted: bool) -> StageInForce:
    """Return a stage that has no threshold."""
    return StageInForce(
        stage=stage, threshold=None, is_assumed=False, is_muted=is_muted, reason=reason
    )


def _days(age: int) -> str:
    """Return an age in words."""
    if age < -_SLACK_DAYS:
        return "on a date to come, not before this night"
    if age < 0:
        return "after this night's evening"
    if age == 0:
        return "less than a day before this night"
    return f"{'1 day' if age == 1 else f'{age} days'} before this night"
