"""A mail's parts, in the order in which a tired reader needs them."""

from collections.abc import Sequence
from dataclasses import dataclass

NO_ANSWER = "This is a rehearsal: it needs no answer."
"""What stands in place of how to answer, where no answer could be taken."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """A mail's parts, in order; each but the answer may be empty.

    Attributes
    ----------
    urgent : tuple of str
        What must be read before all else.
    answer : str
        What the mail is about, in a sentence or two.
    news : tuple of str
        What changed, or why.
    answering, answer_link : str
        How to answer, in words, and the link that does it.
    buttons : tuple of str
        What stands on the link's buttons.
    jobs, others : tuple of str
        The reader's own jobs, and other people's.
    rows : tuple of str
        A line a block, a night or a person.
    rules, doubts, source : tuple of str, str
        What always holds; what is not known; where the numbers come from.
    """

    answer: str
    urgent: tuple[str, ...] = ()
    news: tuple[str, ...] = ()
    answering: str = ""
    answer_link: str = ""
    buttons: tuple[str, ...] = ("I am acting", "Not now")
    jobs_title: str = "JOBS"
    jobs: tuple[str, ...] = ()
    others: tuple[str, ...] = ()
    rows_title: str = "BLOCKS"
    rows: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    source: str = ""


def lines_of(letter: Letter) -> Sequence[str]:
    """Return a letter as plain lines, not broken."""
    lines = [*letter.urgent, letter.answer, *letter.news]
    if letter.answering:
        lines += ["", letter.answering]
    if letter.jobs or letter.others:
        lines += ["", letter.jobs_title, *letter.jobs, *letter.others]
    if letter.rows:
        lines += ["", letter.rows_title, *letter.rows]
    if letter.rules:
        lines += ["", *letter.rules]
    last = [*letter.doubts, *filter(None, [letter.source])]
    return [*lines, "", *last] if last else lines
