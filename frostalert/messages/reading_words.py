"""What is said of a reading that nobody would expect."""

from frostalert.messages.wording import Wording
from frostalert.model.reading import TAKEN_BACK, Reading


def doubt_lines(item: Reading, difference_c: float, wording: Wording) -> list[str]:
    """Return how far off a reading is, what follows, and how to take it back."""
    return [
        *question_lines(difference_c, wording),
        f'Typed wrong? frostalert reading "{item.sensor}" --take-back',
    ]


def question_lines(difference_c: float, wording: Wording) -> list[str]:
    """Return how far off a reading is, and what follows from it."""
    far = wording.difference(abs(difference_c))
    again = (
        "To confirm it, read the same thermometer again in ten minutes, or another one "
        "now."
    )
    if difference_c > 0:
        return [
            f"That is {far} warmer than expected there at this hour. Is a minus "
            "missing?",
            "A warm reading calls nobody off.",
            again,
        ]
    return [
        f"That is {far} colder than expected there at this hour.",
        "It warns people at once; it takes nothing out of a plan.",
        again,
    ]


def taken_back_words(gone: Reading, wording: Wording) -> str:
    """Return what became of a reading that somebody takes back."""
    air = wording.temperature(gone.air_c)
    if gone.problem != TAKEN_BACK:
        return (
            f"{air} was not believed anyway ({gone.problem}). Nothing uses it, and "
            "the earlier readings stay."
        )
    return f"{air} is taken back. Nothing uses it any more."
