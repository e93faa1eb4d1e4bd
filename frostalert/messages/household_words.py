"""What a house has for low plants, in words: one home for mail, plan and terminal."""

from frostalert.messages.lead_words import by_when
from frostalert.messages.wording import Wording, capital
from frostalert.model.plan import Plan


def household_head(plan: Plan, wording: Wording) -> str:
    """Return where a house's means are put to use, and by when; empty without any."""
    household = plan.household
    if household is None:
        return ""
    blocks = ", ".join(household.blocks)
    if household.is_laid:
        return f"{blocks}: what covers them stays on until morning"
    when = "now, in the dark" if plan.is_dark else by_when(plan, wording)
    return f"Cover {blocks} {when}, with what you have at home"


def household_lines(plan: Plan) -> tuple[str, ...]:
    """Return the means themselves, a line each."""
    household = plan.household
    if household is None or household.is_laid:
        return ()
    return tuple(f"{item.text}." for item in household.means)


def household_text(plan: Plan, wording: Wording) -> tuple[str, ...]:
    """Return head and means, each with its source; empty without any."""
    household = plan.household
    if household is None:
        return ()
    head = capital(household_head(plan, wording))
    if household.is_laid:
        return (f"{head}.",)
    return (f"{head}:", *(f"- {item.text} ({item.source})" for item in household.means))
