"""`frostalert explain`: one block's night step by step, to be checked by hand."""

from dataclasses import asdict
from typing import Annotated

import typer

from frostalert.cli import completions
from frostalert.cli.live_context import load_context
from frostalert.cli.options import (
    ConfigOption,
    ForecastOption,
    JsonOption,
    NightOption,
    NowOption,
    find_config,
    parse_night,
)
from frostalert.cli.say import say, say_json
from frostalert.config.edit import find_block
from frostalert.config.load import load_settings
from frostalert.messages.wording import Wording
from frostalert.model.tier_words import TIER_WORDS
from frostalert.risk.explain import Explanation, Step
from frostalert.risk.explain import explain as explain_block


def explain(
    block: Annotated[
        str,
        typer.Argument(help="Name of the block.", autocompletion=completions.blocks),
    ],
    night: NightOption = None,
    config: ConfigOption = None,
    forecast: ForecastOption = None,
    now: NowOption = None,
    *,
    as_json: JsonOption = False,
) -> None:
    """Show every step from the forecast to the percentage, with formula and source."""
    settings = load_settings(find_config(config), needs_secrets=False)
    farm = settings.farm
    found = find_block(farm.blocks, block)
    context = load_context(settings, forecast, now)
    day = parse_night(night) or context.meant[-1]
    explanation = explain_block(context.nights, found, day)
    if as_json:
        say_json(
            block=explanation.record.block,
            night=explanation.night.isoformat(),
            tier=explanation.record.tier.value,
            low_utc=explanation.low_utc.isoformat(),
            steps=[asdict(step) for step in explanation.steps],
        )
        return
    _print(explanation, Wording(farm.site, context.moment))


def _print(explanation: Explanation, wording: Wording) -> None:
    """Print the steps, one a line, with how and where from below."""
    record = explanation.record
    say(
        f"{record.block}, {wording.of_night(explanation.night)}: "
        f"{TIER_WORDS[record.tier]}. "
        f"Lowest air at {wording.moment(explanation.low_utc)}."
    )
    for step in explanation.steps:
        say(f"{step.name:<42} {_value(step, wording):>20}")
        say(f"    {step.formula}")
        say(f"    [{step.source}]")


def _value(step: Step, wording: Wording) -> str:
    """Return a step's value with its unit, temperatures in both."""
    if step.value is None:
        return ""
    if step.unit == "degC":
        return f"{step.value:.2f} C {step.value * 1.8 + 32:.1f} F"
    if step.unit == "delta_degC":
        return f"{step.value:+.2f} C {step.value * 1.8:+.1f} F"
    if step.unit == "%":
        return f"{step.value:.1f} %"
    return f"{step.value:.2f} {'' if step.unit == '1' else step.unit}".strip()
