"""Plans of the nights, and what people were called to before they are made."""

import logging
from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import replace
from datetime import date, datetime, timedelta

from frostalert.alarms.answers import starts_at
from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import NightAssessment
from frostalert.model.nights import Nights
from frostalert.model.notice import NightHistory
from frostalert.model.plan import Plan
from frostalert.model.progress import Progress
from frostalert.model.site import Farm
from frostalert.model.start import starts_by_key
from frostalert.plan.gains import with_measured_gains
from frostalert.plan.plan import make_plan

_LOG = logging.getLogger(__name__)
_DAY = timedelta(days=1)


def plan_nights(
    nights: Nights, wanted: AbstractSet[date], progress: Mapping[date, Progress]
) -> dict[date, Plan]:
    """Return the plans of some nights; a night that no plan can be made for has none.

    A defect in a plan must not silence the warning that it belongs to.
    """
    plans: dict[date, Plan] = {}
    for record in nights.assessment.nights:
        if record.night not in wanted or not record.at_risk:
            continue
        known = progress.get(record.night, Progress())
        try:
            plans[record.night] = plan_night(nights, record, known)
        except Exception:  # noqa: BLE001 - the warning goes out without a plan
            _LOG.exception("no plan could be made for the night %s", record.night)
    return plans


def plan_night(nights: Nights, record: NightAssessment, progress: Progress) -> Plan:
    """Return the plan of one of the nights, with what equipment gained here."""
    return make_plan(nights, record, farm=equipped(nights), progress=progress)


def equipped(nights: Nights) -> Farm:
    """Return the farm with what its equipment gained here."""
    return with_measured_gains(nights.farm, nights.facts.gain_nights)


def progress_of(
    told: Mapping[date, NightHistory], answers: tuple[Answer, ...], now_utc: datetime
) -> dict[date, Progress]:
    """Return what people were called to before about each night, if it is not over.

    The night after one with calls has what was begun then, whether told of or not.
    """
    every = calls_of(told, answers, now_utc)
    known = {night: item for night, item in every.items() if not told[night].is_closed}
    for night, item in every.items():
        begun = {key for key, start in item.starts.items() if start.called_utc}
        if begun:
            after = known.get(night + _DAY, Progress())
            known[night + _DAY] = replace(after, begun_before=frozenset(begun))
    return known


def calls_of(
    told: Mapping[date, NightHistory], answers: tuple[Answer, ...], now_utc: datetime
) -> dict[date, Progress]:
    """Return what people were called to about each night, ended or not."""
    acting = {item.night for item in answers if item.kind is AnswerKind.ACTING}
    return {
        night: Progress(
            hands_since_utc=item.hands_since_utc,
            start_since_utc=item.start_since_utc,
            starts=starts_by_key(starts_at(item, answers, now_utc)),
            is_answered=night in acting,
        )
        for night, item in told.items()
    }
