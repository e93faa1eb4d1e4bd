"""A look's nights by the records of their blocks, beside what the program finds."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from unittest.mock import patch

import pytest

from frostalert.model.assessment import (
    Assessment,
    BlockNight,
    NightAssessment,
    StageInForce,
    Tier,
)
from frostalert.model.block_columns import rows_of
from frostalert.model.hours import BlockHours
from frostalert.model.percent import percent_of
from frostalert.model.site import Farm
from frostalert.risk import assess
from frostalert.risk.items import items_at, watched_items
from frostalert.risk.known_night import KnownNight
from frostalert.risk.measure import NightContext, known_night, measure
from tests.by_record.judged import block_night, send_by, unjudged
from tests.by_record.looks import Look

NEAR_ENOUGH = 1e-9
_ROUNDED = timedelta(microseconds=2)


@dataclass(frozen=True, slots=True)
class Found:
    """What the program found of a look, and what it judged from."""

    assessment: Assessment
    farm: Farm
    frames: list[NightContext]
    alone: tuple[KnownNight, ...]
    hours: BlockHours
    stages: dict[date, list[StageInForce]]


def program_of(look: Look) -> Found:
    """Return what the program finds of a look."""
    given: list[Any] = []
    right = assess._judge_nights

    def noted(*arguments: Any) -> Any:
        given[:] = arguments
        return right(*arguments)

    with patch.object(assess, "_judge_nights", noted):
        found = assess.assess_all(look.farm, look.facts, look.now_utc)
    return Found(found.assessment, *given)


def differences(found: Found) -> list[str]:
    """Return where the program's nights are not those of the records."""
    nights = by_record(found)
    return list(_differences(nights, found.assessment.nights, "nights"))


def by_record(found: Found) -> list[dict[str, Any]]:
    """Return each night's fields that come of its blocks."""
    columns = [_of_block(found, place) for place in range(len(found.farm.blocks))]
    return [
        _night(frame, [column[place] for column in columns])
        for place, frame in enumerate(found.frames)
    ]


def _of_block(found: Found, place: int) -> list[BlockNight]:
    """Return all nights of one block, measured without the others."""
    block, frames = found.farm.blocks[place], found.frames
    rows = _rows(found, place, [known_night(frame) for frame in frames])
    # Those of each source alone are measured as if they were judged.
    alone = _rows(found, place, found.alone)
    nights = []
    for night, frame in enumerate(frames):
        stage = found.stages[frame.night.window.night][place]
        if night not in rows:
            nights.append(unjudged(frame, block, stage))
            continue
        adverse = _adverse(found, frame, rows[night], alone)
        nights.append(block_night(frame, block, stage, dict(rows[night]), adverse))
    return nights


def _rows(
    found: Found, place: int, nights: Sequence[KnownNight]
) -> dict[int, dict[str, Any]]:
    """Return the numbers of one block on some nights, by their places."""
    # A source may reach beyond the nights that are judged.
    some = next(iter(found.stages.values()))
    nothing = [replace(stage, threshold=None) for stage in some]
    in_force = [found.stages.get(n.night.window.night, nothing) for n in nights]
    items = watched_items(found.farm.blocks, in_force)
    of_night, of_block, rows = items.places()
    own = of_block == place
    if not own.any():
        return {}
    chosen = items_at((of_night[own], of_block[own], rows[own]), *items[1:])
    rules = found.frames[0].rules
    values = rows_of(measure(nights, found.hours, chosen, rules))
    return dict(zip(of_night[own].tolist(), values, strict=True))


def _adverse(
    found: Found, frame: NightContext, row: dict[str, Any], alone: dict[int, Any]
) -> dict[str, Any]:
    """Return the start by the source that turns cold first, if it is before the own."""
    starts = []
    for place, night in enumerate(found.alone):
        is_same = night.night.window.night == frame.night.window.night
        if not is_same or place not in alone:
            continue
        start = _start(alone[place])
        if start is not None:
            starts.append((night.shared.run.source_title, alone[place], *start))
    own = _start(row)
    if not starts or own is None:
        return {}
    likely = [item for item in starts if item[1]["probability"] >= 0.2]
    chosen = min(likely, key=lambda item: item[2]) if likely else None
    source, other, running_by, _ = chosen or min(starts, key=lambda item: item[3])
    if running_by >= own[0]:
        return {}
    return {
        "adverse_start_utc": running_by,
        "adverse_source": source,
        "start_air_c": other["start_air_c"],
    }


def _start(row: dict[str, Any]) -> tuple[datetime, float] | None:
    """Return when protection must be running by one source, and by which low."""
    bud = row["wet"] if row["is_wet"] else row["dry"]
    if bud is None or row["probability"] is None:
        return None
    running_by = row["water_start_utc"] or bud.first_below_utc or bud.night_low_utc
    return running_by, bud.low_c


