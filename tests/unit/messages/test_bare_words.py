"""Whatever cannot be put into words, a warning still says what, when and how cold."""

from datetime import UTC, datetime

import pytest

from frostalert.forecast.nws import parse_grid
from frostalert.messages import addressing, compose, compose_warning, warning
from frostalert.messages.audience import WARNINGS
from frostalert.messages.bare_words import bare_text, bare_words
from frostalert.messages.compose import compose_decision
from frostalert.messages.sms import ONE_SEGMENT, gsm_length
from frostalert.messages.wording import Wording
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import ENDINGS, Message, Subject
from frostalert.model.site import Rules
from tests.support.decided import decide
from tests.support.grids import grid_text
from tests.support.holdings import SITE, make_block, make_holding
from tests.support.judged import assess

NOW = datetime(2026, 4, 13, 0, tzinfo=UTC)
HOLDING = make_holding(make_block(methods=("micro-sprinklers",)))


def written() -> list[Message]:
    assessment = assess(HOLDING, parse_grid(grid_text(), NOW), NOW)
    decision = decide({}, NOW, assessment, Rules())
    return compose_decision(decision, assessment, HOLDING)


def broken(*_: object, **__: object) -> object:
    message = "words that fail"
    raise ValueError(message)


@pytest.mark.parametrize(
    ("module", "name"),
    [
        (warning, "text_of"),
        (warning, "letter_of"),
        (warning, "first_starts"),
        (addressing, "render"),
        (compose, "with_warning"),
        (compose_warning, "plan_attachment"),
        (compose_warning, "night_view"),
        (compose, "source_view"),
    ],
)
def test_a_warning_goes_out_whatever_fails(
    module: object, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = written()
    monkeypatch.setattr(module, name, broken)
    messages = written()
    assert [message.key for message in messages] == [message.key for message in whole]
    assert [m.message_class for m in messages] == [m.message_class for m in whole]
    for message in messages:
        assert "Sun Apr 12" in f"{message.subject} {message.text}"
        assert "27 F" in message.text
        assert "thermometer" in message.text or "harm" in message.text
        assert gsm_length(message.text) <= ONE_SEGMENT or (
            message.channel is ChannelKind.EMAIL and message.subject
        )


@pytest.mark.parametrize("subject", sorted(WARNINGS | ENDINGS | {Subject.CANNOT_JUDGE}))
def test_the_fewest_words_fit_a_text(subject: Subject) -> None:
    words = bare_words(subject, NOW.date(), None, Wording(SITE, NOW))
    assert gsm_length(bare_text(words, "TEST ")) <= ONE_SEGMENT
    assert "12" in words or "13" in words
