"""An assessment in words: what the templates and the terminal show."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from frostalert.messages.official_words import in_force, official_lines
from frostalert.messages.start_words import start_line, start_order
from frostalert.messages.wording import Wording, chance, share, span
from frostalert.model.assessment import (
    Assessment,
    BlockNight,
    ForecastFacts,
    LowFrom,
    NightAssessment,
    NightKind,
    Tier,
)
from frostalert.model.block_values import BudLow
from frostalert.model.method import Method
from frostalert.model.notice import Change
from frostalert.model.percent import at_least
from frostalert.model.site import Block, Farm
from frostalert.model.tier_words import night_words
from frostalert.physics.night_type import WET_CHANCE

_ALMOST_ALL_PCT = 99.5
_A_WHOLE_DAY = timedelta(hours=20)
_USUAL_AGES = ("fresh", "ageing")


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockView:
    """One block's night in words."""

    name: str
    crop: str
    stage: str
    stage_note: str
    is_stage_assumed: bool
    is_unseen: bool
    tier: Tier
    reason: str
    forecast_low: str
    low_from: str
    air: str
    dewpoint: str
    wet_bulb: str
    past: str
    dry_bud: str
    wet_bud: str
    deciding: str
    alarm: str
    alarm_name: str
    has_two_tables: bool
    source: str
    harm: str
    kill_dry: str
    kill_wet: str
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

    date: date
    name: str
    short: str
    tier: Tier
    tier_words: str
    is_over: bool
    reason: str
    kind: str
    sunset: str
    sunrise: str
    send_by: str
    act_at: str
    danger: str
    is_danger_past: bool
    harm: str
    order: str
    plus_minus: str
    worst: BlockView | None
    at_risk: tuple[BlockView, ...]
    blocks: tuple[BlockView, ...]
    gap_note: str
    second: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceView:
    """Where the numbers come from."""

    line: str
    made: str
    short: str
    brief: str
    warning: str
    is_absent: bool
    notes: tuple[str, ...]
    doubts: tuple[str, ...] = ()
    official: tuple[str, ...] = ()
    in_force: tuple[str, ...] = ()


def tier_words(night: NightAssessment, now_utc: datetime) -> str:
    """Return what a night is, in a table of nights."""
    if is_over(night, now_utc):
        return "over"
    return night_words(night)


def night_doubts(night: NightAssessment, wording: Wording) -> tuple[str, ...]:
    """Return what is not known, or not sure, about a night's numbers."""
    worst, second = night.likeliest, _second_opinion(night, wording)
    error = ""
    if worst is not None and worst.bud is not None:
        error = f"Give or take {wording.difference(worst.low_sigma_c)}."
    parts = (_gap_note(night), f"{second}." if second else "", error)
    return tuple(part for part in parts if part)


def is_over(night: NightAssessment, now_utc: datetime) -> bool:
    """Return whether the sun is up and the cold past: that is no mild night."""
    sunrise = night.sunrise_utc
    return night.tier is Tier.NONE and sunrise is not None and now_utc >= sunrise


def night_view(night: NightAssessment, farm: Farm, wording: Wording) -> NightView:
    """Return a night in words."""
    blocks = tuple(
        _block_view(record, farm, wording, place)
        for place, record in enumerate(night.blocks)
    )
    order = sorted(
        range(len(blocks)),
        key=lambda n: night.blocks[n].severity,
        reverse=True,
    )
    worst = night.likeliest
    return NightView(
        date=night.night,
        name=wording.night(night.night),
        short=wording.day(night.night),
        tier=night.tier,
        tier_words=night_words(night),
        is_over=is_over(night, wording.now_utc),
        reason=night.reason,
        kind=_kind(night, wording),
        sunset=wording.clock(night.sunset_utc),
        sunrise=wording.clock(night.sunrise_utc),
        send_by=wording.clock(night.send_by_utc),
        act_at=wording.clock(night.act_at_utc),
        danger=wording.clock(_danger(night)),
        is_danger_past=_is_past(_danger(night), wording.now_utc),
        harm=harm_hours(night, wording),
        order=start_order(night, farm, wording),
        plus_minus=wording.difference(worst.low_sigma_c)
        if worst and worst.bud
        else "unknown",
        worst=blocks[night.blocks.index(worst)] if worst else None,
        at_risk=tuple(blocks[n] for n in order if night.blocks[n].tier.rank),
        blocks=blocks,
        gap_note=_gap_note(night),
        second=_second_opinion(night, wording),
    )


