"""What the morning after says: what came, what to count and where first."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from frostalert.messages.morning_after import MorningWords
from frostalert.messages.wording import Wording
from frostalert.model.assessment import Tier
from frostalert.model.ledger import LedgerNight, NightCalls, Outcome
from tests.support.holdings import INES, SITE

NOW = datetime(2026, 4, 13, 17, tzinfo=UTC)
LINE = LedgerNight(
    night=date(2026, 4, 12),
    kind=None,
    worst="Apricots",
    forecast_low_c=-3.0,
    measured_low_c=-4.0,
    harm_from_c=-2.0,
    probability=0.7,
    predicted_kill_pct=42.4,
    lead=None,
    calls=NightCalls(
        highest=Tier.ACT,
        first_call_utc=None,
        is_withdrawn=False,
        messages=3,
        answers=("Ines: acting",),
    ),
    counts=(),
    outcome=Outcome.HIT,
)


def words_of(line: LedgerNight) -> MorningWords:
    return MorningWords(line=line, wording=Wording(SITE, NOW))


def test_it_tells_what_came_and_where_to_count_first() -> None:
    letter = words_of(LINE).letter(INES, "")
    assert letter.answer == (
        "Last night, Sun Apr 12: the forecast had 27 F, your thermometer read 25 F."
    )
    assert letter.news == (
        "That was cold enough to harm Apricots: the call was needed.",
    )
    cut, note = letter.jobs
    assert "first in Apricots:" in cut
    assert "About 42 % of its buds may be dead." in cut
    assert (
        note == 'Note what you count: frostalert buds "Apricots" --dead NUMBER --of 100'
    )
    assert letter.rows == ("Ines: acting",)
    assert letter.answering == ""


@pytest.mark.parametrize(
    ("outcome", "words"),
    [
        (Outcome.FALSE_ALARM, "was not cold enough"),
        (Outcome.MISS, "nobody was called"),
        (Outcome.NOT_MEASURED, ""),
    ],
)
def test_it_says_whether_the_call_was_needed(outcome: Outcome, words: str) -> None:
    news = words_of(replace(LINE, outcome=outcome)).letter(INES, "").news
    assert bool(news) is bool(words)
    assert words in "".join(news)


def test_what_is_not_known_is_not_told() -> None:
    calls = replace(LINE.calls, answers=())
    line = replace(
        LINE, worst="", measured_low_c=None, predicted_kill_pct=None, calls=calls
    )
    letter = words_of(line).letter(INES, "https://frost.example/a/x")
    assert letter.answer.endswith("27 F; no thermometer reading came in overnight.")
    assert "first in the block that was coldest:" in letter.jobs[0]
    assert "%" not in letter.jobs[0]
    assert letter.rows == ("Nobody answered.",)
    assert letter.answering == "Your page: https://frost.example/a/x"
    text = words_of(line).text(INES, "https://frost.example/a/x", "")
    assert "From noon cut and count buds. https://frost.example/a/x" in text
    assert "buds, first in Apricots." in words_of(LINE).text(INES, "", "")
