"""One method in one block in words: what is done, the arithmetic, or why not."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import assert_never

from frostalert.messages.wording import Wording, span
from frostalert.model.method import Agent, RefusalReason, WindAt
from frostalert.model.plan import (
    GainFacts,
    Option,
    PassedOver,
    Together,
    Verdict,
    WaterFacts,
)
from frostalert.model.site import Block
from frostalert.model.start import StartKey
from frostalert.physics.start_reading import START_WET_BULB_C

_NO_GAIN_C = 0.3
_WINDY = frozenset({RefusalReason.TOO_WINDY, RefusalReason.FIRE_WIND})
_BRIEF_GROUNDS = {
    RefusalReason.TOO_WINDY: "too windy",
    RefusalReason.FIRE_WIND: "too windy",
    RefusalReason.LESS_THAN_NEEDED: "too little water for it now",
    RefusalReason.MAY_NOT_HOLD: "too little water if the night gets colder",
    RefusalReason.MORE_HARM: "more harm than good now",
    RefusalReason.ROUND_TOO_LONG: "the round is too long now",
    RefusalReason.TOO_LATE: "too late, dry buds would freeze",
}
_HAND_HABIT = (
    "Small plantings often go round every 20 to 30 min in mild freezes (common "
    "practice, no source)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceView:
    """One thing to do: what, the arithmetic, and what can hurt."""

    head: str
    lines: tuple[str, ...]
    caution: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenBackView:
    """What people were called to start and must not: whole for a mail, else brief."""

    lines: tuple[str, ...]
    pairs: tuple[tuple[str, str], ...]
    why: str
    if_begun: str


def each_once(options: Iterable[Option]) -> tuple[Option, ...]:
    """Return the first option of each equipment and block: the most pieces."""
    found: dict[StartKey, Option] = {}
    for item in options:
        found.setdefault(item.pair, item)
    return tuple(found.values())


def brief_ground(ground: RefusalReason) -> str:
    """Return why a method is refused, in a few words."""
    return _BRIEF_GROUNDS.get(ground, ground.value)


def choice_view(option: Option, block: Block, wording: Wording) -> ChoiceView:
    """Return one thing to do."""
    lines = []
    if option.verdict is Verdict.NOT_ESTIMATED:
        lines += _listed_lines(option, wording)
    elif isinstance(option.facts, WaterFacts):
        lines += _water_lines(option, option.facts, wording)
    elif isinstance(option.facts, GainFacts):
        lines += _gain_lines(option, option.facts, wording)
    if option.together is not None:
        lines.append(_together_line(option.together, wording))
    if option.can_be_chosen:
        lines += _reach_lines(option, block)
        lines.append(_saving(option, block))
    name = option.equipment
    if option.method.name != name.lower():
        name = f"{name} ({option.method.name})"
    count = f", {option.units} of them" if option.units else ""
    return ChoiceView(
        head=f"{option.block}: {name}{count}: {option.verdict.value}",
        lines=tuple(lines),
        caution=caution_of(option),
    )


def _listed_lines(option: Option, wording: Wording) -> list[str]:
    """Return what is known of what is only listed: hour, reading, last hour."""
    lines = [f"Not worked out: {option.grounds[0].value}. By your own experience only."]
    if option.start_air_c is not None:
        lines.append(
            f"Have it running by {wording.clock(option.start_utc)}, or when the "
            f"thermometer reads {wording.temperature(option.start_air_c)}."
        )
    if option.method.wets_buds and RefusalReason.NO_HUMIDITY in option.grounds:
        # Whoever measures it knows more than the forecast.
        lines.append(
            "These hold for the driest air of a published table. With a wet bulb of "
            f"your own, start at {wording.temperature(START_WET_BULB_C)}."
        )
    if option.not_dry_after_utc is not None:
        lines.append(_last_dry_start(option.not_dry_after_utc, wording))
    return lines


def _last_dry_start(latest_utc: datetime, wording: Wording) -> str:
    """Return after which hour dry buds must not be wetted."""
    return (
        f"Not on dry buds after {wording.clock(latest_utc)}: they would freeze as they "
        "are wetted. If buds drip already, it is not too late."
    )


def caution_of(option: Option) -> str:
    """Return what can hurt: by itself, and beside what runs with it."""
    caution = option.method.caution
    together = option.together
    return caution if together is None else f"{caution} {together.caution}"


def _together_line(together: Together, wording: Wording) -> str:
    """Return what it does beside another in its block."""
    gain = ""
    if together.low_delta_c is not None and together.high_delta_c is not None:
        low = wording.difference(together.low_delta_c).split()[0]
        gain = f", gaining {low} to {wording.difference(together.high_delta_c)}"
    return (
        f"Together with {together.partner}: {together.verdict.value}{gain}, the lesser "
        f"counted at its lower end; the better one alone loses "
        f"{100 * together.loss_alone:.0f} % ({together.source})."
    )


def passed_over_words(item: PassedOver) -> str:
    """Return what could be done in a block as well, and why it is not."""
    option = item.option
    return f"{option.equipment} in {option.block}: {passed_over_why(item)}"


def passed_over_why(item: PassedOver) -> str:
    """Return what it would come to, and why it is not chosen."""
    beside = f" ({' and '.join(item.beside)})" if item.beside else ""
    why = item.why.value
    if item.short:
        # "Enough, but what you have is not enough for it" says nothing.
        why = f"{', '.join(item.short)} would run short"
    return f"{item.option.verdict.value}, not chosen: {why}{beside}."


def _reach_lines(option: Option, block: Block) -> list[str]:
    """Return how much of the block is reached, where it is not all of it."""
    reached = option.facts.reached if option.facts is not None else 1.0
    if reached >= 1.0:
        return []
    if block.plants is None:
        which = f"{100 * reached:.0f} % of the block"
    else:
        which = f"{int(reached * block.plants)} of {block.plants} plants"
    return [f"It reaches {which}: take the coldest rows first."]


def _saving(option: Option, block: Block) -> str:
    """Return what an option is expected to save; no percentage without a curve."""
    before, after = 100.0 * option.loss_before, 100.0 * option.loss_after
    it = "it" if option.together is None else "both"
    if any(row.has_curve for row in block.crop.stages):
        what = "crop" if block.crop.needed_pct is not None else "buds"
        return (
            f"Expected loss of {what}, over all that the night may do: "
            f"{before:.0f} % without, {after:.0f} % with {it}."
        )
    return (
        f"Chance that damage begins: {before:.0f} % without, {after:.0f} % with {it} "
        "(ranked, not estimated)."
    )


def _water_lines(option: Option, facts: WaterFacts, wording: Wording) -> list[str]:
    """Return the arithmetic of water over plants."""
    wet = wording.temperature(START_WET_BULB_C)
    hour = wording.clock(option.start_utc)
    is_over = option.start_utc is not None and option.start_utc < wording.now_utc
    begin = "It was to run" if is_over else "Have it running"
    falls = "fell" if is_over else "falls"
    lines = [
        f"{begin} by {hour} by this forecast: when the wet bulb {falls} to {wet}"
        + (
            f" (thermometer about {wording.temperature(facts.start_air_c)})."
            if facts.start_air_c is not None
            else "."
        )
    ]
    if option.is_running:
        lines.append(
            "Counted as running: somebody said that they act on the call to start it."
        )
    if facts.latest_start_utc is not None:
        lines.append(_last_dry_start(facts.latest_start_utc, wording))
    lines.append(_rate_line(facts, wording))
    lines += [
        f"{line} Near that keep it running, and light no fire beside it."
        for line in _hold_line(facts, wording)
    ]
    if facts.round_time is not None and facts.longest_round is not None:
        lines.append(_round_line(facts))
    if facts.ice_kg is not None:
        brittle = "; its limbs are brittle: prop them, keep out" * facts.is_brittle
        lines.append(
            f"Up to {wording.amount(facts.ice_kg, 'kg')} of ice on a plant by the "
            f"end{brittle}."
        )
    return lines


def _wind(option: Option, wording: Wording) -> str:
    """Return the wind that forbids an option, beside what it allows."""
    most = option.method.most_wind_mps
    is_by_wind = option.grounds[0] in _WINDY
    if not is_by_wind or option.wind_mps is None or most is None:
        return ""
    height = _height(option.method.wind_at)
    wind, limit = wording.speed(option.wind_mps), wording.speed(most)
    if wind == limit:
        # Rounded alike they would read as allowed.
        return f", up to {wind}{height} while in use, just over the limit"
    return f", up to {wind}{height} while in use; the limit is {limit}"


def _height(wind_at: WindAt) -> str:
    """Return where the wind blows."""
    match wind_at:
        case WindAt.PLANTS:
            return " at plant height"
        case WindAt.FORECAST:
            return " as forecast"
        case _:
            assert_never(wind_at)


def _rate_line(facts: WaterFacts, wording: Wording) -> str:
    """Return the rate against what is needed."""
    needed = wording.rate(facts.needed_mm_per_h)
    if facts.table_mm_per_h is None:
        table = f"no rate is given by the {facts.table_source}"
    else:
        table = f"{wording.rate(facts.table_mm_per_h)} by the {facts.table_source}"
    return (
        f"It gives {wording.rate(facts.rate_mm_per_h)}; tonight takes {needed} by heat "
        f"balance, {table}."
    )


def _round_line(facts: WaterFacts) -> str:
    """Return the crew's round against the life of a film."""
    assert facts.round_time is not None  # noqa: S101 - the caller has asked
    assert facts.longest_round is not None  # noqa: S101
    return (
        f"A round takes {span(facts.round_time)}; tonight a film of water freezes "
        f"in {span(facts.longest_round)}. {_HAND_HABIT}."
    )


