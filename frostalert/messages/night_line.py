"""One night in one line: its date, how cold it gets where, and how likely harm is."""

from frostalert.messages.brief_words import chance_in_words
from frostalert.messages.views import is_over
from frostalert.messages.wording import Wording, chance
from frostalert.model.assessment import NightAssessment, Tier


def night_line(night: NightAssessment, wording: Wording, *, lasts: bool = False) -> str:
    """Return a night in one line; one that `lasts` is not over by the clock."""
    return f"{wording.day(night.night)}: {_what(night, wording, lasts=lasts)}."


def cold_words(night: NightAssessment, wording: Wording) -> str:
    """Return how cold it gets in the likeliest block, and how likely harm is."""
    worst = night.likeliest
    if worst is None:
        return "nothing is watched"
    low = wording.temperature(worst.site_low_c)
    words = f"{low} in {worst.block}"
    if worst.probability is None:
        return f"{words}, chance of harm not known"
    odds = chance(worst.probability)
    if not night.tier.rank:
        return f"{words}, chance of harm {odds}"
    return f"{words}, {chance_in_words(worst.probability)} ({odds})"


def _what(night: NightAssessment, wording: Wording, *, lasts: bool) -> str:
    """Return what there is to say of a night."""
    if night.tier is Tier.CANNOT_JUDGE:
        return f"frost risk unknown, {night.reason}"
    if night.tier is Tier.NOT_COVERED_YET:
        return "no forecast reaches it yet"
    worst = night.likeliest
    if not is_over(night, wording.now_utc):
        return cold_words(night, wording)
    over = "not over yet" if lasts else "over"
    if worst is None or worst.past_low_c is None or worst.past_low_utc is None:
        return over
    low = wording.temperature(worst.past_low_c)
    at = wording.clock(worst.past_low_utc)
    return f"{over}; forecast low {low} at {at}"
