"""What was true when something was said: the judgement of that very look."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from unittest.mock import patch

from frostalert.cycle import cycle
from frostalert.messages.compose import compose_decision
from frostalert.model.assessment import NightAssessment
from frostalert.model.notice import Message, NightDecision
from frostalert.model.plan import Plan
from frostalert.model.site import Farm
from frostalert.model.start import StartKey


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """One look of the service.

    Attributes
    ----------
    true_utc, at_utc : datetime
        When it was, truly and by the service's clock.
    nights, items : dict by date
        What was judged of each night, and what was decided about it.
    plans : dict by date
        The plans of the nights that people are told to do something about.
    """

    true_utc: datetime
    at_utc: datetime
    farm: Farm
    nights: dict[date, NightAssessment]
    items: dict[date, NightDecision]
    plans: dict[date, Plan] = field(default_factory=dict)

    def is_off(self, night: date, key: StartKey) -> bool:
        """Return whether people were told of a plan without a start, at this look."""
        plan = self.plans.get(night)
        return plan is not None and all(task.pair != key for task in plan.starts)

    def begin_utc(self, night: date, key: StartKey) -> datetime | None:
        """Return when people must begin for a start, with what is set up in the dark.

        None where they were told of no plan with it.
        """
        plan = self.plans.get(night)
        if plan is None:
            return None
        own = (plan.begin_utc(task) for task in plan.starts if task.pair == key)
        return next(own, None)


@dataclass
class Moments:
    """All looks of a season in order, and those that each message comes from.

    A state that was lost may say the same thing anew: then a key has several.
    """

    course: list[Moment] = field(default_factory=list)
    of: dict[str, list[Moment]] = field(default_factory=dict)
    queued: list[tuple[Moment, Message]] = field(default_factory=list)
    due_utc: dict[str, datetime] = field(default_factory=dict)
    """When each message was last to go out, by its key."""


@contextmanager
def noting(moments: Moments, world: Any) -> Iterator[None]:
    """Note every look for a while; what is looked on at is not changed."""
    right = compose_decision

    def noted(decision: Any, assessment: Any, farm: Any, **named: Any) -> Any:
        messages = right(decision, assessment, farm, **named)
        moment = Moment(
            true_utc=world.now_utc,
            at_utc=assessment.issued_utc,
            farm=farm,
            nights={night.night: night for night in assessment.nights},
            items={item.night: item for item in decision.nights},
            plans={
                night: enclosure.plan
                for night, enclosure in (named.get("enclosures") or {}).items()
                if enclosure.plan is not None
            },
        )
        moments.course.append(moment)
        for message in messages:
            moments.of.setdefault(message.key, []).append(moment)
            due_utc = message.held_until_utc or world.now_utc
            moments.due_utc[message.key] = max(due_utc, world.now_utc)
        moments.queued += [(moment, message) for message in messages]
        return messages

    with patch.object(cycle, "compose_decision", noted):
        yield