def _gain_lines(option: Option, facts: GainFacts, wording: Wording) -> list[str]:
    """Return the arithmetic of a method that warms."""
    low = wording.difference(facts.low_delta_c).split()[0]
    gain = f"Gains {low} to {wording.difference(facts.high_delta_c)} ({facts.source})"
    if facts.high_delta_c < _NO_GAIN_C:
        gain = (
            "In the night as expected there is next to nothing to gain: it counts if "
            f"it gets colder ({facts.source})"
        )
    lines = []
    light = ""
    if option.start_air_c is not None:
        light = (
            " by this forecast, and whatever the hour when the thermometer among the "
            f"buds reads {wording.temperature(option.start_air_c)}"
        )
    if not option.method.is_before_dark:
        lines.append(f"Have it running by {wording.clock(option.start_utc)}{light}.")
    if option.out_by_utc is not None:
        lines.append(
            f"Out by {wording.clock(option.out_by_utc)}, before the wind comes up."
        )
    if facts.gained_wpm2 is not None and facts.lost_wpm2 is not None:
        gain += (
            f"; {facts.gained_wpm2:.0f} W/m2 stay among the plants, "
            f"{facts.lost_wpm2:.0f} W/m2 are lost"
        )
    return [*lines, gain + "."]


def refusal_words(option: Option, wording: Wording) -> str:
    """Return why an option is refused, with its numbers."""
    return f"{option.verdict.value}: {_why_refused(option, wording)}"


