"""A person's own page behind the real server: jobs, a reading, a look at the blocks."""

import re
from collections.abc import Iterator
from datetime import date, timedelta
from html import unescape
from pathlib import Path

import pytest
import requests

from frostalert.model.job_sheet import BlockLimit, Job, JobSheet
from frostalert.model.reading import ExpectedAir
from frostalert.model.ticket import Ticket
from tests.adapters.test_web import NIGHT, NOW, Page

BLOCK = "Apricots by the lane"
TODAY = date(2026, 4, 12)


def job(key: str, *who: str, night: date = NIGHT) -> Job:
    return Job(night=night, key=key, who=who, words=f"21:00 {key}: <look> & listen")


SHEET = JobSheet(
    night=NIGHT,
    made_utc=NOW - timedelta(minutes=3),
    jobs=(job("Water", "Ines"), job("Heaters", "Tobias"), job("Thermometers")),
    limits=(BlockLimit(block=BLOCK, stage="green fruit", limit_c=0.0),),
)


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Page]:
    made = Page(tmp_path)
    made.store.save_job_sheet(SHEET)
    yield made
    made.close()
    made.store.database.close()


def weekly(page: Page) -> str:
    ticket = Ticket(person="Ines", said=(), expires_utc=NOW + timedelta(days=9))
    token = ticket.token(page.key)
    page.store.keep_ticket(token, ticket)
    return token


def sent(page: Page, path: str, **form: str) -> requests.Response:
    origin = form.pop("origin", page.origin)
    form.setdefault("ticket", page.ticket())
    return requests.request(
        "POST",
        page.origin + path,
        data=form,
        headers={"Origin": origin} if origin else {},
        timeout=5,
    )


def words(answer: requests.Response) -> str:
    """What a person reads on a page."""
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", answer.text)).split())


def done(page: Page, key: str, **more: str) -> requests.Response:
    return sent(page, "/done", night=NIGHT.isoformat(), job=key, **more)


def kept(page: Page) -> tuple[object, ...]:
    """All that can be left by phone."""
    store = page.store
    readings = store.readings_since(NOW - timedelta(days=1))
    return (store.ticks(NIGHT), store.phone_looks(), readings, page.answers())


NOTHING: tuple[object, ...] = ((), (), (), ())


def test_opening_changes_nothing_however_often(page: Page) -> None:
    for token in (page.ticket(), weekly(page)) * 10:
        for method in ("GET", "HEAD"):
            assert page.ask(f"/a/{token}", method).status_code == 200
    for path in ("/done", "/read", "/seen"):
        assert page.ask(path).status_code == 405
    assert kept(page) == NOTHING


@pytest.mark.parametrize(
    "forged",
    [
        {"origin": "https://elsewhere.example"},
        {"origin": "null"},
        {"origin": ""},
        {"ticket": "AAAAAAAAAAA"},
        {"ticket": ""},
    ],
    ids=lambda forged: "-".join(f"{k}={v}" for k, v in forged.items()),
)
def test_forgeries_change_nothing(page: Page, forged: dict[str, str]) -> None:
    forms: dict[str, dict[str, str]] = {
        "/done": {"night": NIGHT.isoformat(), "job": "Water"},
        "/read": {"sensor": "Post", "value": "28 F", "sure": "yes"},
        "/seen": {"block": BLOCK, "stage": "green fruit", "sure": "yes"},
        "/answer": {"choice": "acting"},
    }
    for path, form in forms.items():
        assert sent(page, path, **form, **forged).status_code == 403
    assert kept(page) == NOTHING


def test_everybody_sees_the_own_jobs_and_what_is_done_of_them(page: Page) -> None:
    shown = page.ask(f"/a/{page.ticket()}")
    assert "21:00 Water: <look> & listen" in words(shown)
    assert "Heaters" not in words(shown)
    assert "<look>" not in shown.text
    assert "Done: 21:00 Thermometers" in words(done(page, "Thermometers"))
    other = page.ask(f"/a/{page.ticket(person='Tobias')}")
    assert "Done 3:00 pm, Ines" in words(other)
    assert "Water" not in words(other)
    assert "Not done yet" in words(done(page, "Thermometers", undo="yes"))
    assert page.store.ticks(NIGHT) == ()


def test_who_did_it_first_stays_named(page: Page) -> None:
    done(page, "Thermometers")
    done(page, "Thermometers", ticket=page.ticket(person="Tobias"))
    [tick] = page.store.ticks(NIGHT)
    assert (tick.person, tick.done_utc) == ("Ines", NOW)


def test_a_job_of_somebody_else_or_of_no_plan_is_not_ticked(page: Page) -> None:
    for key in ("Heaters", "Dance"):
        assert "The plan has changed" in words(done(page, key))
    assert page.store.ticks(NIGHT) == ()


def test_an_old_list_of_jobs_is_not_shown_as_tonights(page: Page) -> None:
    long_ago = NIGHT - timedelta(days=3)
    old = JobSheet(
        night=long_ago,
        made_utc=NOW - timedelta(days=3),
        jobs=(job("Water", "Ines", night=long_ago),),
        limits=(),
    )
    page.store.save_job_sheet(old)
    shown = words(page.ask(f"/a/{page.ticket()}"))
    assert "No plan for tonight yet" in shown
    assert "Water" not in shown