def _night(frame: NightContext, blocks: list[BlockNight]) -> dict[str, Any]:
    """Return the fields of the site's night."""
    tier, reason = _site_tier(frame, blocks)
    starts = [b.running_by_utc for b in blocks if b.tier.rank and b.running_by_utc]
    ends = [block.danger_end_utc for block in blocks if block.danger_end_utc]
    first, over = min(starts, default=None), max(ends, default=None)
    sunset, rules = frame.night.sunset_utc, frame.rules
    airs = [(b.site_low_c, b.air_above_zero_utc) for b in blocks]
    wet_bulbs = [
        air
        if b.wet_bulb_low_c is None
        else (b.wet_bulb_low_c, b.wet_bulb_above_zero_utc)
        for b, air in zip(blocks, airs, strict=True)
    ]
    return {
        "night": frame.night.window.night,
        "tier": tier,
        "reason": reason,
        "send_by_utc": None if first is None else send_by(first, sunset, rules),
        "act_at_utc": None if first is None else first - rules.set_up,
        "cold_over_utc": over,
        "stop_not_before_utc": _thawed(wet_bulbs, over),
        "heat_out_utc": _thawed(airs, over),
        "blocks": blocks,
    }


def _thawed(
    lows: list[tuple[float | None, datetime | None]], over: datetime | None
) -> datetime | None:
    """Return when the last of some lows has risen above freezing, after the cold."""
    known = [(low_c, rise) for low_c, rise in lows if low_c is not None]
    if over is None or any(low_c <= 0.0 and rise is None for low_c, rise in known):
        return None
    return max([over, *(rise for _, rise in known if rise is not None)])


def _site_tier(frame: NightContext, blocks: list[BlockNight]) -> tuple[Tier, str]:
    """Return the highest tier of the blocks and its reason."""
    if at_risk := [block for block in blocks if block.tier.rank]:
        return _at_risk(at_risk)
    for beside in (Tier.CANNOT_JUDGE, Tier.NOT_COVERED_YET):
        for block in blocks:
            if block.tier is beside and block.reason == frame.coverage.reason:
                return beside, block.reason
            if block.tier is beside:
                return beside, f"{block.block}: {block.reason}"
    gap = frame.coverage.gap
    if gap is not None and not all(block.stage.is_muted for block in blocks):
        return gap, frame.coverage.reason
    return Tier.NONE, _nearest(blocks)


def _at_risk(blocks: list[BlockNight]) -> tuple[Tier, str]:
    """Return the highest tier, and the block that is worst off beside the first."""
    first = max(blocks, key=lambda b: (b.tier.rank, b.probability or 0.0))
    worst = max(blocks, key=lambda b: b.probability or 0.0)
    reason = f"{first.block}: {first.reason}"
    if worst is not first:
        odds = f"{percent_of(worst.probability or 0.0)} chance of harm"
        reason = f"{worst.block}: {odds}. See to this first: {reason}"
    return first.tier, reason


def _nearest(blocks: list[BlockNight]) -> str:
    """Return what is said of a night on which nothing is at risk."""
    judged = [block for block in blocks if block.probability is not None]
    if not judged:
        return "every block is dormant or harvested: nothing is watched"
    highest = max(judged, key=lambda block: block.probability or 0.0)
    return f"{highest.block}, the nearest to harm: {highest.reason}"


def _differences(expected: Any, found: Any, where: str) -> Iterator[str]:
    """Yield where two values differ by more than rounding."""
    parts = _parts(expected, found)
    if parts is None:
        if not _is_same(expected, found):
            yield f"{where}: {expected!r} expected, {found!r} found"
        return
    for name, one, other in parts:
        yield from _differences(one, other, f"{where}.{name}")


def _parts(expected: Any, found: Any) -> list[tuple[Any, Any, Any]] | None:
    """Return what two records or rows of them hold, name by name; None for values."""
    if isinstance(expected, dict) and isinstance(found, NightAssessment):
        return [(name, value, getattr(found, name)) for name, value in expected.items()]
    if is_dataclass(expected) and type(expected) is type(found):
        names = [item.name for item in fields(expected)]
        return [(name, getattr(expected, name), getattr(found, name)) for name in names]
    if isinstance(expected, list) and isinstance(found, Sequence):
        lengths = ("length", len(expected), len(found))
        rows = zip(range(len(expected)), expected, found, strict=False)
        return [lengths, *rows]
    return None


def _is_same(expected: Any, found: Any) -> bool:
    """Return whether two plain values are the same but for rounding."""
    if isinstance(expected, float) and isinstance(found, float):
        return bool(found == pytest.approx(expected, abs=NEAR_ENOUGH, rel=0.0))
    if isinstance(expected, datetime) and isinstance(found, datetime):
        return abs(expected - found) <= _ROUNDED
    return type(expected) is type(found) and bool(expected == found)
