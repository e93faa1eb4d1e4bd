"""Past springs in a grower's words: one screen, and a few lines for page and mail."""

from collections.abc import Iterator, Sequence

from frostalert.messages.wording import Wording
from frostalert.model.past import (
    BlockCost,
    PastSprings,
    SettingResult,
    SpringSpan,
    Tally,
    TruthKind,
)
from frostalert.model.site import Units

_NAME_WIDTH, _COUNT_WIDTH = 21, 8
_FEET_PER_M = 3.28084
_ENOUGH_HARM = 5
"""Harmful nights from which settings are compared. [nights] Our own rule."""
_CROP_SHARE = (1.0, 99.0)

_FEW = "These are few nights: change one step at a time."

Counted = Sequence[tuple[SpringSpan, Tally]]
"""Each spring with how calls and cold went together."""


def spring_line(span: SpringSpan, tally: Tally, costs: Sequence[BlockCost]) -> str:
    """Return one spring in a sentence or two, without what it is called by."""
    if not tally.nights:
        return "nothing is known of it."
    told = (
        f"ready on {_count(tally.ready, 'afternoon')}, called out "
        f"{_count(tally.called, 'night')}{_of_them(tally)}, {_missed(tally)}."
    )
    if not tally.harmful:
        harm = "No night would have harmed anything."
    else:
        harm = f"{_count(tally.harmful, 'night')} would have harmed buds{_cost(costs)}."
    nights = (span.last - span.first).days + 1
    gap = nights - tally.nights
    known = f" Not known: {_count(gap, 'night')} of {nights}." if gap else ""
    return f"{told} {harm}{known}"


def _of_them(tally: Tally) -> str:
    """Return how many of the calls were needed."""
    if not tally.called:
        return ""
    if tally.called == tally.called_needed:
        return ", each of them needed" if tally.called > 1 else ", needed"
    return f", {tally.called_needed or 'none'} of them needed"


def _missed(tally: Tally) -> str:
    """Return how many nights nobody was called for."""
    return f"{tally.called_missed or 'none'} missed"


def _cost(costs: Sequence[BlockCost]) -> str:
    """Return what the nights would have taken, in words."""
    parts = []
    for cost in costs:
        if cost.lost_pct is None:
            parts.append(f"{cost.block}: no share is published")
        else:
            parts.append(f"{cost.block}: {_crop(cost.lost_pct)}")
    return f" (with nothing done, {'; '.join(parts)})" if parts else ""


def _crop(lost_pct: float) -> str:
    """Return a share of a full crop."""
    least, most = _CROP_SHARE
    if lost_pct < least:
        return "hardly any of the crop"
    return "all of the crop" if lost_pct > most else f"{lost_pct:.0f} % of the crop"


def value_line(
    costs: Sequence[tuple[SpringSpan, Sequence[BlockCost]]], currency: str
) -> str:
    """Return what the springs would have cost in money, where crops have a value."""
    values = [
        (span, sum(cost.value or 0.0 for cost in own))
        for span, own in costs
        if any(cost.value is not None for cost in own)
    ]
    if not values:
        return ""
    told = ", ".join(f"{span.year} {value:,.0f}" for span, value in values)
    return f"In {currency or 'money'}, with nothing done: {told}."


def settings_table(
    settings: Sequence[tuple[SettingResult, Tally]],
) -> Iterator[str]:
    """Give the settings as a table of 80 columns."""
    heads = ("ready", "needed", "missed", "called", "needed", "missed")
    yield f"{'Setting':{_NAME_WIDTH}}" + "".join(
        f"{head:>{_COUNT_WIDTH}}" for head in heads
    )
    for setting, tally in settings:
        if setting.why_not:
            yield f"{setting.name.value:{_NAME_WIDTH}}   not tried: {setting.why_not}"
            continue
        counts = (
            tally.ready,
            tally.ready_needed,
            tally.ready_missed,
            tally.called,
            tally.called_needed,
            tally.called_missed,
        )
        yield f"{setting.name.value:{_NAME_WIDTH}}" + "".join(
            f"{count:>{_COUNT_WIDTH}}" for count in counts
        )


