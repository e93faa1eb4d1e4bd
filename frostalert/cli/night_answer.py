"""What the plan of a night comes to, for those who print the night."""

from dataclasses import dataclass
from datetime import datetime

from frostalert.messages.lead_words import first_start_utc
from frostalert.messages.wording import Wording
from frostalert.model.assessment import NightAssessment
from frostalert.model.nights import Nights
from frostalert.model.notice import NightHistory
from frostalert.model.plan import Plan
from frostalert.report.answer import answered


@dataclass(frozen=True, slots=True, kw_only=True)
class NightAnswer:
    """What the plan of a night comes to.

    Attributes
    ----------
    words : str
        What is to be done, as mail and page say it.
    ready_by : str
        When people must be ready for the first start; empty where nothing is started.
    """

    words: str
    ready_by: str


def night_answer(
    nights: Nights,
    night: NightAssessment,
    plan: Plan,
    history: NightHistory | None,
    now_utc: datetime,
) -> NightAnswer:
    """Return what a night's plan comes to, in the words of mail and page."""
    told = answered(nights, (night,), plan, history, now_utc)
    first = first_start_utc(plan)
    ready_by = ""
    if first is not None and first > now_utc:
        ready_by = Wording(nights.farm.site, now_utc).clock(first)
    return NightAnswer(words=told.title, ready_by=ready_by)
