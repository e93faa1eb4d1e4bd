"""The fewest words of a warning: they stand in where its full words cannot be made.

They are made from little, on purpose: whatever breaks the long form must not break
these.
"""

from datetime import date

from frostalert.messages.sms import ONE_SEGMENT, shorten, to_gsm
from frostalert.messages.wording import Wording
from frostalert.model.assessment import NightAssessment
from frostalert.model.notice import ENDINGS, Subject

_VERBS = {
    Subject.ACT: "FROST {night}: ACT NOW.",
    Subject.PREPARE: "FROST {night}: GET READY NOW.",
    Subject.OUTLOOK: "FROST POSSIBLE {night}.",
    Subject.CANNOT_JUDGE: "RISK UNKNOWN {night}. NOT an all-clear.",
    Subject.WITHDRAWN: "Forecast no longer shows frost {night}.",
    Subject.STAND_DOWN: "The cold of {night} is over in the forecast.",
}
_KEEP_RUNNING = "Stop nothing by this message: measure first."
_MEASURE = "Read a thermometer among the buds."
_WHERE = "For the rest, type this: frostalert tonight."


def bare_words(
    subject: Subject, night: date, judged: NightAssessment | None, wording: Wording
) -> str:
    """Return the fewest words that still say what, when and how cold."""
    low = None if judged is None else judged.low_c
    words = [
        _VERBS[subject].format(night=wording.night(night)),
        "" if low is None else f"{wording.temperature(low)} in the forecast.",
        _KEEP_RUNNING if subject in ENDINGS else _MEASURE,
        _WHERE,
    ]
    return " ".join(word for word in words if word)


def bare_text(words: str, mark: str) -> str:
    """Return the fewest words as one text message."""
    return shorten(to_gsm(mark + words), ONE_SEGMENT)
