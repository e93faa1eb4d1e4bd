"""What the service does about past springs: once, beside its work, and shown."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from frostalert.app import build_parts
from frostalert.errand import Errand
from frostalert.model.past_record import PastRecord
from frostalert.service import Service
from tests.adapters.test_nws import Office
from tests.scenario.test_service import Place
from tests.support.servers import http_server

MADE = datetime(2026, 4, 10, 12, tzinfo=UTC)
RECORD = PastRecord(
    made_utc=MADE,
    lines=("- 2025: ready on 14 afternoons, called out 6 nights, none missed.",),
    picture_words="The low of each night",
    png=b"\x89PNG picture",
)


class Noted(Errand):
    """An errand that notes when it is sent instead of running anything."""

    def __init__(self) -> None:
        super().__init__(("true",))
        self.sent: list[Path] = []
        self.ended = 0

    def go_on(self, config: Path, now_utc: datetime) -> None:
        self.sent.append(config)

    def end(self) -> None:
        self.ended += 1


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    office = Office()
    with http_server(office) as server:
        made = Place(tmp_path, office, server)
        yield made
        made.store.database.close()


def with_errand(place: Place, *, at_start: bool) -> tuple[Service, Noted]:
    text = place.path.read_text() + f"\n[past]\nat_start = {str(at_start).lower()}\n"
    place.path.write_text(text)
    errand = Noted()
    made = Service(
        place.config, place.store, place.clock, build=build_parts, errand=errand
    )
    made.reload()
    return made, errand


def test_it_is_done_once_and_never_before_the_first_decision(place: Place) -> None:
    service, errand = with_errand(place, at_start=True)
    service.look_at_past()
    assert not errand.sent
    place.forecast()
    service.fetch()
    service.look_at_past()
    assert errand.sent == [place.path]
    place.store.keep_past(RECORD)
    service.look_at_past()
    assert len(errand.sent) == 1
    service.end()
    assert errand.ended == 1


def test_it_is_not_done_unless_it_is_asked_for(place: Place) -> None:
    service, errand = with_errand(place, at_start=False)
    place.forecast()
    service.fetch()
    service.look_at_past()
    assert not errand.sent


def test_the_page_shows_past_springs_with_their_picture(
    place: Place, tmp_path: Path
) -> None:
    folder = tmp_path / "status"
    place.path.write_text(
        place.path.read_text() + f'\n[status]\ndirectory = "{folder}"\n'
    )
    place.store.keep_past(RECORD)
    place.clock.step(hours=9)
    place.service.reload()
    place.forecast()
    place.service.fetch()
    page = (folder / "index.html").read_text()
    assert "Past springs, had it run" in page
    assert "<li>2025: ready on 14 afternoons" in page
    assert 'src="past-springs.png" alt="The low of each night"' in page
    assert (folder / "past-springs.png").read_bytes() == RECORD.png


def monday_mails(place: Place) -> list[str]:
    return [
        row.message.text
        for row in place.queued()
        if row.message.subject_kind.value == "weekly" and row.message.html
    ]


def test_the_next_weekly_mail_brings_past_springs_once(place: Place) -> None:
    place.store.keep_past(RECORD)
    place.clock.moment_utc = datetime(2026, 4, 13, 15, tzinfo=UTC)
    place.service.weekly()
    [row] = [row for row in place.queued() if row.message.html]
    assert "2025: ready on 14 afternoons" in " ".join(row.message.text.split())
    [picture] = row.message.attachments
    assert (picture.cid, picture.content) == ("past", RECORD.png)
    assert 'src="cid:past" alt="The low of each night"' in (row.message.html or "")
    place.clock.step(days=7)
    place.service.weekly()
    [_, later] = monday_mails(place)
    assert "Past springs" not in later


def test_a_newer_look_is_told_again(place: Place) -> None:
    place.store.keep_past(RECORD)
    place.clock.moment_utc = datetime(2026, 4, 13, 15, tzinfo=UTC)
    place.service.weekly()
    place.store.keep_past(
        PastRecord(
            made_utc=MADE + timedelta(days=5),
            lines=RECORD.lines,
            picture_words=RECORD.picture_words,
            png=RECORD.png,
        )
    )
    place.clock.step(days=7)
    place.service.weekly()
    assert all("Past springs" in text for text in monday_mails(place))


def test_a_record_that_cannot_be_read_is_as_good_as_none(place: Place) -> None:
    for content in ("", "{}", '{"made_utc": 1}', "[]", '{"made_utc": "soon"}'):
        place.store.write_mark("past springs", content)
        assert place.store.past_record() is None