def test_a_reading_is_kept_and_taken_back(page: Page) -> None:
    answer = sent(page, "/read", sensor="Post", value="28.4 F")
    assert "Post: 28.4 F at Sun Apr 12, 3:00 pm PDT. Kept." in words(answer)
    [reading] = page.store.readings_since(NOW)
    assert (reading.air_c, reading.problem) == (-2.0, None)
    back = sent(page, "/read", sensor="Post", back=NOW.isoformat())
    assert "Post: 28 F is taken back" in words(back)
    [reading] = page.store.readings_since(NOW)
    assert reading.problem == "taken back"
    again = sent(page, "/read", sensor="Post", back=NOW.isoformat())
    assert "no such reading" in words(again)


def test_a_reading_that_nobody_expects_is_asked_back_first(page: Page) -> None:
    expected = ExpectedAir(
        sensor="Post", first_utc=NOW - timedelta(hours=1), air_c=(-2.0,) * 6
    )
    page.store.save_expected_air((expected,))
    asked = sent(page, "/read", sensor="Post", value="28.4 C")
    assert "Is a minus missing?" in words(asked)
    assert "Nothing was kept yet." in words(asked)
    assert page.store.readings_since(NOW) == ()
    assert 'name="sure" value="yes"' in asked.text
    sure = sent(page, "/read", sensor="Post", value="28.4 C", sure="yes")
    assert "Kept, not confirmed." in words(sure)
    assert "A warm reading calls nobody off." in words(sure)
    assert len(page.store.readings_since(NOW)) == 1


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ({"sensor": "Post", "value": "28.4"}, "has no unit"),
        ({"sensor": "Post", "value": '"><script>'}, "Not kept"),
        ({"sensor": "Pole", "value": "28.4 F"}, "Choose a thermometer"),
        ({"sensor": "Post", "value": "200 F"}, "not believed: air is never as"),
        ({"sensor": "Post", "back": "noon"}, "no such reading"),
    ],
)
def test_what_cannot_be_taken_says_why(
    page: Page, form: dict[str, str], said: str
) -> None:
    answer = sent(page, "/read", **form)
    assert said in words(answer)
    assert "<script" not in answer.text
    problems = [item.problem for item in page.store.readings_since(NOW)]
    assert None not in problems


def see(page: Page, **form: str) -> str:
    return words(sent(page, "/seen", ticket=weekly(page), **form))


def test_a_tap_says_what_it_changes_and_is_kept_in_the_state(page: Page) -> None:
    said = see(page, block=BLOCK, stage="in the shuck")
    # The service had assumed something that bears less.
    assert "in the shuck, seen today. Tonight's limit goes from 32 F to 27 F." in said
    assert "seen today by Ines" in said
    [look] = page.store.phone_looks()
    assert (look.sighting.stage, look.sighting.seen) == ("in the shuck", TODAY)
    assert (look.person, look.file_stage) == ("Ines", "full bloom")
    # Put right at once: the service may not have looked yet.
    said = see(page, block=BLOCK, stage="green fruit")
    assert "Tonight's limit goes from 27 F to 28 F." in said
    said = see(page, block=BLOCK, stage="in the shuck")
    assert "Tonight's limit goes from 28 F to 27 F." in said
    back = see(page, block=BLOCK, back="yes")
    assert "Taken back: full bloom, seen 2 days ago, counts again." in back
    assert page.store.phone_looks() == ()


def test_one_tap_says_that_all_is_as_before(page: Page) -> None:
    said = see(page, all="yes")
    assert f"{BLOCK}: full bloom, seen today. Tonight's limit goes from 32 F" in said
    assert "Every block was seen today already" in see(page, all="yes")


def test_buds_that_go_back_are_asked_about(page: Page) -> None:
    said = see(page, block=BLOCK, stage="first white")
    assert "buds do not go back. Nothing was kept yet." in said
    assert page.store.phone_looks() == ()
    sure = see(page, block=BLOCK, stage="first white", sure="yes")
    assert "first white, seen today" in sure
    assert page.store.phone_looks()[0].sighting.stage == "first white"


def test_what_no_block_is_and_no_stage_is_refused(page: Page) -> None:
    for form in ({"block": "Moon"}, {"block": BLOCK, "stage": "ripe"}, {}):
        assert "Not kept" in see(page, **form)
    assert page.store.phone_looks() == ()


def test_harvested_is_another_stage_and_can_be_taken_back(page: Page) -> None:
    said = see(page, block=BLOCK, stage="harvested")
    assert "harvested, seen today. From now on it is not watched." in said
    assert "Take it back" in said


def test_the_weekly_link_opens_the_blocks_first_and_answers_nothing(
    page: Page,
) -> None:
    empty = JobSheet(night=NIGHT, made_utc=NOW, jobs=(), limits=())
    page.store.save_job_sheet(empty)
    shown = words(page.ask(f"/a/{weekly(page)}"))
    assert "are you acting" not in shown
    assert shown.index("What do you see") < shown.index("Your jobs tonight")
    answer = sent(page, "/answer", ticket=weekly(page), choice="acting")
    assert answer.status_code == 403
    assert "asks for no answer" in answer.text
    assert page.answers() == ()
