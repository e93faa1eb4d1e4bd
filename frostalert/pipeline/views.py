"""An assessment in words: what the templates and the terminal show."""

from dataclasses import dataclass
from datetime import timedelta

from frostalert.decision.methods import METHODS, Method
from frostalert.model.assessment import (
    Assessment,
    BlockNight,
    Exposure,
    LowFrom,
    NightAssessment,
    NightKind,
    Tier,
)
from frostalert.model.notice import Change
from frostalert.model.site import Block, Holding
from frostalert.physics.start_reading import START_WET_BULB_C
from frostalert.pipeline.wording import Wording, chance, share, span

_ALMOST_ALL_PCT = 99.5


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockView:
    """One block's night in words."""

    name: str
    crop: str
    stage: str
    stage_note: str
    is_stage_assumed: bool
    tier: Tier
    reason: str
    forecast_low: str
    low_from: str
    air: str
    dewpoint: str
    wet_bulb: str
    dry_bud: str
    wet_bud: str
    deciding: str
    alarm: str
    alarm_name: str
    source: str
    harm: str
    kill_dry: str
    kill_wet: str
    expected_kill: str
    chance: str
    crop_line: str
    money_lines: tuple[str, ...]
    start_line: str
    methods: tuple[Method, ...]
    has_numbers: bool
    wets_worse: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NightView:
    """One night in words."""

    name: str
    short: str
    tier: Tier
    reason: str
    kind: str
    sunset: str
    sunrise: str
    send_by: str
    act_at: str
    danger: str
    harm: str
    stop_not_before: str
    plus_minus: str
    worst: BlockView | None
    at_risk: tuple[BlockView, ...]
    blocks: tuple[BlockView, ...]
    gap_note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceView:
    """Where the numbers come from."""

    line: str
    short: str
    notes: tuple[str, ...]


def night_view(night: NightAssessment, holding: Holding, wording: Wording) -> NightView:
    """Return a night in words.

    Parameters
    ----------
    night : NightAssessment
        The night.
    holding : Holding
        For crops and methods.
    wording : Wording
        Units and times.

    Returns
    -------
    NightView
        Blocks in the order of the configuration, `at_risk` the worst first.
    """
    blocks = tuple(
        _block_view(record, holding, wording, place)
        for place, record in enumerate(night.blocks)
    )
    order = sorted(
        range(len(blocks)),
        key=lambda n: (night.blocks[n].tier.rank, night.blocks[n].probability or 0.0),
        reverse=True,
    )
    worst = night.worst
    return NightView(
        name=wording.night(night.night),
        short=wording.night(night.night).rpartition(", ")[2],
        tier=night.tier,
        reason=night.reason,
        kind=_kind(night, wording),
        sunset=wording.clock(night.sunset_utc),
        sunrise=wording.clock(night.sunrise_utc),
        send_by=wording.clock(night.send_by_utc),
        act_at=wording.clock(night.act_at_utc),
        danger=wording.clock(worst.danger_start_utc if worst else None),
        harm=_harm_hours(worst.bud if worst else None, wording),
        stop_not_before=wording.clock(night.stop_not_before_utc),
        plus_minus=wording.difference(worst.sigma_c) if worst else "-",
        worst=blocks[order[0]] if worst else None,
        at_risk=tuple(blocks[n] for n in order if night.blocks[n].tier.rank),
        blocks=blocks,
        gap_note=_gap_note(night),
    )


def source_view(assessment: Assessment, wording: Wording) -> SourceView:
    """Return where an assessment's numbers come from and how old they are."""
    facts = assessment.forecast
    if facts is None:
        return SourceView(
            line=f"No forecast: {assessment.problem}.", short="no forecast", notes=()
        )
    made = wording.moment(facts.updated_utc)
    return SourceView(
        line=f"{facts.source_title}, grid cell {facts.place}, made {made} "
        f"({wording.age(facts.updated_utc)}, {facts.age_word})",
        short=f"{facts.source.upper()} {wording.clock(facts.updated_utc)}",
        notes=facts.notes,
    )


