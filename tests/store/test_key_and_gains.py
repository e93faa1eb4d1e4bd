"""The key of the tickets is made once; what equipment gained is kept, the newest."""

import os
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from frostalert.errors import StoreError
from frostalert.model.assessment import Tier
from frostalert.model.learned import GainNight
from frostalert.model.notice import (
    Decision,
    MessageClass,
    NightDecision,
    NightHistory,
    Reason,
    Subject,
)
from frostalert.store.key import make_key, read_key
from frostalert.store.open import open_beside
from frostalert.store.state import StateStore
from frostalert.store.steady import FailoverStore
from tests.support.queued import mail_to_ines

NOW = datetime(2026, 4, 13, 0, tzinfo=UTC)


def test_the_key_is_made_once_and_for_its_owner_alone(tmp_path: Path) -> None:
    with pytest.raises(StoreError):
        read_key(tmp_path)
    key = make_key(tmp_path)
    assert len(key) == 32
    assert make_key(tmp_path) == key == read_key(tmp_path)
    [kept] = tmp_path.iterdir()
    assert kept.stat().st_mode & 0o777 == 0o600
    other = tmp_path / "other"
    other.mkdir()
    assert make_key(other) != key


def test_a_key_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    place = tmp_path / "answer-key"
    os.mkdir(place)  # noqa: PTH102 - a folder stands where the key should
    with pytest.raises(StoreError, match="cannot be made or read"):
        make_key(tmp_path)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[StateStore]:
    FailoverStore(tmp_path, NOW).database.close()
    opened = open_beside(tmp_path)
    yield opened
    opened.database.close()


def test_what_equipment_gained_is_kept_by_night_and_said_anew(
    store: StateStore,
) -> None:
    first = GainNight(equipment="Heaters", night=date(2026, 4, 11), delta_c=1.4)
    second = GainNight(equipment="Heaters", night=date(2026, 4, 12), delta_c=1.1)
    other = GainNight(equipment="Fan", night=date(2026, 4, 12), delta_c=0.6)
    store.save_gain_nights([second, first, other])
    store.save_gain_nights([])
    assert store.gain_nights() == (first, other, second)
    again = GainNight(equipment="Heaters", night=date(2026, 4, 12), delta_c=0.9)
    store.save_gain_nights([again])
    assert store.gain_nights() == (first, other, again)


def test_who_was_written_to_about_a_night_is_told_by_address(
    store: StateStore,
) -> None:
    night, other = date(2026, 4, 12), date(2026, 4, 13)
    message = mail_to_ines(
        Subject.PREPARE,
        NOW,
        key="k|email",
        message_class=MessageClass.WAKING,
        night=night,
        nights=(night, other),
    )
    history = NightHistory(night=night, told=Tier.PREPARE, said=Tier.PREPARE)
    item = NightDecision(
        night=night,
        say=Subject.PREPARE,
        why=Reason.TIER_ROSE,
        detail="d",
        remember=history,
    )
    store.record_decision(Decision(nights=(item,), next_look_utc=NOW), [message], NOW)
    address = "ines@heron-bench.example"
    assert store.addressed({night}) == {(night, address)}
    assert store.addressed({night, other}) == {(night, address), (other, address)}
    assert store.addressed({date(2026, 4, 14)}) == frozenset()
    assert store.addressed(set()) == frozenset()
