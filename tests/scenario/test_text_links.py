"""Whoever has texts alone can answer: the link stands in every text that asks."""

from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import pytest

from frostalert.cycle.answer_links import TicketLinks
from frostalert.cycle.cycle import redecide
from frostalert.cycle.fetching import fetch_sources
from frostalert.errors import StoreError
from frostalert.forecast.file_source import FileSource
from frostalert.messages.sms import ONE_SEGMENT, TWO_SEGMENTS, gsm_length
from frostalert.model.channel import ChannelKind
from frostalert.model.equipment import Equipment
from frostalert.model.notice import Subject
from frostalert.model.site import Block
from frostalert.model.ticket import Ticket
from frostalert.ports import TicketBook
from frostalert.store.open import open_store
from tests.support.plans import (
    APRICOTS,
    CHERRIES,
    COVERS,
    HEATERS,
    LINE,
    STRAWBERRIES,
    TWO_IN_THE_AFTERNOON,
    night_grid,
    planting,
)

HOST = "https://frost.example.org"
LOOKS_H = (2.0, 8.0, 10.8, 11.5, 13.5)
A_LOOK = timedelta(minutes=20)


def _same(now: datetime) -> datetime:
    """The moment that it is while one look lasts."""
    return now


def texts_of(
    folder: Path,
    blocks: tuple[Block, ...],
    equipment: tuple[Equipment, ...],
    low_c: float,
    host: str = HOST,
    book: TicketBook | None = None,
) -> list[tuple[Subject, str]]:
    """The texts of one night to Ines, each with its kind."""
    farm = planting(*blocks, equipment=equipment)
    store, path = open_store(folder), folder / "grid.json"
    links = TicketLinks(key=b"k" * 32, public_url=host, book=book or store)
    found: dict[str, tuple[Subject, str]] = {}
    for hours in LOOKS_H:
        now = TWO_IN_THE_AFTERNOON + timedelta(hours=hours)
        path.write_text(night_grid(low_c, updated=now - A_LOOK))
        fetch_sources([FileSource(path)], store, partial(_same, now))
        redecide(farm, store, now, links=links)
        for row in store.unsent(now, is_forced=True):
            message = row.message
            if message.channel is ChannelKind.SMS and message.person == "Ines":
                found[message.key] = message.subject_kind, message.text
    store.database.close()
    return list(found.values())


@pytest.mark.parametrize("low_c", [-2.0, -3.5, -5.5])
@pytest.mark.parametrize(
    ("blocks", "equipment"),
    [
        ((APRICOTS, CHERRIES, STRAWBERRIES), (LINE, HEATERS, COVERS)),
        ((APRICOTS,), (LINE,)),
        ((STRAWBERRIES,), (COVERS,)),
        ((APRICOTS, CHERRIES), ()),
    ],
    ids=["all", "water", "covers", "nothing"],
)
def test_every_text_that_asks_has_its_link(
    tmp_path: Path,
    blocks: tuple[Block, ...],
    equipment: tuple[Equipment, ...],
    low_c: float,
) -> None:
    texts = texts_of(tmp_path, blocks, equipment, low_c)
    asking = [item for item in texts if item[0] is not Subject.OUTLOOK]
    assert {kind for kind, _ in asking} == {Subject.PREPARE, Subject.ACT}
    for kind, text in asking:
        assert f"{HOST}/a/" in text
        assert text.split()[-2:][0] == "NWS"
        limit = TWO_SEGMENTS if kind is Subject.ACT else ONE_SEGMENT
        assert gsm_length(text) <= limit


def test_jobs_do_not_give_way_to_a_link_that_fills_the_text(tmp_path: Path) -> None:
    host = f"https://{'a-long-name.' * 3}example.org"
    blocks = APRICOTS, CHERRIES, STRAWBERRIES
    texts = texts_of(tmp_path, blocks, (LINE, HEATERS, COVERS), -3.5, host)
    [ready] = [text for kind, text in texts if kind is Subject.PREPARE]
    assert "Covers Strawberries" in ready
    assert "Lane line Apricots by 1:17am" in ready
    assert host not in ready


class _FullBook:
    """Keeps nothing."""

    def keep_ticket(self, token: str, ticket: Ticket) -> None:
        message = f"no room for {ticket.person}'s {token}"
        raise StoreError(message)

    def ticket(self, token: str) -> Ticket | None:
        """Nothing was kept."""
        del token
        return None


def test_a_link_that_could_not_be_kept_is_not_sent(tmp_path: Path) -> None:
    """It would open on "no such link" when it is needed; the message goes without."""
    texts = texts_of(tmp_path, (APRICOTS,), (LINE,), -3.5, book=_FullBook())
    assert {kind for kind, _ in texts} >= {Subject.PREPARE, Subject.ACT}
    assert not any("/a/" in text for _, text in texts)
