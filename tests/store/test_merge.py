"""Two states brought together: what people were told is never forgotten."""

from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from frostalert.model.assessment import Tier
from frostalert.model.job_sheet import Tick
from frostalert.model.learned import NowcastPair
from frostalert.model.notice import (
    Decision,
    NightDecision,
    NightHistory,
    Reason,
    Receipt,
)
from frostalert.model.ticket import Ticket
from frostalert.model.warmth import DayAir, PhoneLook, Sighting
from frostalert.store.merge import merge
from frostalert.store.open import open_store
from frostalert.store.state import StateStore
from tests.store.test_store import message

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
NIGHT = date(2026, 4, 12)


@pytest.fixture
def pair(tmp_path: Path) -> Iterator[tuple[StateStore, StateStore]]:
    """What memory held while the disk was full, and the file."""
    folders = [tmp_path / "memory", tmp_path / "file"]
    for folder in folders:
        folder.mkdir()
    memory, file = (open_store(folder) for folder in folders)
    yield memory, file
    memory.database.close()
    file.database.close()


def test_a_measured_day_is_not_replaced_by_a_forecast_one(
    pair: tuple[StateStore, StateStore],
) -> None:
    memory, file = pair
    measured = DayAir(day=NIGHT, low_c=-2.0, high_c=21.0, is_measured=True)
    file.save_day_air([measured])
    memory.save_day_air([DayAir(day=NIGHT, low_c=1.0, high_c=9.0, is_measured=False)])
    merge(memory.database, file.database)
    assert file.days_air() == (measured,)


def test_what_came_by_phone_stays_and_links_made_meanwhile_open(
    pair: tuple[StateStore, StateStore],
) -> None:
    memory, file = pair
    look, stale = (
        PhoneLook(
            sighting=Sighting(block="A", crop="apricot", stage=stage, seen=NIGHT),
            person="Ines",
            file_stage="first white",
            file_seen=date(2026, 4, 6),
        )
        for stage in ("full bloom", "first bloom")
    )
    tick = Tick(night=NIGHT, job="Water", person="Ines", done_utc=NOW)
    file.note_phone_look(look)
    file.tick(tick)
    memory.note_phone_look(stale)
    ticket = Ticket(person="Ines", said=(), expires_utc=NOW)
    memory.keep_ticket("token", ticket)
    merge(memory.database, file.database)
    assert file.phone_looks() == (look,)
    assert file.ticks(NIGHT) == (tick,)
    assert file.ticket("token") == ticket


def test_what_the_nowcast_missed_meanwhile_is_brought_to_the_file(
    pair: tuple[StateStore, StateStore],
) -> None:
    memory, file = pair
    earlier, meanwhile = (
        NowcastPair(night=night, guess_c=1.0, low_c=0.0, version=1)
        for night in (date(2026, 4, 10), NIGHT)
    )
    file.save_nowcasts([earlier])
    memory.save_nowcasts([meanwhile])
    merge(memory.database, file.database)
    assert file.nowcasts() == (earlier, meanwhile)


def told(store: StateStore, tier: Tier, **changes: object) -> None:
    history = NightHistory(night=NIGHT, told=tier, said=tier, **changes)  # type: ignore[arg-type]
    item = NightDecision(
        night=NIGHT, say=None, why=Reason.ALREADY_TOLD, detail="d", remember=history
    )
    store.record_decision(Decision(nights=(item,), next_look_utc=NOW), [], NOW)


@pytest.mark.parametrize(
    ("in_file", "in_memory", "closed", "kept"),
    [
        (Tier.ACT, Tier.OUTLOOK, False, Tier.ACT),
        (Tier.OUTLOOK, Tier.ACT, False, Tier.ACT),
        (Tier.ACT, Tier.OUTLOOK, True, Tier.OUTLOOK),
    ],
    ids=["the file's word", "memory's word", "memory closed the night"],
)
def test_the_night_keeps_the_most_that_people_were_told(
    pair: tuple[StateStore, StateStore],
    in_file: Tier,
    in_memory: Tier,
    *,
    closed: bool,
    kept: Tier,
) -> None:
    memory, file = pair
    told(file, in_file, revision=4)
    told(memory, in_memory, revision=2, is_closed=closed)
    merge(memory.database, file.database)
    history = file.night_histories(NOW)[NIGHT]
    assert history.told is kept
    # A revision that was used must not be used again: it names a message.
    assert history.revision == 4


def test_a_message_sent_from_memory_is_sent_in_the_file(
    pair: tuple[StateStore, StateStore],
) -> None:
    memory, file = pair
    for store in pair:
        store.queue([message("m")], NOW)
    [row] = memory.unsent(NOW, is_forced=True)
    memory.mark_sending(row, NOW)
    memory.mark_sent(row, Receipt(provider_id="p", is_confirmed=True), NOW)
    merge(memory.database, file.database)
    assert file.counts() == {"sent": 1}