def keys_lines(settings: Sequence[SettingResult]) -> Iterator[str]:
    """Give what is to be written for each other setting."""
    for setting in settings[1:]:
        if not setting.why_not:
            yield f"- {setting.name.value}: {setting.keys}"


def advice_line(settings: Sequence[tuple[SettingResult, Tally]]) -> str:
    """Return which setting would have missed less, else which had called less."""
    tried = [(item, tally) for item, tally in settings if not item.why_not]
    (_, present), *others = tried
    if present.harmful < _ENOUGH_HARM:
        harmful = _count(present.harmful, "harmful night").capitalize()
        return f"{harmful}: too few to choose a setting by. Leave it as it is."
    # A night that nobody was called for costs more than one called for nothing.
    surer = [
        pair
        for pair in others
        if pair[1].called_missed <= present.called_missed
        and _missed_by(pair[1]) < _missed_by(present)
    ]
    if surer:
        item, tally = min(surer, key=lambda pair: (_missed_by(pair[1]), pair[1].called))
        return _surer(item, tally, present)
    easier = [
        pair
        for pair in others
        if _missed_by(pair[1]) == _missed_by(present)
        and (pair[1].called, pair[1].ready) < (present.called, present.ready)
    ]
    if not easier:
        return "None of these settings would have served you better: leave it as it is."
    item, tally = min(easier, key=lambda pair: (pair[1].called, pair[1].ready))
    return _easier(item, tally, present)


def _missed_by(tally: Tally) -> int:
    """Return the nights missed, by either step."""
    return tally.called_missed + tally.ready_missed


def _surer(item: SettingResult, tally: Tally, present: Tally) -> str:
    """Return what it costs to miss less."""
    more = tally.called - present.called
    nights = f"{_count(more, 'night')} more called out" if more > 0 else "no more calls"
    if tally.called_missed < present.called_missed:
        gain = f"{tally.called_missed} missed, not {present.called_missed}"
    else:
        fewer = present.ready_missed - tally.ready_missed
        gain = f"ready for {_count(fewer, 'harmful night')} more"
    return f"To miss less: {item.name.value} ({gain}; {nights}). {_FEW}"


def _easier(item: SettingResult, tally: Tally, present: Tally) -> str:
    """Return what is spared with no more missed."""
    saved, spared = present.called - tally.called, present.ready - tally.ready
    parts = [
        *([f"{_count(saved, 'night')} fewer called out"] if saved > 0 else []),
        *([f"{_count(spared, 'afternoon')} fewer to get ready"] if spared > 0 else []),
    ]
    return (
        f"Least trouble with no more missed: {item.name.value} ({', '.join(parts)}). "
        f"{_FEW}"
    )


def limits(answer: PastSprings, wording: Wording) -> Iterator[str]:
    """Give what stands between this answer and the next spring."""
    yield _came_line(answer, wording)
    if answer.sources:
        yield (
            f"Forecasts: {', '.join(answer.sources)}. Each hour is as it was forecast "
            "a day before, from several runs; the afternoon's own forecast is newer, "
            "and knows layers of cloud."
        )
    else:
        yield "Forecasts: NONE. The archive holds none of these nights."
    if answer.without_archive:
        names = " and ".join(answer.without_archive)
        keep = "keeps" if len(answer.without_archive) == 1 else "keep"
        yield (
            f"{names} {keep} no archive that can be asked for one place: Open-Meteo "
            "stands in."
        )
    yield _stages_line(answer)
    if answer.pairs and not answer.is_source_asked:
        yield (
            f"Kept: {answer.pairs} pairs of forecast and low of open-meteo. It is not "
            "among your sources, so nothing is learned of them: add it to [forecast] "
            "sources."
        )
    elif answer.pairs:
        weight = "a quarter" if answer.truth.kind is TruthKind.STATION else "half"
        yield (
            f"Learned from: {answer.pairs} pairs of forecast and low, each at {weight} "
            "of the weight of a night that frostalert sees itself."
        )
    else:
        yield "Nothing of it enters what the site teaches."


