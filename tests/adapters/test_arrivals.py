"""What became of a text that was taken: a real service is asked, and falls back."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from frostalert.cycle.proof import check_arrivals
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import (
    Arrival,
    ArrivalState,
    Fallback,
    MessageClass,
    Receipt,
)
from frostalert.model.settings import SmsSettings
from frostalert.notify.sms import SmsNotifier
from frostalert.store.open import open_store
from frostalert.store.state import StateStore
from frostalert.transport import HttpSession
from tests.adapters.test_notify import message
from tests.support.servers import HttpServer, Reply, free_port, http_server

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
SPARE = Fallback(
    channel=ChannelKind.EMAIL,
    address="ines@heron-bench.example",
    subject="s",
    text="t",
    html=None,
)


class At:
    """A clock that stands where it is put."""

    def __init__(self) -> None:
        self.moment_utc = NOW

    def now_utc(self) -> datetime:
        return self.moment_utc


def texts(url: str) -> SmsNotifier:
    settings = SmsSettings(
        url=f"{url}/send",
        body="form",
        fields={"to": "{phone}", "text": "{text}"},
        id_pointer="/id",
        username=None,
        password=None,
        status_url=f"{url}/sent/{{id}}",
        status_pointer="/state",
        status_delivered=("delivered",),
        status_failed=("failed", "undelivered"),
    )
    return SmsNotifier(settings, HttpSession("t", deadline_s=5.0, sleep=lambda _: None))


@contextmanager
def taken(folder: Path, **changes: object) -> Iterator[StateStore]:
    """A store with one text that a service took."""
    store = open_store(folder)
    store.queue([message(ChannelKind.SMS, **changes)], NOW)
    [row] = store.unsent(NOW, is_forced=False)
    store.mark_sending(row, NOW)
    store.mark_sent(row, Receipt(provider_id="SM/1", is_confirmed=True), NOW)
    yield store
    store.database.close()


def look(store: StateStore, server: HttpServer, after: timedelta) -> int:
    clock = At()
    clock.moment_utc += after
    return check_arrivals(store, {ChannelKind.SMS: texts(server.url)}, clock)


def waiting(store: StateStore) -> list[str]:
    return [row.message.channel.value for row in store.unsent(NOW, is_forced=True)]


@pytest.mark.parametrize(
    ("reply", "state"),
    [
        (Reply(200, '{"state": "Delivered"}'), ArrivalState.DELIVERED),
        (Reply(200, '{"state": "undelivered"}'), ArrivalState.FAILED),
        (Reply(200, '{"state": "queued"}'), ArrivalState.PENDING),
        (Reply(200, "no json"), ArrivalState.PENDING),
        (Reply(404, '{"state": "delivered"}'), ArrivalState.PENDING),
    ],
)
def test_the_service_is_understood(reply: Reply, state: ArrivalState) -> None:
    with http_server(lambda _: reply) as server:
        assert texts(server.url).arrival("SM/1").state is state
    # The id is the service's own text: it must not lead elsewhere.
    assert server.seen[0].path == "/sent/SM%2F1"


def test_a_proof_settles_it(tmp_path: Path) -> None:
    with (
        taken(tmp_path, fallback=SPARE) as store,
        http_server(lambda _: Reply(200, '{"state": "delivered"}')) as server,
    ):
        assert look(store, server, timedelta(minutes=1)) == 1
        assert look(store, server, timedelta(minutes=20)) == 0
        assert store.counts() == {"delivered": 1}
        assert len(server.seen) == 1


def test_a_failure_falls_back_at_once(tmp_path: Path) -> None:
    with (
        taken(tmp_path, fallback=SPARE) as store,
        http_server(lambda _: Reply(200, '{"state": "failed"}')) as server,
    ):
        assert look(store, server, timedelta(minutes=1)) == 1
        assert waiting(store) == ["email"]


@pytest.mark.parametrize(
    ("kind", "falls_back"),
    [(MessageClass.WAKING, True), (MessageClass.WARNING, False)],
)
def test_an_unconfirmed_waking_text_falls_back_after_ten_minutes(
    tmp_path: Path, kind: MessageClass, *, falls_back: bool
) -> None:
    with (
        taken(tmp_path, fallback=SPARE, message_class=kind) as store,
        http_server(lambda _: Reply(200, '{"state": "queued"}')) as server,
    ):
        look(store, server, timedelta(minutes=10) - timedelta(seconds=1))
        assert waiting(store) == []
        for _ in range(3):
            look(store, server, timedelta(minutes=10))
        assert waiting(store) == (["email"] if falls_back else [])


def test_a_service_that_is_away_settles_nothing(tmp_path: Path) -> None:
    with taken(tmp_path) as store:
        with http_server(lambda _: Reply(200)) as server:
            pass
        assert look(store, server, timedelta(minutes=1)) == 0
        assert store.counts() == {"sent": 1}


def test_one_question_without_an_answer_ends_the_round(tmp_path: Path) -> None:
    store = open_store(tmp_path)
    try:
        for number in range(3):
            store.queue([message(ChannelKind.SMS, key=f"k{number}")], NOW)
        for row in store.unsent(NOW, is_forced=False):
            store.mark_sending(row, NOW)
            receipt = Receipt(provider_id=row.message.key, is_confirmed=True)
            store.mark_sent(row, receipt, NOW)
        clock = At()
        reader = texts(f"http://127.0.0.1:{free_port()}")
        asked = []
        real = reader.arrival

        class Counting:
            def arrival(self, provider_id: str) -> Arrival:
                asked.append(provider_id)
                return real(provider_id)

        assert check_arrivals(store, {ChannelKind.SMS: Counting()}, clock) == 0
        assert len(asked) == 1
    finally:
        store.database.close()
