"""Who hears that a warning did not arrive, and that nobody watches tonight."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from frostalert.errors import Refusal
from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Message, OutboxRow, Receipt
from frostalert.ports import UNCONFIRMED
from tests.adapters.test_nws import Office
from tests.scenario.test_people_change import TOBIAS, Night
from tests.scenario.test_service import WARM, Place
from tests.support.servers import Reply, http_server

INES = "ines@heron-bench.example"
STATUS = (
    'status_url = "http://127.0.0.1:9/{id}"\nstatus_pointer = "/state"\n'
    'status_delivered = ["delivered"]\nstatus_failed = ["failed"]\n'
)


@pytest.fixture
def night(tmp_path: Path) -> Iterator[Night]:
    office = Office()
    with http_server(office) as server:
        place = Place(tmp_path, office, server)
        place.clock.step(hours=9, minutes=45)
        place.forecast()
        made = Night(place)
        made.edit("\n[forecast]\n", f"{STATUS}\n[forecast]\n")
        yield made
        place.store.database.close()


def operator_words(night: Night, address: str) -> list[str]:
    messages = [m for channel in night.channels.values() for m in channel.sent]
    return [
        " ".join(m.text.split())
        for m in messages
        if m.subject_kind.value == "operator" and m.address == address
    ]


def waking_text(night: Night) -> OutboxRow:
    rows = night.place.store.awaiting_proof(night.place.clock.now_utc())
    return next(row for row in rows if row.message.message_class.value == "waking")


def test_a_text_that_nobody_confirms_is_told_to_the_others(night: Night) -> None:
    night.pass_by(5)
    assert night.told(TOBIAS) == ["prepare"]
    night.pass_by(int(UNCONFIRMED.total_seconds() // 60) + 5)
    words = " ".join(operator_words(night, INES))
    assert "The text to Tobias about the night of Sun Apr 12 was sent but not" in words
    assert "phone " in words
    # It is about him: his phone would not bring it either.
    assert operator_words(night, TOBIAS) == []


@pytest.mark.parametrize("how", ["proof", "answer"])
def test_a_text_that_is_confirmed_or_answered_troubles_nobody(
    night: Night, how: str
) -> None:
    night.pass_by(5)
    now, row = night.place.clock.now_utc(), waking_text(night)
    if how == "proof":
        night.place.store.mark_delivered(row, now)
    else:
        [history] = [
            item
            for item in night.place.store.night_histories(now).values()
            if item.night == row.message.night
        ]
        night.place.store.record_answer(
            Answer(
                person="Tobias",
                night=history.night,
                tier=history.said,
                revision=history.revision,
                kind=AnswerKind.ACTING,
                given_utc=now,
            )
        )
    night.pass_by(30)
    assert "was sent but not" not in " ".join(operator_words(night, INES))


def test_nobody_hears_of_themselves_that_they_were_not_reached(night: Night) -> None:
    night.channels[ChannelKind.EMAIL].refusal = Refusal.TRY_AGAIN
    night.pass_by(30)
    # Ines has mail alone; word of it waits for her mail too, if it is written.
    night.channels[ChannelKind.EMAIL].refusal = None
    night.pass_by(30)
    assert "Ines did not get" in " ".join(operator_words(night, TOBIAS))
    assert "Ines did not get" not in " ".join(operator_words(night, INES))


def test_word_of_one_who_was_reached_after_all_is_not_sent(night: Night) -> None:
    channels = night.channels
    for channel in channels.values():
        channel.refusal = Refusal.TRY_AGAIN
    night.pass_by(45)
    # The line comes back: what waited goes out, and the trouble is over.
    for channel in channels.values():
        channel.refusal = None
    sent: list[Message] = []
    store, clock = night.place.store, night.place.clock
    for row in store.unsent(clock.now_utc(), is_forced=True):
        if row.message.subject_kind.value != "operator":
            store.mark_sending(row, clock.now_utc())
            receipt = Receipt(provider_id=None, is_confirmed=True)
            store.mark_sent(row, receipt, clock.now_utc())
            sent.append(row.message)
    assert sent
    night.place.service.look()
    night.pass_by(30)
    assert "did not get" not in night.said_by_the_operator()


def test_a_source_that_stopped_wakes_an_operator_in_season(night: Night) -> None:
    night.edit(
        f'email = "{INES}"',
        f'email = "{INES}"\noperator = true\n'
        "quiet_from = 21:00:00\nquiet_to = 06:00:00",
    )
    night.place.forecast(air_c=WARM)
    night.pass_by(5)
    # The service goes on giving the same forecast, into the night.
    night.pass_by(13 * 60, step=30)
    texts = operator_words(night, INES)
    assert any("no new forecast" in words.lower() for words in texts)
    local = night.place.clock.now_utc() - timedelta(hours=7)
    # Before six, when the quiet hours end.
    assert local.hour == 4


def test_a_fault_that_blinds_tonight_goes_by_text_too(night: Night) -> None:
    night.place.office.grid = Reply(404)
    night.place.office.points = Reply(404)
    night.pass_by(4 * 60, step=10)
    texts = [
        m
        for m in night.channels[ChannelKind.SMS].sent
        if m.subject_kind.value == "operator"
    ]
    assert texts
