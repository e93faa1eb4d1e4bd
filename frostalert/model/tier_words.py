"""How urgent a night is, and what a message was about, in the words of the warnings."""

from frostalert.model.assessment import NightAssessment, Tier
from frostalert.model.notice import Subject

TIER_WORDS = {
    Tier.NONE: "risk too low to warn",
    Tier.OUTLOOK: "frost possible",
    Tier.PREPARE: "get ready",
    Tier.ACT: "act now",
    Tier.CANNOT_JUDGE: "frost risk unknown",
    Tier.NOT_COVERED_YET: "not covered yet",
}
SUBJECT_WORDS = {
    Subject.OUTLOOK: TIER_WORDS[Tier.OUTLOOK],
    Subject.PREPARE: TIER_WORDS[Tier.PREPARE],
    Subject.ACT: TIER_WORDS[Tier.ACT],
    Subject.CANNOT_JUDGE: TIER_WORDS[Tier.CANNOT_JUDGE],
    Subject.WITHDRAWN: "no frost after all",
    Subject.STAND_DOWN: "the cold is over",
    Subject.DAILY_LINE: "daily line",
    Subject.WEEKLY: "weekly check",
    Subject.MORNING_AFTER: "morning after",
    Subject.OPERATOR: "frostalert needs you",
    Subject.TEST: "test",
    Subject.CORRECTION: "correction",
}


def night_words(night: NightAssessment) -> str:
    """Return what a night is; where no block is watched, no risk was looked for."""
    if night.tier is Tier.NONE and all(block.stage.is_muted for block in night.blocks):
        return "not watched"
    return TIER_WORDS[night.tier]
