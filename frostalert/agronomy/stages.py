"""Which stage counts on a night: the one that was seen, or what it may be by now."""

from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from frostalert.agronomy.ageing import Moved, Pace, most_tender, moved_on
from frostalert.agronomy.winter import calendar_wake, fruit_year
from frostalert.errors import UnknownStageError
from frostalert.model.assessment import StageInForce
from frostalert.model.crop import Crop, StageThreshold
from frostalert.model.site import DORMANT, HARVESTED
from frostalert.model.warmth import Spring, StageWarmth

_SLACK_DAYS = 1
HALF_YEAR_DAYS = 183
"""Age up to which a stage or "harvested" belongs to this season. [d] Common practice,
no source."""
EVERGREEN_HARVESTED_DAYS = 150
"""The same for "harvested" of a crop that no calendar makes dormant. [d] Common
practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What somebody saw in a block.

    Attributes
    ----------
    stage : str
        Stage of the most advanced tenth of the buds, "dormant" or "harvested".
    seen : date
        Local date of the look.
    since : date or None
        Day on which the same stage was first seen, if that is known.
    warmth : StageWarmth or None
        Warmth since the look.
    """

    stage: str
    seen: date
    since: date | None = None
    warmth: StageWarmth | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """A look and all that it is judged by on a night."""

    crop: Crop
    look: Look
    night: date
    pace: Pace
    spring: Spring | None
    counts_from: date
    wakes: date

    @property
    def age(self) -> int:
        """Age of the look. [d]"""
        return (self.night - self.look.seen).days

    @property
    def is_to_come(self) -> bool:
        """Whether its date lies ahead: it then says nothing of this season."""
        return self.age < -_SLACK_DAYS

    @property
    def is_winter(self) -> bool:
        """Whether the crop counts as dormant by the calendar."""
        return self.night < self.wakes and not self.crop.is_evergreen

    @property
    def looked(self) -> str:
        """When it was looked at, in words."""
        return f"looked at {_days(self.age)}"


# Looks within a day find the stages of the last: some crops on some ten nights.
@lru_cache(maxsize=256)
def stage_in_force(
    crop: Crop,
    look: Look,
    night: date,
    pace: Pace,
    *,
    is_south: bool = False,
    spring: Spring | None = None,
) -> StageInForce:
    """Return the stage that counts, with the reason.

    Buds move on while nobody looks: a stage counts as further by its age or by warmth,
    the sooner, and the most tender on the way is taken; after the last row its value
    holds until the block is entered as harvested. A look of more than half a year ago
    says nothing of this season. Crops that lose their leaves then count as dormant
    until they may wake (`agronomy.winter`); from then on a block that nobody looked at
    is judged at the most tender stage that the fastest published degree-days allow, and
    the look is asked for.

    Parameters
    ----------
    crop : Crop
        The crop.
    look : Look
        What was seen last.
    night : date
        Local date of the night.
    pace : Pace
        What age does.
    is_south : bool
        Whether summer is in January.
    spring : Spring, optional
        When the crop may wake, by the weather; else the calendar tells.

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
    if look.stage not in (*crop.stage_names, DORMANT, HARVESTED):
        raise UnknownStageError(look.stage, [], crop.stage_names)
    year = fruit_year(night, is_south=is_south)
    is_this_year = spring is not None and spring.counts_from == year.counts_from
    case = _Case(
        crop=crop,
        look=look,
        night=night,
        pace=pace,
        spring=spring if is_this_year else None,
        counts_from=year.counts_from,
        wakes=spring.wakes
        if spring is not None and is_this_year
        else calendar_wake(crop, year),
    )
    if look.stage == HARVESTED:
        return _harvested(case)
    if look.stage == DORMANT:
        return _dormant(case)
    if case.is_to_come or case.age > HALF_YEAR_DAYS:
        return _unseen(case, f"{look.stage} was {case.looked}: not of this season")
    return _seen(case)


def _harvested(case: _Case) -> StageInForce:
    """Return "harvested", believed until the next season may begin."""
    crop, seen = case.crop, case.look.seen
    days = EVERGREEN_HARVESTED_DAYS if crop.is_evergreen else HALF_YEAR_DAYS
    is_over = not crop.is_evergreen and seen < case.wakes <= case.night
    if case.is_to_come or case.age >= days or is_over:
        return _unseen(
            case, f"harvested was {case.looked}; a new season may have begun"
        )
    reason = f"harvested, {case.looked}: not watched"
    return StageInForce(
        stage=HARVESTED,
        threshold=None,
        is_assumed=False,
        is_muted=True,
        reason=reason,
    )


def _dormant(case: _Case) -> StageInForce:
    """Return "dormant", believed or not."""
    if case.is_to_come:
        return _unseen(case, f"dormant was {case.looked}")
    if case.is_winter:
        return _asleep(case, f"dormant, {case.looked}")
    warmth = case.look.warmth
    has_moved = warmth is not None and warmth.steps_on(case.night) > 0
    if case.age < case.pace.dormant_days and not has_moved:
        return _asleep(case, f"dormant, {case.looked}")
    words = f"dormant was {case.looked}"
    if has_moved:
        words += moved_on(case.crop, 0, 0, case.night, case.pace, warmth).why
    return _unseen(case, f"{words}; buds may have moved since")


def _seen(case: _Case) -> StageInForce:
    """Return a stage of the crop's table, or the next one if it is old."""
    crop, look = case.crop, case.look
    place, age = crop.stage_names.index(look.stage), max(0, case.age)
    moved = moved_on(crop, place, age, case.night, case.pace, look.warmth)
    at_it = (case.night - min(look.seen, look.since or look.seen)).days
    row, counts = crop.stages[place], most_tender(crop, place, moved, at_it)
    if not moved.steps:
        reason = f"{row.stage}, {case.looked}{moved.why}"
        if counts is not row:
            reason += f"; more tender after {row.aged_days} days at it"
    else:
        reason = f"{row.stage} was {case.looked}{moved.why}"
        if counts.stage != row.stage:
            reason += f", so {counts.stage} is assumed"
    return StageInForce(
        stage=counts.stage,
        threshold=counts,
        is_assumed=moved.steps > 0,
        is_muted=False,
        reason=reason,
    )