def ground_words(option: Option, wording: Wording) -> str:
    """Return why an option is refused, without the numbers of its block."""
    words = [f"{option.verdict.value}: {option.grounds[0].value}."]
    words += _kept_ready(option)
    return " ".join([*words, *_if_begun(option, wording)])


def _why_refused(option: Option, wording: Wording) -> str:
    """Return why an option is refused, and what holds where it was begun."""
    ground = option.grounds[0]
    words = [f"{ground.value}{_wind(option, wording)}."]
    words += _kept_ready(option)
    words += _if_begun(option, wording)
    if isinstance(option.facts, WaterFacts):
        words += _water_refusal(ground, option.facts, wording)
    elif isinstance(option.facts, GainFacts):
        words.append(_gain_refusal(option.facts, wording))
    return " ".join(words)


def taken_back_view(options: Sequence[Option], wording: Wording) -> TakenBackView:
    """Return what must not be started any more."""
    # What can hurt people comes first.
    heat = [i for i in options if i.method.burns]
    water = [i for i in options if not i.method.burns]
    ordered = [*heat, *water]
    windy = [i for i in heat if not _WINDY.isdisjoint(i.grounds)]
    hints = {"If fire is lit, PUT OUT": windy, "If water is on, KEEP ON": water}
    return TakenBackView(
        lines=tuple(
            f"Do NOT start {option.equipment} in {option.block}: "
            + _why_refused(option, wording)
            for option in ordered
        ),
        pairs=tuple(option.pair for option in ordered),
        why=", ".join(dict.fromkeys(brief_ground(i.grounds[0]) for i in ordered)),
        if_begun=". ".join(hint for hint, some in hints.items() if some),
    )