def source_view(assessment: Assessment, wording: Wording) -> SourceView:
    """Return where an assessment's numbers come from and how old they are."""
    facts = assessment.forecast
    official = official_lines(assessment.official, wording)
    if facts is None:
        line = f"There is no forecast: {assessment.problem}"
        return SourceView(
            line=line,
            made=line,
            short="no forecast",
            brief="no forecast",
            warning="",
            is_absent=True,
            notes=(),
            official=official,
            in_force=in_force(assessment.official, wording),
        )
    made = wording.moment(facts.updated_utc)
    return SourceView(
        line=f"{facts.source_title}, grid cell {facts.place}, made {made} "
        f"({wording.age(facts.updated_utc)}, {facts.age_word})",
        made=f"{facts.source_title}, made {made} ({wording.age(facts.updated_utc)})",
        short=_short_source(facts, wording),
        brief=_short_source(facts, wording).replace(f"{facts.source.upper()} ", ""),
        warning=_age_warning(facts, wording),
        is_absent=False,
        notes=facts.notes,
        doubts=facts.doubts,
        official=official,
        in_force=in_force(assessment.official, wording),
    )


def _short_source(facts: ForecastFacts, wording: Wording) -> str:
    """Return source and time for a text message; the date as well once it is old."""
    name = facts.source.upper()
    if facts.age_word in _USUAL_AGES:
        return f"{name} {wording.clock(facts.updated_utc)}"
    return f"OLD {name} {wording.short_moment(facts.updated_utc)}"


def _age_warning(facts: ForecastFacts, wording: Wording) -> str:
    """Return a warning about an old forecast; empty for a usual age."""
    if facts.age_word in _USUAL_AGES:
        return ""
    made = wording.moment(facts.updated_utc)
    age = wording.age(facts.updated_utc)
    return f"This rests on an old forecast, made {made} ({age}): trust it less."


def _block_view(
    record: BlockNight, farm: Farm, wording: Wording, place: int
) -> BlockView:
    """Return one block's night in words."""
    block = farm.blocks[place]
    threshold = record.stage.threshold
    dry, wet = record.dry, record.wet
    return BlockView(
        name=record.block,
        crop=block.crop.title,
        stage=record.stage.stage,
        stage_note=record.stage.reason,
        is_stage_assumed=record.stage.is_assumed,
        is_unseen=record.stage.unseen_since is not None,
        tier=record.tier,
        reason=record.reason,
        forecast_low=wording.temperature(record.air_low_c),
        low_from="its night minimum"
        if record.air_low_from is LowFrom.NIGHT_MINIMUM
        else "its coldest hour",
        air=wording.temperature(record.site_low_c),
        dewpoint=wording.temperature(record.dewpoint_at_low_c),
        wet_bulb=wording.temperature(record.wet_bulb_at_low_c),
        past=_past_line(record, wording),
        dry_bud=wording.temperature(dry.low_c if dry else None),
        wet_bud=wording.temperature(wet.low_c if wet else None),
        deciding=_deciding(record, wording),
        alarm=wording.temperature(threshold.alarm_c if threshold else None),
        alarm_name=threshold.alarm_name if threshold else "",
        has_two_tables=bool(threshold and threshold.warning_c is not None),
        source=threshold.source if threshold else "",
        harm=_harm_hours(record.bud, wording),
        kill_dry=share(record.kill_dry_pct),
        kill_wet=share(record.kill_wet_pct),
        chance="unknown" if record.probability is None else chance(record.probability),
        crop_line=_crop_line(record, block),
        money_lines=_money_lines(record, block, farm.site.currency),
        start_line=start_line(record, wording),
        methods=block.methods,
        has_numbers=dry is not None,
        wets_worse=bool(dry and wet and wet.low_c < dry.low_c),
    )


def _past_line(record: BlockNight, wording: Wording) -> str:
    """Return how cold it has been this night; empty where it has not begun."""
    if record.past_low_c is None or record.past_low_utc is None:
        return ""
    low, at = wording.temperature(record.past_low_c), wording.clock(record.past_low_utc)
    return f"It was down to {low} at {at}, by the forecast"


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
        parts.append(f"Before this night about {left} are left.")
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


