"""A season's ledger: each night judged again by what was known that afternoon."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from statistics import median
from typing import Protocol
from zoneinfo import ZoneInfo

from frostalert.cycle.judging import KnownBook, facts_known_at, judge, known_facts
from frostalert.model.assessment import BlockNight, NightAssessment
from frostalert.model.forecast import ForecastRun
from frostalert.model.ledger import BudCount, LedgerNight, NightCalls, Outcome
from frostalert.model.nights import Facts
from frostalert.model.site import Farm
from frostalert.model.warmth import Sighting
from frostalert.physics.nights import night_window
from frostalert.risk.learning import observed_low_c

AFTERNOON = timedelta(hours=4)
"""Time of day, after noon, whose forecast a night is entered by."""


class LedgerBook(KnownBook, Protocol):
    """What is kept of past nights."""

    def runs_at(self, moment_utc: datetime) -> list[ForecastRun]:
        """Return the newest run of each source that was there at a moment."""

    def bud_counts(self) -> tuple[BudCount, ...]:
        """Return all bud counts."""

    def calls(self, first: date, last: date) -> dict[date, NightCalls]:
        """Return what was sent about each night between two dates."""


def season_ledger(
    farm: Farm,
    book: LedgerBook,
    first: date,
    last: date,
    *,
    on_progress: Callable[[float], None] = lambda _: None,
) -> list[LedgerNight]:
    """Return what became of each night of which anything is known."""
    calls, counts = book.calls(first, last), book.bud_counts()
    zone = ZoneInfo(farm.site.time_zone)
    facts = known_facts(book, night_window(first, zone).start_utc)
    found = []
    total = (last - first).days + 1
    for n in range(total):
        on_progress(n / total)
        night = first + timedelta(days=n)
        entered = _entered(farm, book, facts, night, zone)
        said = calls.get(night, NightCalls())
        own = tuple(item for item in counts if item.night == night)
        if entered is None and said == NightCalls() and not own:
            continue
        found.append(_line(night, entered or _Entered(), said, own))
    on_progress(1.0)
    return found


def predicted_kill_pct(
    farm: Farm, book: LedgerBook, block: str, night: date
) -> float | None:
    """Return what share of a block's buds was expected to die in a night. [%]

    None where no forecast of that afternoon is kept, or no curve is published.
    """
    zone = ZoneInfo(farm.site.time_zone)
    facts = known_facts(book, night_window(night, zone).start_utc)
    entered = _entered(farm, book, facts, night, zone)
    if entered is None or entered.record is None:
        return None
    own = [item for item in entered.record.blocks if item.block == block]
    return own[0].expected_kill_pct if own else None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Entered:
    """A night as that afternoon's forecast had it, and what was measured. [degC]"""

    record: NightAssessment | None = None
    site_low_c: float | None = None
    measured_low_c: float | None = None


def seen_by(farm: Farm, seen: Sequence[Sighting], night: date) -> Farm:
    """Return the holding with each block at the stage that was seen by a night."""
    blocks = []
    for block in farm.blocks:
        own = [i for i in seen if i.block == block.name and i.seen <= night]
        last = max(own, key=lambda item: item.seen, default=None)
        is_known = last is not None and last.crop == block.crop.name
        if last is not None and is_known:
            block = replace(block, stage=last.stage, stage_seen=last.seen)  # noqa: PLW2901 - the block as it was
        blocks.append(block)
    return replace(farm, blocks=tuple(blocks))


def _entered(
    farm: Farm, book: LedgerBook, facts: Facts, night: date, zone: ZoneInfo
) -> _Entered | None:
    """Return a night by what was known that afternoon; None without a forecast."""
    window = night_window(night, zone)
    moment = window.start_utc + AFTERNOON
    runs = sorted(book.runs_at(moment), key=lambda run: run.updated_utc, reverse=True)
    if not runs:
        return None
    known = facts_known_at(replace(facts, runs=tuple(runs)), moment, night)
    nights = judge(seen_by(farm, known.sightings, night), known, moment)
    records = [item for item in nights.assessment.nights if item.night == night]
    if nights.site_hours is None or not records:
        return None
    site = next(i for i in nights.site_hours.nights if i.window.night == night)
    own = [i for i in facts.readings if window.start_utc <= i.at_utc <= window.end_utc]
    return _Entered(
        record=records[0],
        site_low_c=site.low_c,
        measured_low_c=observed_low_c(own, farm, site),
    )


def _line(
    night: date, entered: _Entered, said: NightCalls, counts: tuple[BudCount, ...]
) -> LedgerNight:
    """Return one line of the ledger."""
    record = entered.record
    worst = record.worst if record is not None else None
    harm_from = _harm_from_c(worst, entered.site_low_c)
    lead = None
    if said.first_call_utc is not None and worst is not None and worst.running_by_utc:
        lead = worst.running_by_utc - said.first_call_utc
    return LedgerNight(
        night=night,
        kind=record.kind if record is not None else None,
        worst=worst.block if worst is not None else "",
        forecast_low_c=entered.site_low_c,
        measured_low_c=entered.measured_low_c,
        harm_from_c=harm_from,
        probability=worst.probability if worst is not None else None,
        predicted_kill_pct=worst.expected_kill_pct if worst is not None else None,
        lead=lead,
        calls=said,
        counts=counts,
        outcome=_outcome(said, entered.measured_low_c, harm_from),
    )


def _harm_from_c(worst: BlockNight | None, site_low_c: float | None) -> float | None:
    """Return the site's low at which the worst block's harm begins. [degC]

    The difference between its bud and the site's own air, where the reference sensor
    hangs, is taken as forecast: the block's hollow is in it.
    """
    if worst is None or worst.bud is None or site_low_c is None:
        return None
    threshold = worst.stage.threshold
    if threshold is None:
        return None
    return site_low_c + threshold.alarm_c - worst.bud.low_c


def _outcome(
    said: NightCalls, measured_c: float | None, harm_from_c: float | None
) -> Outcome:
    """Return whether call and cold went together."""
    was_called = said.first_call_utc is not None
    if measured_c is None or harm_from_c is None:
        return Outcome.NOT_MEASURED
    if measured_c <= harm_from_c:
        return Outcome.HIT if was_called else Outcome.MISS
    return Outcome.FALSE_ALARM if was_called else Outcome.QUIET


def ledger_summary(lines: Sequence[LedgerNight]) -> tuple[str, ...]:
    """Return a season in a few sentences."""
    count = {kind: sum(line.outcome is kind for line in lines) for kind in Outcome}
    measured = len(lines) - count[Outcome.NOT_MEASURED]
    called = sum(line.calls.first_call_utc is not None for line in lines)
    sentences = [
        f"{len(lines)} nights, {called} called for hands, {measured} measured: "
        f"{count[Outcome.HIT]} hits, {count[Outcome.MISS]} misses, "
        f"{count[Outcome.FALSE_ALARM]} false alarms, {count[Outcome.QUIET]} quiet."
    ]
    leads = [line.lead / timedelta(hours=1) for line in lines if line.lead is not None]
    if leads:
        sentences.append(
            f"From the first call to the hour of need: median {median(leads):.1f} h, "
            f"least {min(leads):.1f} h."
        )
    if measured < len(lines):
        sentences.append(
            "A night is measured if a reference sensor under [[sensors]] read until "
            "dawn; the others say nothing of hits and misses."
        )
    return tuple(sentences)
