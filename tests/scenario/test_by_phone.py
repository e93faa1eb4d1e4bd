"""What the service keeps for the page, and what it makes of looks that are sent."""

import re
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from frostalert.app import build_parts
from frostalert.cycle.answer_links import TicketLinks
from frostalert.cycle.judging import judge_stored
from frostalert.model.assessment import StageInForce
from frostalert.model.warmth import PhoneLook, Sighting
from frostalert.service import Service
from tests.adapters.test_nws import Office
from tests.scenario.test_service import MORNING, Place
from tests.support.grids import frosty_hours
from tests.support.servers import http_server

BLOCK = "Apricots by the lane"
TODAY = date(2026, 4, 12)
MORE = """
[web]
public_url = "https://frost.example"

[[equipment]]
name = "Heaters"
method = "propane heaters"
count = 12
area = "2500 ft2"
time_each = "3 min"
heat_each = "40000 BTU/h"
burns = "0.44 gal/h"
fuel = "60 gal"

[supplies]
crew = ["Ines", "Tobias"]
"""


def _with_heaters(text: str) -> str:
    return text.replace('["micro-sprinklers"]', '["propane heaters"]') + MORE


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    office = Office()
    with http_server(office) as server:
        made = Place(tmp_path, office, server)
        made.path.write_text(_with_heaters(made.path.read_text()))
        made.config.look()
        made.service = Service(
            made.config,
            made.store,
            made.clock,
            build=build_parts,
            links=lambda _: TicketLinks(
                key=b"key", public_url="https://frost.example", book=made.store
            ),
        )
        yield made
        made.store.database.close()


def send_look(place: Place, stage: str, seen: date = TODAY) -> None:
    place.store.note_phone_look(
        PhoneLook(
            sighting=Sighting(block=BLOCK, crop="apricot", stage=stage, seen=seen),
            person="Ines",
            file_stage="full bloom",
            file_seen=date(2026, 4, 10),
        )
    )


def stage_judged(place: Place) -> StageInForce:
    farm = place.service.settings.farm
    nights = judge_stored(farm, place.store, place.clock.moment_utc)
    return nights.assessment.nights[0].blocks[0].stage


def test_the_jobs_of_a_frosty_night_are_kept_by_person(place: Place) -> None:
    place.clock.step(hours=6)
    place.forecast(air_c=frosty_hours(low_c=-4.0))
    place.service.fetch()
    sheet = place.store.job_sheet()
    assert sheet is not None
    assert sheet.night == TODAY
    assert any("Heaters" in job.words for job in sheet.jobs)
    assert {name for job in sheet.jobs for name in job.who} <= {"Ines", "Tobias"}
    assert all(re.match(r"\d{1,2}:\d\d", job.words) for job in sheet.jobs)
    assert len({(job.night, job.key) for job in sheet.jobs}) == len(sheet.jobs)
    [limit] = sheet.limits
    threshold = stage_judged(place).threshold
    assert threshold is not None
    assert limit.limit_c == threshold.alarm_c


def test_a_look_by_phone_is_decided_on_at_once_and_taken_back(place: Place) -> None:
    place.forecast(air_c=frosty_hours(low_c=-4.0))
    place.service.fetch()
    assert stage_judged(place).reason.startswith("full bloom")
    before = place.store.job_sheet()
    send_look(place, "first white")
    place.clock.step(seconds=30)
    place.service.look()
    after = place.store.job_sheet()
    assert before is not None
    assert after is not None
    assert after.limits[0].stage == "first white"
    assert stage_judged(place).reason.startswith("first white")
    place.store.drop_phone_looks((BLOCK,))
    place.clock.step(seconds=30)
    place.service.look()
    again = place.store.job_sheet()
    assert again is not None
    assert again.limits == before.limits


def test_the_newest_of_file_and_phone_counts(place: Place) -> None:
    place.forecast(air_c=frosty_hours(low_c=-4.0))
    place.service.fetch()
    send_look(place, "first white", date(2026, 4, 9))
    assert stage_judged(place).reason.startswith("full bloom")
    send_look(place, "in the shuck")
    assert stage_judged(place).reason.startswith("in the shuck")
    # Written later on the same day: the file is the newer one.
    text = place.path.read_text()
    place.path.write_text(
        text.replace("2026-04-10", "2026-04-12").replace("full bloom", "green fruit")
    )
    place.service.reload()
    assert stage_judged(place).reason.startswith("green fruit")


def test_what_was_sent_teaches_and_what_was_put_right_does_not(place: Place) -> None:
    for stage in ("in the shuck", "green fruit"):
        send_look(place, stage)
        place.service.note_warmth()
    assert [item.stage for item in place.store.sightings()] == ["green fruit"]


def test_the_weekly_mail_links_to_the_list_of_blocks_for_nine_days(
    place: Place,
) -> None:
    monday = datetime(2026, 4, 13, 14, 5, tzinfo=MORNING.tzinfo)  # 07:05 local
    place.clock.moment_utc = monday
    place.service.weekly()
    mail = next(
        row.message
        for row in place.queued()
        if row.message.subject_kind == "weekly" and row.message.channel == "email"
    )
    found = re.search(r"https://frost\.example/a/(\S+)", mail.text)
    assert found is not None
    assert "one tap where nothing has changed" in " ".join(mail.text.split())
    assert "Nothing to do" not in mail.text
    ticket = place.store.ticket(found[1])
    assert ticket is not None
    assert (ticket.person, ticket.said) == ("Ines", ())
    assert ticket.expires_utc == monday + timedelta(days=9)
