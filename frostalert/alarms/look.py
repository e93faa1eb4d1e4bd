"""One look at the nights: all that the steps of a decision read."""

from collections.abc import Callable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from frostalert.model.alarm import Answer
from frostalert.model.assessment import Assessment, NightAssessment
from frostalert.model.notice import NightHistory
from frostalert.model.site import Person, Rules

if TYPE_CHECKING:
    # Whoever plans nothing need not load it.
    from frostalert.model.plan import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What a decision is made by.

    Attributes
    ----------
    assessment : Assessment
        What is found now.
    told : mapping of date to NightHistory
        What was said before.
    answers : tuple of Answer
        What people answered to earlier messages.
    people : tuple of Person
        Everybody on the list.
    addressed : callable
        Returns night and address of every message so far about some nights.
    plan_of : callable
        Returns a night's plan by what people were told before this look; none where
        nothing is at risk.
    is_plan_late : callable
        Returns whether a night has a plan that is not made yet.
    burning : set of str
        The equipment that is heat, by name: it goes out by the air, and no wet bulb
        keeps it lit.
    """

    assessment: Assessment
    told: Mapping[date, NightHistory]
    rules: Rules
    people: tuple[Person, ...]
    answers: tuple[Answer, ...]
    addressed: Callable[[AbstractSet[date]], AbstractSet[tuple[date, str]]]
    plan_of: "Callable[[date], Plan | None]"
    is_plan_late: Callable[[date], bool] = lambda _: False
    burning: AbstractSet[str] = frozenset()

    @property
    def now_utc(self) -> datetime:
        """The present moment."""
        return self.assessment.issued_utc

    @property
    def last_turn(self) -> int:
        """The last turn on the list of people, from 1."""
        return max((person.turn for person in self.people), default=1)

    @property
    def made_utc(self) -> datetime | None:
        """When the forecast was made; None without one."""
        forecast = self.assessment.forecast
        return None if forecast is None else forecast.updated_utc

    @property
    def is_good(self) -> bool:
        """Whether the forecast is young enough to clear anything."""
        forecast = self.assessment.forecast
        return forecast is not None and forecast.age_word in ("fresh", "ageing")

    def history(self, night: date) -> NightHistory:
        """Return what was said about a night, nothing if nothing was."""
        return self.told.get(night) or NightHistory(night=night)

    def is_by_air(self, past: NightHistory) -> bool:
        """Whether people were called to heat alone, so that no water may run."""
        told = past.told_starts
        return bool(told) and all(name in self.burning for name, _ in told)

    def record(self, night: date) -> NightAssessment | None:
        """Return what is found of a night; none of one that is gone."""
        nights = self.assessment.nights
        return next((item for item in nights if item.night == night), None)
