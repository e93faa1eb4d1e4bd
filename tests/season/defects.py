"""Defects planted on purpose: each must be caught by the seasons."""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import replace
from datetime import timedelta, timezone
from typing import Any
from unittest.mock import patch

from frostalert import service
from frostalert.alarms import policy, steps
from frostalert.alarms.calling import pass_on
from frostalert.alarms.ending import silent
from frostalert.cycle import deliver
from frostalert.messages import addressing
from frostalert.model.notice import Reason
from frostalert.risk import assess, block_hours
from frostalert.store import outbox
from frostalert.store.lock import StateLock
from frostalert.store.steady import FailoverStore
from tests.season.plants import PLANTS
from tests.support.kept import nothing_kept


@contextmanager
def sign_of_the_cold_spot() -> Iterator[None]:
    """The block's cold spot is added with the wrong sign."""
    right = block_hours.derive_block_hours

    def wrong(shared: Any, site: Any, blocks: Any, organs: Any) -> Any:
        turned = tuple(
            replace(block, cold_spot_delta_c=-block.cold_spot_delta_c)
            for block in blocks
        )
        return right(shared, site, turned, organs)

    with patch.object(assess, "derive_block_hours", wrong):
        yield


@contextmanager
def dropped_rows() -> Iterator[None]:
    """Every fourth message is not put into the queue."""
    right, count = outbox._insert, [0]

    def wrong(connection: Any, message: Any, now_utc: Any) -> int:
        count[0] += 1
        return 0 if count[0] % 4 == 0 else right(connection, message, now_utc)

    with patch.object(outbox, "_insert", wrong):
        yield


@contextmanager
def lost_lock() -> Iterator[None]:
    """The lock of the state folder locks nothing."""
    with (
        patch.object(StateLock, "__enter__", lambda lock: lock),
        patch.object(StateLock, "__exit__", lambda *_: None),
    ):
        yield


@contextmanager
def hour_lost_at_the_clock_change() -> Iterator[None]:
    """Local time is winter time all year."""
    winter = timezone(timedelta(hours=-8))
    with patch.object(service, "ZoneInfo", lambda _: winter):
        yield


@contextmanager
def stale_taken_as_new() -> Iterator[None]:
    """A forecast of any age counts as fresh."""
    with (
        patch.object(assess, "age_word", lambda _: "fresh"),
        patch.object(assess, "UNUSABLE", timedelta(days=30)),
    ):
        yield


@contextmanager
def sending_not_recorded() -> Iterator[None]:
    """An attempt is not recorded before it is made."""
    with patch.object(FailoverStore, "mark_sending", lambda *_: True):
        yield


@contextmanager
def cannot_judge_never_said() -> Iterator[None]:
    """What cannot be judged is passed over in silence."""

    def wrong(past: Any, night: Any, now_utc: Any) -> Any:
        del now_utc
        return silent(past, Reason.HELD_ON_BAD_DATA, night.reason)

    with patch.object(policy, "_cannot_judge", wrong):
        yield


@contextmanager
def no_second_try() -> Iterator[None]:
    """A failed message is given up at once."""
    with patch.object(deliver, "_next_try", lambda *_: None):
        yield


@contextmanager
def nobody_called() -> Iterator[None]:
    """A warning that nobody answers stays where it is."""
    left = tuple(step for step in steps.STEPS if step is not pass_on)
    with patch.object(steps, "STEPS", left):
        yield


@contextmanager
def quiet_hours_ignored() -> Iterator[None]:
    """Nothing is ever held back."""
    with patch.object(addressing, "delay_reason", lambda *_: None):
        yield


@contextmanager
def decision_without_messages() -> Iterator[None]:
    """Now and then a decision is kept and its messages are not."""
    right, count = outbox.insert_messages, [0]

    def wrong(connection: Any, messages: Any, now_utc: Any) -> int:
        count[0] += bool(messages)
        is_lost = bool(messages) and count[0] % 3 == 0
        return 0 if is_lost else right(connection, messages, now_utc)

    with patch("frostalert.store.state.insert_messages", wrong):
        yield


@contextmanager
def every_worse_forecast_wakes() -> Iterator[None]:
    """A night that got worse wakes people once more for the same tier."""
    right = policy._speak

    def wrong(*given: Any, **named: Any) -> Any:
        item = right(*given, **named)
        return replace(item, is_waking=item.say in ("prepare", "act"))

    with patch.object(policy, "_speak", wrong):
        yield


DEFECTS: dict[str, Callable[[], AbstractContextManager[None]]] = {
    "sign of the cold spot": sign_of_the_cold_spot,
    "dropped outbox rows": dropped_rows,
    "lost lock": lost_lock,
    "an hour lost at the clock change": hour_lost_at_the_clock_change,
    "stale data taken as new": stale_taken_as_new,
    "sending not recorded": sending_not_recorded,
    "cannot-judge never said": cannot_judge_never_said,
    "no second try": no_second_try,
    "nobody called when nobody answers": nobody_called,
    "quiet hours ignored": quiet_hours_ignored,
    "a decision without its messages": decision_without_messages,
    "every worse forecast wakes": every_worse_forecast_wakes,
    **PLANTS,
}


def planted(name: str) -> AbstractContextManager[object]:
    """Return a defect to be planted for a while, by its name; none for "none"."""
    stack = ExitStack()
    if name != "none":
        stack.enter_context(nothing_kept())
        stack.enter_context(DEFECTS[name]())
    return stack