def _block_view(
    record: BlockNight, holding: Holding, wording: Wording, place: int
) -> BlockView:
    """Return one block's night in words."""
    block = holding.blocks[place]
    threshold = record.stage.threshold
    dry, wet = record.dry, record.wet
    return BlockView(
        name=record.block,
        crop=block.crop.title,
        stage=record.stage.stage,
        stage_note=record.stage.reason,
        is_stage_assumed=record.stage.is_assumed,
        tier=record.tier,
        reason=record.reason,
        forecast_low=wording.temperature(record.air_low_c),
        low_from="its night minimum"
        if record.air_low_from is LowFrom.NIGHT_MINIMUM
        else "its coldest hour",
        air=wording.temperature(record.site_low_c),
        dewpoint=wording.temperature(record.dewpoint_at_low_c),
        wet_bulb=wording.temperature(record.wet_bulb_low_c),
        dry_bud=wording.temperature(dry.low_c if dry else None),
        wet_bud=wording.temperature(wet.low_c if wet else None),
        deciding=f"{record.deciding} buds decide: {record.why_deciding}"
        if record.deciding
        else record.why_deciding,
        alarm=wording.temperature(threshold.alarm_c if threshold else None),
        alarm_name=threshold.alarm_name if threshold else "",
        source=threshold.source if threshold else "",
        harm=_harm_hours(record.bud, wording),
        kill_dry=share(record.kill_dry_pct),
        kill_wet=share(record.kill_wet_pct),
        expected_kill=share(record.expected_kill_pct),
        chance=chance(record.probability),
        crop_line=_crop_line(record, block),
        money_lines=_money_lines(record, block, holding.site.currency),
        start_line=_start_line(record, wording),
        methods=tuple(METHODS[name] for name in block.methods),
        has_numbers=dry is not None,
        wets_worse=bool(dry and wet and wet.low_c < dry.low_c),
    )


def _crop_line(record: BlockNight, block: Block) -> str:
    """Return what a kill means for the crop, with the rule; empty if unknown."""
    if record.crop_loss_pct is None or record.expected_kill_pct is None:
        return ""
    parts = [
        f"Expected: {record.expected_kill_pct:.0f} % of the living buds, "
        f"{record.crop_loss_pct:.0f} % of a full crop; "
        f"{block.crop.needed_pct:.0f} % of the blossoms make a full crop "
        f"({block.crop.needed_source})."
    ]
    if record.left_before_pct is not None and record.left_before_pct < _ALMOST_ALL_PCT:
        left = f"{record.left_before_pct:.0f} % of the season's buds"
        parts.append(f"Before this night {left} are reckoned to be left.")
    return " ".join(parts)


def _money_lines(record: BlockNight, block: Block, currency: str) -> tuple[str, ...]:
    """Return the cost of each method against what is at stake, if both are given."""
    if block.crop_value is None or record.crop_loss_pct is None:
        return ()
    stake = block.crop_value * record.crop_loss_pct / 100.0
    unit = f" {currency}" if currency else ""
    lines = []
    for method, cost in block.night_costs:
        if cost >= stake:
            verdict = "more than all that it could save: not worth it on money alone"
        else:
            verdict = f"worth it if it saves {100.0 * cost / stake:.0f} % of that"
        lines.append(
            f"At stake {stake:,.0f}{unit}; a night of {method} costs "
            f"{cost:,.0f}{unit}: {verdict}."
        )
    return tuple(lines)


def _start_line(record: BlockNight, wording: Wording) -> str:
    """Return the reading at which water must start, where water is planned."""
    if record.start_air_c is None:
        return ""
    wet = wording.temperature(START_WET_BULB_C)
    dew = wording.temperature(record.dewpoint_at_low_c)
    return (
        f"Start water by a wet bulb of {wet}: with a dew point of {dew} the "
        f"thermometer then reads {wording.temperature(record.start_air_c)}. Measure "
        "the dew point if you can."
    )


def _kind(night: NightAssessment, wording: Wording) -> str:
    """Return the kind of freeze with the signs that it is told by."""
    if night.kind is None or night.signs is None:
        return "unknown"
    signs = night.signs
    parts = [
        f"sky {100 * signs.open_sky:.0f} % open",
        f"wind about {wording.speed(signs.wind_mps)}",
    ]
    if night.kind is NightKind.WET_THEN_CLEARING:
        wet = 100 * signs.evening_wet_chance
        parts.insert(0, f"{wet:.0f} % chance of rain or snow before the low")
    if night.kind is NightKind.ADVECTION:
        parts.append(f"afternoon high {wording.temperature(signs.evening_high_c)}")
    if night.is_frost_forecast:
        parts.append("the forecast's own text says frost")
    return f"{night.kind.value} ({', '.join(parts)})"


def change_words(change: Change, wording: Wording) -> str:
    """Return what got worse, in the site's units."""
    parts = []
    if change.colder_c > 0:
        parts.append(f"{wording.difference(change.colder_c)} colder")
    if change.earlier > timedelta(0):
        parts.append(f"{span(change.earlier)} earlier")
    return ", ".join(parts)


def _harm_hours(bud: Exposure | None, wording: Wording) -> str:
    """Return from when to when buds are expected at or below the alarm temperature."""
    if bud is None:
        return "unknown"
    if bud.first_below_utc is None or bud.last_below_utc is None:
        return f"coldest about {wording.clock(bud.low_utc)}"
    first, last = wording.clock(bud.first_below_utc), wording.clock(bud.last_below_utc)
    return f"{first}-{last}"


def _gap_note(night: NightAssessment) -> str:
    """Return what is not known about a night, or nothing."""
    if night.lacks_past_hours:
        return "Hours of this night that have gone by are not known here."
    return ""