def _kind(night: NightAssessment, wording: Wording) -> str:
    """Return the kind of freeze with the signs that it is told by."""
    if night.kind is None or night.signs is None:
        return "unknown"
    signs = night.signs
    parts = [
        f"sky {100 * signs.open_sky:.0f} % open"
        if signs.has_sky
        else "no cloud in the forecast: clear sky assumed",
        "no wind in the forecast: calm assumed"
        if signs.wind_mps is None
        else f"wind about {wording.speed(signs.wind_mps)}",
    ]
    if signs.evening_wet_chance >= WET_CHANCE:
        wet = 100 * signs.evening_wet_chance
        parts.insert(0, f"{wet:.0f} % chance of rain or snow before the low")
    if night.kind is NightKind.ADVECTION:
        parts.append(f"afternoon high {wording.temperature(signs.evening_high_c)}")
    if night.is_frost_forecast:
        parts.append("the forecast's own text says frost")
    return f"{night.kind.value} ({', '.join(parts)})"


def change_words(change: Change, wording: Wording) -> str:
    """Return what changed since people were told, in the site's units."""
    parts = []
    if change.colder_c:
        way = "colder" if change.colder_c > 0 else "warmer"
        parts.append(f"{wording.difference(abs(change.colder_c))} {way}")
    if change.earlier:
        way = "earlier" if change.earlier > timedelta(0) else "later"
        parts.append(f"{span(abs(change.earlier))} {way}")
    if change.likelier:
        before, now = change.likelier
        parts.append(f"chance of harm {chance(now)}, {chance(before)} before")
    if change.joined:
        parts.append("now also at risk: " + ", ".join(change.joined))
    return ", ".join(parts)


def _is_past(moment_utc: datetime | None, now_utc: datetime) -> bool:
    """Return whether a moment is over."""
    return moment_utc is not None and moment_utc < now_utc


def _danger(night: NightAssessment) -> datetime | None:
    """Return the first hour in which any block at risk can be harmed."""
    starts = [
        block.danger_start_utc
        for block in _at_risk_or_worst(night)
        if block.danger_start_utc is not None
    ]
    return min(starts, default=None)


def harm_hours(night: NightAssessment, wording: Wording) -> str:
    """Return from when to when any block at risk can be harmed."""
    buds = [block.bud for block in _at_risk_or_worst(night) if block.bud is not None]
    firsts = [bud.first_below_utc for bud in buds if bud.first_below_utc is not None]
    lasts = [bud.last_below_utc for bud in buds if bud.last_below_utc is not None]
    if not firsts or not lasts:
        return _harm_hours(night.worst.bud if night.worst else None, wording)
    if max(lasts) - min(firsts) >= _A_WHOLE_DAY:
        return "all night and day"
    return wording.hours(min(firsts), max(lasts))


def _at_risk_or_worst(night: NightAssessment) -> list[BlockNight]:
    """Return the blocks at risk, or the one nearest to it."""
    return list(night.at_risk) or ([night.worst] if night.worst else [])


def _harm_hours(bud: BudLow | None, wording: Wording) -> str:
    """Return from when to when buds are expected at or below the alarm temperature."""
    if bud is None:
        return "unknown"
    if bud.first_below_utc is None or bud.last_below_utc is None:
        return f"coldest about {wording.clock(bud.low_utc)}"
    return wording.hours(bud.first_below_utc, bud.last_below_utc)


def _deciding(record: BlockNight, wording: Wording) -> str:
    """Return what decides: dry or wet buds, and whose cold comes first."""
    words = record.why_deciding
    if record.deciding:
        words = f"{record.deciding} buds decide: {words}"
    if record.adverse_start_utc is not None:
        words += (
            f". {record.adverse_source} alone has the cold sooner: be running by "
            f"{wording.clock(record.adverse_start_utc)}"
        )
    return words


def _second_opinion(night: NightAssessment, wording: Wording) -> str:
    """Return what each source says of a night's low; empty where one stands alone."""
    if not night.other_lows or night.low_c is None:
        return ""
    low = night.site_low
    assert low is not None  # noqa: S101 - it has other sources' lows
    lows = ", ".join(
        f"{other.source} {wording.temperature(other.low_c)}"
        for other in night.other_lows
    )
    words = f"Low by each forecast: this one {wording.temperature(night.low_c)}, {lows}"
    if low.low_c is not None:
        words += f"; judged by {wording.temperature(low.low_c)}"
    if low.are_far_apart:
        far = wording.difference(low.spread_c)
        words += f". They disagree by {far}: the colder counts more"
    return words


def least_chance(night: NightAssessment, odds: str) -> str:
    """Return a chance of a night; the least, where hours of it are not known."""
    return at_least(odds) if night.missing else odds


def _gap_note(night: NightAssessment) -> str:
    """Return what is not known about a night, or nothing."""
    parts = []
    if night.missing:
        parts.append(f"Not all of this night is known: {night.missing}.")
    if night.lacks_past_hours:
        parts.append("Hours of it that have gone by are not known here.")
    return " ".join(parts)
