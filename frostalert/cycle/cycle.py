"""One cycle: fetch, assess, decide, compose, queue. Delivery is the relay's part."""

import logging
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from hashlib import sha256
from zoneinfo import ZoneInfo

from frostalert.cycle.deciding import Decided, decide_nights
from frostalert.cycle.doubted import DOUBT
from frostalert.cycle.faults import about_whom, leaves_unjudged, note_faults
from frostalert.cycle.fetching import fetch_sources
from frostalert.cycle.judging import judge_stored
from frostalert.messages.addressing import AnswerLinks
from frostalert.messages.audience import RecipientState
from frostalert.messages.compose import compose_decision
from frostalert.messages.compose_service import Reach, compose_operator
from frostalert.messages.picture import Enclosure, NightPicture
from frostalert.model.assessment import Assessment, NightAssessment, Tier
from frostalert.model.nights import Nights
from frostalert.model.notice import Decision, Message, Subject
from frostalert.model.plan import Plan
from frostalert.model.site import Farm
from frostalert.ports import (
    AnswerBook,
    Bench,
    Fault,
    ForecastSource,
    Plotter,
    Store,
)
from frostalert.risk.charting import night_chart

_LOG = logging.getLogger(__name__)
_DAY = timedelta(days=1)
_PATIENCE = {"source-": timedelta(hours=3), DOUBT: timedelta(hours=1)}
"""How long faults of these kinds may last before people hear of them: the next answer
may be a good one."""
_PLANNED = (Subject.OUTLOOK, Subject.PREPARE, Subject.ACT)
"""What is said with a plan."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Workshop:
    """Who draws the pictures and makes the plans; plans are waited for without one."""

    plotter: Plotter | None = None
    bench: Bench | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleResult:
    """What one cycle found and did."""

    decided: Decided
    queued: int

    @property
    def nights(self) -> Nights:
        """What was judged."""
        return self.decided.nights

    @property
    def assessment(self) -> Assessment:
        """What the nights mean."""
        return self.decided.nights.assessment

    @property
    def decision(self) -> Decision:
        """What is said."""
        return self.decided.decision


def run_cycle(
    farm: Farm,
    sources: list[ForecastSource],
    store: Store,
    now_utc: datetime,
    *,
    faults: dict[str, str] | None = None,
    is_rehearsal: bool = False,
    plotter: Plotter | None = None,
) -> CycleResult:
    """Fetch the forecasts, then decide on what is stored."""
    present = dict(faults or {}) | fetch_sources(
        sources, store, lambda: now_utc, is_rehearsal=is_rehearsal
    )
    return redecide(
        farm,
        store,
        now_utc,
        faults=present,
        is_rehearsal=is_rehearsal,
        workshop=Workshop(plotter=plotter),
    )


def redecide(
    farm: Farm,
    store: Store,
    now_utc: datetime,
    *,
    faults: dict[str, str] | None = None,
    is_rehearsal: bool = False,
    links: AnswerLinks | None = None,
    workshop: Workshop | None = None,
) -> CycleResult:
    """Decide again on stored forecasts; parameters and result as for `run_cycle`.

    Without `faults` the open ones stay as they are.
    """
    workshop = workshop or Workshop()
    nights = judge_stored(farm, store, now_utc, is_rehearsal=is_rehearsal)
    assessment = nights.assessment
    state = people_state(farm, store, now_utc)
    told = store.night_histories(now_utc)
    if is_rehearsal:
        # One is played at will, again and again: nothing has to settle in it.
        told = {night: replace(past, said_utc=None) for night, past in told.items()}
    decided = decide_nights(
        nights, farm, told, store.addressed, state.answers, bench=workshop.bench
    )
    decision = decided.decision
    messages = compose_decision(
        decision,
        assessment,
        farm,
        is_rehearsal=is_rehearsal,
        state=state,
        links=links,
        enclosures=_enclosures(decided, workshop.plotter),
    )
    queued = store.record_decision(decision, messages, now_utc)
    if faults is not None:
        queued += _tell_faults(
            faults,
            farm,
            store,
            now_utc,
            is_rehearsal=is_rehearsal,
            assessment=assessment,
            state=state,
        )
    for night in decision.nights:
        said = night.say.value if night.say else "nothing"
        why = night.why.value
        _LOG.info("night %s: said %s, %s: %s", night.night, said, why, night.detail)
    return CycleResult(decided=decided, queued=queued)


def people_state(farm: Farm, store: AnswerBook, now_utc: datetime) -> RecipientState:
    """Return what people answered, and what they were sent since local midnight."""
    local = now_utc.astimezone(ZoneInfo(farm.site.time_zone))
    midnight = datetime.combine(local.date(), time(0), tzinfo=local.tzinfo)
    return RecipientState(
        answers=store.recent_answers(now_utc),
        warnings_today=store.warnings_between(midnight, midnight + _DAY),
        tomorrow_utc=midnight + _DAY,
        warnings_tomorrow=store.warnings_between(midnight + _DAY, midnight + 2 * _DAY),
    )


def _hands_are_needed(assessment: Assessment) -> bool:
    """Return whether a night at hand calls for people, or cannot be judged."""
    return any(
        night.tier in (Tier.PREPARE, Tier.ACT, Tier.CANNOT_JUDGE)
        for night in assessment.nights[:2]
    )


def _is_blind(assessment: Assessment) -> bool:
    """Return whether the coming night cannot be judged."""
    tiers = [night.tier for night in assessment.nights[:1]]
    return Tier.CANNOT_JUDGE in tiers


def _enclosures(decided: Decided, plotter: Plotter | None) -> dict[date, Enclosure]:
    """Return plans and pictures of the nights that people are to be warned of."""
    wanted = _planned(decided.decision)
    return {
        record.night: Enclosure(
            plan=decided.plans.of(record.night),
            picture=picture_of(
                record, decided.nights, plotter, decided.plans.of(record.night)
            ),
        )
        for record in decided.nights.assessment.nights
        if record.night in wanted
    }


def _planned(decision: Decision) -> frozenset[date]:
    """Return the nights that people are to be warned of."""
    return frozenset(item.night for item in decision.announced if item.say in _PLANNED)


def picture_of(
    record: NightAssessment,
    nights: Nights,
    plotter: Plotter | None,
    plan: Plan | None,
) -> NightPicture | None:
    """Return the picture of a night, or none: its warning goes out without it."""
    if plotter is None:
        return None
    try:
        chart = night_chart(nights, record, plan)
        if chart is None:
            return None
        return NightPicture(chart=chart, png=plotter.draw(chart))
    except Exception:  # noqa: BLE001 - the warning goes out without a picture
        _LOG.exception("no picture of the night %s could be drawn", record.night)
        return None


def _tell_faults(
    present: dict[str, str],
    farm: Farm,
    store: Store,
    now_utc: datetime,
    *,
    is_rehearsal: bool,
    assessment: Assessment,
    state: RecipientState,
) -> int:
    """Keep the open faults and queue a message for those that people must hear of."""
    patience = {
        key: longest
        for key in present
        for kind, longest in _PATIENCE.items()
        if key.startswith(kind)
    }
    before = store.open_faults()
    kept, to_tell = note_faults(
        before,
        present,
        now_utc,
        patience=patience,
        heard_utc=store.operator_heard_utc() if before else None,
    )
    if to_tell:
        state = replace(state, unreached=store.unreached_people(now_utc))
    messages: list[Message] = []
    is_urgent = _hands_are_needed(assessment)
    for fault in to_tell:
        key = _fault_key(fault, now_utc)
        # A night that is at hand and that nobody judges: mail alone wakes nobody.
        wakes = farm.is_in_season and leaves_unjudged(
            fault.key, present.keys(), farm.sources, is_blind=_is_blind(assessment)
        )
        messages += compose_operator(
            key,
            fault.detail,
            farm,
            now_utc,
            is_rehearsal=is_rehearsal,
            reach=Reach(
                is_urgent=is_urgent or wakes or fault.key.startswith("delivery"),
                is_everywhere=wakes,
                about=about_whom(fault.key),
            ),
            state=state,
        )
    # Both or neither: a fault whose word was never queued would count as told.
    return store.save_faults(kept, messages, now_utc)


def _fault_key(fault: Fault, now_utc: datetime) -> str:
    """Return what names the message about a fault.

    One that comes and goes is told once in a quarter of a day, unless it changes its
    words; counts in them are no change.
    """
    words = "".join(letter for letter in fault.detail if not letter.isdigit())
    digest = sha256(words.encode()).hexdigest()[:8]
    return f"{fault.key}|{now_utc:%Y%m%d}|{now_utc.hour // 6}|{digest}"