def _kept_ready(option: Option) -> list[str]:
    """Return what is done by day all the same, since the night may turn milder."""
    if not option.is_kept_ready:
        return []
    return ["Set it up by day all the same: it is judged again before its start."]


def _if_begun(option: Option, wording: Wording) -> list[str]:
    """Return what holds for refused water that may run, and for heat that may burn."""
    freezing = wording.temperature(0.0)
    agent = option.method.agent
    if agent is Agent.FLAME and not _WINDY.isdisjoint(option.grounds):
        return ["If it is lit, put it out."]
    if not option.may_run:
        return []
    match agent:
        case Agent.FLAME:
            return [
                "If it is lit, it may burn on: put it out once the air among the buds "
                f"has stayed above {freezing}."
            ]
        case Agent.WATER:
            return [
                "If it is already running, KEEP IT ON until you measure a wet bulb "
                f"above {freezing} and ice melts freely."
            ]
        case Agent.NEITHER:
            return []
        case _:
            assert_never(agent)


def _hold_line(facts: WaterFacts, wording: Wording) -> list[str]:
    """Return how cold the air may get, and how likely it stays above that."""
    if facts.holds_to_air_c is None:
        return []
    return [
        f"It holds down to air of {wording.temperature(facts.holds_to_air_c)}: "
        f"{100 * facts.hold_chance:.0f} % chance that tonight stays above. Colder "
        "than that, wetted buds get colder than dry ones."
    ]


def _water_refusal(
    ground: RefusalReason, facts: WaterFacts, wording: Wording
) -> list[str]:
    """Return the numbers that water is refused by."""
    if ground in (RefusalReason.LESS_THAN_NEEDED, RefusalReason.MORE_HARM):
        return [_rate_line(facts, wording)]
    if ground is RefusalReason.MAY_NOT_HOLD:
        return [_rate_line(facts, wording), *_hold_line(facts, wording)]
    if ground is RefusalReason.ROUND_TOO_LONG:
        return [_round_line(facts)]
    if ground is RefusalReason.TOO_LATE:
        return [f"It was needed by {wording.clock(facts.latest_start_utc)}."]
    return []


def _gain_refusal(facts: GainFacts, wording: Wording) -> str:
    """Return the numbers that something that warms is refused by."""
    if facts.gained_wpm2 is not None and facts.lost_wpm2 is not None:
        return (
            f"{facts.gained_wpm2:.0f} W/m2 stay among the plants, "
            f"{facts.lost_wpm2:.0f} W/m2 are lost."
        )
    low = wording.difference(facts.low_delta_c).split()[0]
    return f"It gains {low} to {wording.difference(facts.high_delta_c)}."
