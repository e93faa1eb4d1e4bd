"""The time for work before dark, and what that work is."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from frostalert.model.assessment import NightAssessment
from frostalert.model.equipment import Equipment
from frostalert.model.plan import Option
from frostalert.model.progress import Progress
from frostalert.model.site import Farm, Rules
from frostalert.model.start import StartKey

TRY_WATER = timedelta(minutes=20)
"""Time to try pump and nozzles. Common practice, no source."""
_LEAST_WORK = timedelta(minutes=1)
_MORNING_BEFORE = timedelta(hours=4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Daylight:
    """From when to when work before dark is done.

    Attributes
    ----------
    now_utc : datetime
        The present moment.
    begin_utc, ready_utc : datetime
        When people could begin, and when all must stand ready.
    is_done : bool
        Whether that work is taken as done: it is dark, and it is not known since when
        people knew.
    is_dark : bool
        Whether the sun has set.
    ready : frozenset of StartKey
        What stands ready: what people were told to set up while it was light.
    asked_utc : mapping of StartKey to datetime
        Since when people were told to set up what they were told of.
    """

    now_utc: datetime
    begin_utc: datetime
    ready_utc: datetime
    is_done: bool
    is_dark: bool
    ready: frozenset[StartKey] = frozenset()
    asked_utc: Mapping[StartKey, datetime] = field(default_factory=dict)

    @property
    def left(self) -> timedelta:
        """Time of one person."""
        return max(timedelta(0), self.ready_utc - self.begin_utc)

    def is_too_short_for(self, item: Equipment, hands: int) -> bool:
        """Whether it can be set up only late, by lamplight.

        That is better than not at all, for whatever is started in the night.
        """
        is_by_day = item.method.is_before_dark
        return not is_by_day and set_up_of(item) > hands * self.left


def daylight_of(
    night: NightAssessment,
    offered: Sequence[Option],
    farm: Farm,
    now_utc: datetime,
    progress: Progress,
) -> Daylight:
    """Return the time for work before dark.

    References
    ----------
    .. [1] Common practice, no source.
    """
    sunset = night.sunset_utc
    is_dark = sunset is not None and now_utc >= sunset
    since = progress.hands_since_utc
    begin = now_utc if since is None else min(since, now_utc)
    return Daylight(
        now_utc=now_utc,
        begin_utc=max(begin, night.start_utc - _MORNING_BEFORE),
        ready_utc=_ready_utc(night, offered, farm.rules),
        is_done=is_dark and not progress.is_known,
        is_dark=is_dark,
        ready=_ready(progress, sunset) if is_dark else frozenset(),
        asked_utc={
            key: start.planned_utc
            for key, start in progress.starts.items()
            if start.planned_utc is not None
        },
    )


def _ready(progress: Progress, sunset_utc: datetime | None) -> frozenset[StartKey]:
    """Return what people were told to set up before the sun set."""
    return frozenset(
        key
        for key, start in progress.starts.items()
        if start.planned_utc is not None
        and (sunset_utc is None or start.planned_utc < sunset_utc)
    )


def set_up_of(item: Equipment) -> timedelta:
    """Return the work of one person to bring an equipment to where it can start."""
    is_water = item.method.is_water
    work = item.set_up + (TRY_WATER if is_water else timedelta(0))
    # Nothing stands in no time at all: after dark it would count as done.
    return max(work, _LEAST_WORK)


def _ready_utc(
    night: NightAssessment, offered: Sequence[Option], rules: Rules
) -> datetime:
    """Return when everything must stand ready: sunset, or before the first start.

    What is laid before dark stands before its cold, where that begins by day.
    """
    starts = [
        item.start_utc if item.method.is_before_dark else item.start_utc - rules.set_up
        for item in offered
        if item.start_utc is not None
    ]
    first = min(starts, default=night.sunset_utc or night.end_utc)
    return first if night.sunset_utc is None else min(night.sunset_utc, first)