def _stages_line(answer: PastSprings) -> str:
    """Return where the stages come from, spring by spring."""
    years = [span.year for span in answer.costs]
    seen = [str(year) for year in years if year in answer.stage_years]
    others = [str(year) for year in years if year not in answer.stage_years]
    if not others:
        return "Stages: as you noted them."
    noted = f"as you noted them in {' and '.join(seen)}; else " if seen else ""
    return (
        f"Stages: {noted}by the fastest published degree-days, so EARLY: more nights "
        "look dangerous than were. Give your own dates with --crop-stages FILE."
    )


def _came_line(answer: PastSprings, wording: Wording) -> str:
    """Return what the lows that came are of."""
    truth = answer.truth
    nights = _count(len(truth.lows_c), "night")
    notes = "".join(f" {note[0].upper()}{note[1:]}." for note in truth.notes)
    match truth.kind:
        case TruthKind.OWN:
            return f"What came: your thermometer ({truth.name}), {nights}.{notes}"
        case TruthKind.STATION:
            left = (
                f" {truth.left_out} minimums belong to no night and are left out."
                if truth.left_out
                else ""
            )
            return (
                f"What came: NOT your place but the station {truth.name}"
                f"{_where(truth.distance_km, truth.above_m, wording)}, {nights}. A "
                f"hollow is colder.{left}{notes}"
            )
        case TruthKind.REANALYSIS:
            return (
                f"What came: a REANALYSIS ({truth.name}), {nights}: a model's guess, "
                f"no thermometer, too warm in hollows. The last resort.{notes}"
            )


def _where(distance_km: float | None, above_m: float | None, wording: Wording) -> str:
    """Return how far a station stands, and how much higher or lower."""
    parts = []
    if distance_km is not None:
        parts.append(f"{wording.distance(distance_km)} away")
    if above_m is not None:
        is_us = wording.site.units is Units.US
        size, unit = (
            (abs(above_m) * _FEET_PER_M, "ft") if is_us else (abs(above_m), "m")
        )
        parts.append(f"{size:.0f} {unit} {'higher' if above_m > 0 else 'lower'}")
    return f", {', '.join(parts)}" if parts else ""


def screen(
    answer: PastSprings,
    counted: Sequence[tuple[SettingResult, Tally]],
    springs: Counted,
    wording: Wording,
) -> str:
    """Return the whole answer, for one screen."""
    costs = [(span, answer.costs.get(span, ())) for span, _ in springs]
    money = value_line(costs, wording.site.currency)
    return "\n".join(
        [
            f"{wording.site.name}: past springs, and what frostalert would have said",
            "",
            *short_lines(answer, springs),
            *([money] if money else []),
            "",
            *settings_table(counted),
            *keys_lines([setting for setting, _ in counted]),
            advice_line(counted),
            "",
            "How far to trust this:",
            *(f"- {line}" for line in limits(answer, wording)),
        ]
    )


def short_lines(answer: PastSprings, springs: Counted) -> list[str]:
    """Return one line a spring, for the page and the weekly mail as well."""
    return [
        f"- {span.year}: {spring_line(span, tally, answer.costs.get(span, ()))}"
        for span, tally in springs
    ]


def picture_words(springs: Counted) -> str:
    """Return what the picture of past springs shows, in words."""
    told = "; ".join(
        f"{span.year}: {tally.called} nights called out, {tally.called_needed} of them "
        f"needed, {tally.called_missed} missed"
        for span, tally in springs
    )
    return f"The low of each night of past springs with the nights called out. {told}"


def _count(number: int, noun: str) -> str:
    """Return a number with its noun; none as a word."""
    if not number:
        return f"no {noun}"
    return f"{number} {noun}{'' if number == 1 else 's'}"