def _unseen(case: _Case, reason: str) -> StageInForce:
    """Return what a block may be at that nobody looked at this season."""
    crop = case.crop
    since = case.wakes if case.night >= case.wakes else None
    if case.is_winter:
        return _asleep(case, f"{reason}; dormant by the calendar")
    place = max(_places(case), default=None) if since else None
    if place is not None:
        counts = most_tender(crop, 0, Moved(place, 0.0, ""))
        reason = f"{reason}; {counts.stage} is the most tender that {_by(case)}"
        return _assumed(counts, reason, since=since)
    if crop.is_evergreen:
        counts = crop.dormant or crop.stages[0]
        return _assumed(counts, f"{reason}; {counts.stage} is assumed", since=since)
    words = f"{reason}; by warmth it may still be dormant"
    return _asleep(case, words, since=since)


def _places(case: _Case) -> list[int]:
    """Return the places in the table that buds may have reached."""
    crop, look, spring, night = case.crop, case.look, case.spring, case.night
    first_on = case.wakes if spring is None else spring.first_on
    warmth = None if spring is None else spring.since_first
    places = []
    is_dormant = _is_dormant_this_year(case)
    if is_dormant and look.warmth is not None:
        moved = look.warmth.steps_on(night)
        places += [min(moved, len(crop.stages)) - 1] if moved else []
    if is_dormant and first_on is not None and first_on <= look.seen:
        first_on, warmth = look.seen + timedelta(days=1), look.warmth
    elif spring is not None and spring.published_on is not None and not is_dormant:
        assert crop.first_stage is not None  # noqa: S101 - it was published
        if night >= spring.published_on:
            places.append(crop.stage_names.index(crop.first_stage.stage))
    if first_on is not None and night >= first_on:
        age = (night - first_on).days
        moved_since = moved_on(crop, 0, age, night, case.pace, warmth)
        places.append(min(moved_since.steps, len(crop.stages) - 1))
    return places


def _by(case: _Case) -> str:
    """Return what a stage is assumed by, in words."""
    if _is_dormant_this_year(case):
        return "it may have reached since"
    if case.spring is None:
        return "the calendar allows"
    if case.crop.first_stage is not None:
        return "the fastest published warmth allows"
    return "the fastest published warmth of any fruit allows (none is for it)"


def _is_dormant_this_year(case: _Case) -> bool:
    """Return whether it was seen dormant since midwinter: nothing had moved by then."""
    look = case.look
    return look.stage == DORMANT and case.counts_from <= look.seen <= case.night


def _assumed(
    counts: StageThreshold, reason: str, *, since: date | None
) -> StageInForce:
    """Return a stage that nobody saw."""
    return StageInForce(
        stage=counts.stage,
        threshold=counts,
        is_assumed=True,
        is_muted=False,
        reason=reason,
        unseen_since=since,
    )


def _asleep(case: _Case, reason: str, *, since: date | None = None) -> StageInForce:
    """Return "dormant", with what dormant buds bear if that was published."""
    limit = case.crop.dormant
    return StageInForce(
        stage=DORMANT,
        threshold=limit,
        is_assumed=False,
        is_muted=limit is None,
        reason=f"{reason}: not watched" if limit is None else reason,
        unseen_since=since,
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
