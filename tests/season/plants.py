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

from frostalert import service
from frostalert.alarms import steps
from frostalert.alarms.starts import call_starts
from frostalert.cycle import answer_links
from frostalert.messages import (
    addressing,
    audience,
    compose_warning,
    warning_letter,
    warning_text,
)
from frostalert.messages.lead_words import ActionState, action_state
from frostalert.messages.picture import NightPicture
from frostalert.messages.ticket import ticket_for
from frostalert.messages.warning_text import TextWords
from frostalert.messages.wording import Wording
from frostalert.model.assessment import BlockNight
from frostalert.model.notice import Subject
from frostalert.model.site import Person, Rules
from frostalert.store.state import StateStore
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

    def wrong(facts: Any, words: TextWords, short: Any, named: Any) -> Any:
        night = facts.night
        blocks = tuple(_as_forecast(block, night.low_c) for block in night.blocks)
        other = replace(facts, night=replace(night, blocks=blocks))
        return right(other, words, short, named)

    with patch.object(warning_text, "_cold", wrong):
        yield


def _as_forecast(block: BlockNight, low_c: float) -> BlockNight:
    """Return a block's night with the forecast's low."""
    return replace(block, site_low_c=low_c)


@contextmanager
def silence_ignored() -> Iterator[None]:
    """Who asked to hear it later hears it at once."""
    with patch.object(audience, "silence_asked", lambda *_: None):
        yield


@contextmanager
def list_not_taken_up() -> Iterator[None]:
    """Who left the list, and whose address changed, is told as before."""
    with patch.object(service.Service, "_take_up", lambda _: False):
        yield


@contextmanager
def anothers_link() -> Iterator[None]:
    """Everybody is sent a link that answers for the first on the list."""
    right = ticket_for

    def wrong(person: Person, occasion: Any) -> Any:
        return right(replace(person, name="Ines"), occasion)

    with patch.object(answer_links, "ticket_for", wrong):
        yield


@contextmanager
def warmer_picture() -> Iterator[None]:
    """The picture shows a warmer night than the mail tells of."""
    right = NightPicture.alt

    def wrong(picture: Any, wording: Any) -> str:
        chart = replace(picture.chart, air_c=picture.chart.air_c + 2.0)
        return right(replace(picture, chart=chart), wording)

    with patch.object(NightPicture, "alt", wrong):
        yield


@contextmanager
def any_link_taken() -> Iterator[None]:
    """A link that was copied badly answers for the first ticket there is."""
    right = StateStore.ticket

    def wrong(store: Any, token: str) -> Any:
        with store.database.reading() as connection:
            row = connection.execute("SELECT token FROM ticket LIMIT 1").fetchone()
        return right(store, row[0] if row else token)

    with patch.object(StateStore, "ticket", wrong):
        yield


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
    "a silence ignored": silence_ignored,
    "an edited list not taken up": list_not_taken_up,
    "another person's link": anothers_link,
    "a picture that is warmer": warmer_picture,
    "any link taken": any_link_taken,
}
