"""Defects in what people are told, planted on purpose: each must be seen by the eyes.

`defects.py` has those of the machine; these are those of its words and addresses.
"""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from datetime import timedelta
from functools import partial
from typing import Any
from unittest.mock import patch

from frostalert.alarms import steps
from frostalert.alarms.starts import call_starts
from frostalert.messages import (
    addressing,
    compose_warning,
    warning_letter,
    warning_text,
)
from frostalert.messages.lead_words import ActionState, action_state
from frostalert.messages.warning_text import TextWords
from frostalert.messages.wording import Wording
from frostalert.model.assessment import BlockNight
from frostalert.model.notice import Subject
from frostalert.model.site import Person, Rules
from tests.season import world


@contextmanager
def empty_texts() -> Iterator[None]:
    """Every text message arrives empty."""
    right = addressing._written_for

    def wrong(*given: Any) -> Any:
        written = right(*given)
        return replace(written, text="" if written.html is None else written.text)

    with patch.object(addressing, "_written_for", wrong):
        yield


@contextmanager
def wrong_addresses() -> Iterator[None]:
    """Everybody's messages go to one address."""

    def wrong(person: Person, kind: Any) -> str:
        del person
        return "+15095550142" if kind == "sms" else "ines@heron-bench.example"

    with patch.object(Person, "address", wrong):
        yield


@contextmanager
def no_start_called() -> Iterator[None]:
    """The hour of a start comes, and nobody is called to it."""
    left = tuple(step for step in steps.STEPS if step is not call_starts)
    with patch.object(steps, "STEPS", left):
        yield


@contextmanager
def start_now_never_said() -> Iterator[None]:
    """A call to start says that one should be ready to."""
    right = action_state

    def wrong(*given: Any, **named: Any) -> ActionState:
        state = right(*given, **named)
        return ActionState.EARLY if state is ActionState.START else state

    with patch.object(compose_warning, "action_state", wrong):
        yield


@contextmanager
def threshold_doubled() -> Iterator[None]:
    """Hands are called at twice the chance at which they should be."""
    doubled = partial(Rules, start_probability=0.4, near_probability=0.3)
    with patch.object(world, "Rules", doubled):
        yield


@contextmanager
def no_endings() -> Iterator[None]:
    """Nothing that was told is ever ended."""

    def silence(decision: Any, _: Any) -> Any:
        ends = (Subject.WITHDRAWN, Subject.STAND_DOWN)
        nights = tuple(
            replace(item, say=None) if item.say in ends else item
            for item in decision.nights
        )
        return replace(decision, nights=nights)

    with patch.object(steps, "STEPS", (*steps.STEPS, silence)):
        yield


@contextmanager
def no_fallback() -> Iterator[None]:
    """A mail that does not arrive is not sent as a text instead."""
    right = addressing._to_person

    def wrong(*given: Any, **named: Any) -> Any:
        return [replace(m, fallback=None) for m in right(*given, **named)]

    with patch.object(addressing, "_to_person", wrong):
        yield


@contextmanager
def another_night_named() -> Iterator[None]:
    """Messages name the night after the one that they are about."""
    right = Wording.night

    def wrong(wording: Any, night: Any) -> str:
        return right(wording, night + timedelta(days=1))

    with patch.object(Wording, "night", wrong):
        yield


@contextmanager
def an_hour_late() -> Iterator[None]:
    """Every hour in a message is an hour late."""
    right = Wording.clock

    def wrong(wording: Any, moment: Any) -> str:
        late = None if moment is None else moment + timedelta(hours=1)
        return right(wording, late)

    with patch.object(Wording, "clock", wrong):
        yield


@contextmanager
def warmer_in_words() -> Iterator[None]:
    """Messages tell a low that is a degree warmer than what was judged."""
    right = Wording.temperature

    def wrong(wording: Any, celsius: Any) -> str:
        return right(wording, None if celsius is None else celsius + 1.0)

    with patch.object(Wording, "temperature", wrong):
        yield


@contextmanager
def no_answer_asked() -> Iterator[None]:
    """No mail says how to answer it."""
    with patch.object(warning_letter, "_answering", lambda *_: ""):
        yield


@contextmanager
def text_tells_the_forecast() -> Iterator[None]:
    """A text tells the forecast's low where the mail tells the block's."""
    right = warning_text._cold

    def wrong(facts: Any, words: TextWords, short: Any) -> Any:
        night = facts.night
        blocks = tuple(_as_forecast(block, night.low_c) for block in night.blocks)
        return right(replace(facts, night=replace(night, blocks=blocks)), words, short)

    with patch.object(warning_text, "_cold", wrong):
        yield


def _as_forecast(block: BlockNight, low_c: float) -> BlockNight:
    """Return a block's night with the forecast's low."""
    return replace(block, site_low_c=low_c)


PLANTS: dict[str, Callable[[], AbstractContextManager[None]]] = {
    "empty texts": empty_texts,
    "wrong addresses": wrong_addresses,
    "no start called": no_start_called,
    '"start now" never said': start_now_never_said,
    "threshold doubled": threshold_doubled,
    "no endings": no_endings,
    "no fallback": no_fallback,
    "another night named": another_night_named,
    "an hour late in words": an_hour_late,
    "warmer in words": warmer_in_words,
    "no answer asked": no_answer_asked,
    "a text that tells the forecast": text_tells_the_forecast,
}
