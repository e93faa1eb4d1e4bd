"""The status page in each of its states: what it says, and in which order."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from html import unescape
from itertools import pairwise

import pytest

from frostalert.agronomy.methods import METHODS
from frostalert.cycle.health import Finding, Light
from frostalert.cycle.job_sheet import job_key
from frostalert.forecast.nws import parse_grid
from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.channel import ChannelKind
from frostalert.model.job_sheet import Tick
from frostalert.model.nights import Facts
from frostalert.model.notice import (
    Message,
    MessageClass,
    NightHistory,
    OutboxRow,
    OutboxState,
    Subject,
)
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.model.site import Farm, Units
from frostalert.report.status_page import LIGHT, PAGE, Status, render_status
from frostalert.risk.assess import assess_all
from frostalert.risk.blind import blind_nights
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import SITE, make_block, make_holding
from tests.support.judged import nights_of
from tests.support.pages import status_of
from tests.support.plans import (
    APRICOTS,
    CHERRIES,
    LINE,
    STRAWBERRIES,
    called,
    night_grid,
    planting,
)

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
NIGHT = date(2026, 4, 12)
HOLDING = planting(APRICOTS, CHERRIES, STRAWBERRIES)
POST = Sensor(name="Post", kind=SensorKind.REFERENCE)


def shown(status: Status) -> str:
    return render_status(status)[PAGE].decode()


def words(page: str) -> str:
    """What a reader sees of a page, in one line."""
    body = re.sub(r"(?s)<(script|head)[^>]*>.*?</\1>", " ", page)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", body)).split())


def rows(page: str, table: str) -> list[list[str]]:
    """The rows of a table of the page, cell by cell."""
    part = page.partition(f'id="{table}">')[2].partition("</table>")[0]
    return [
        [words(cell) for cell in re.findall(r"(?s)<t[hd][^>]*>(.*?)</t[hd]>", row)]
        for row in re.findall(r"(?s)<tr[^>]*>(.*?)</tr>", part)
    ]


def frosty(farm: Farm = HOLDING, now: datetime = NOW, low_c: float = -4.0) -> Status:
    run = parse_grid(night_grid(low_c, updated=now), now)
    return status_of(nights_of(farm, run, now), now)


def title(page: str) -> str:
    return unescape(page.partition("<title>")[2].partition("</title>")[0])


def test_the_parts_come_in_the_order_in_which_they_are_needed() -> None:
    page = shown(frosty())
    parts = [
        "<h1>",
        "Jobs by the hour",
        'id="blocks"',
        'id="nights"',
        'id="health"',
    ]
    places = [page.index(part) for part in (*parts, 'id="messages"')]
    assert all(before < after for before, after in pairwise(places))


@pytest.mark.parametrize(
    ("hour", "low_c", "sign", "heading"),
    [
        (10, 9.0, "quiet", "Nothing to do tonight, Sun Apr 12"),
        (10, -4.0, "outlook", "Frost may harm buds tonight, Sun Apr 12."),
        (17, -4.0, "get ready", "Get ready from"),
        (25, -4.0, "act", "frost overnight Sun Apr 12 to Mon Apr 13"),
    ],
)
def test_the_light_stands_in_title_icon_and_head(
    hour: int, low_c: float, sign: str, heading: str
) -> None:
    now = datetime(2026, 4, 12, 7, tzinfo=UTC) + timedelta(hours=hour)
    files = render_status(frosty(now=now, low_c=low_c))
    page = files[PAGE].decode()
    assert f" {sign}: " in title(page)
    head = page.partition("<h1>")[2].partition("</h1>")[0]
    assert heading.lower() in words(head).lower()
    link = re.search(r'<link rel="icon"[^>]* href="light\.svg\?(\w+)">', page)
    assert link is not None
    assert f'src="light.svg?{link[1]}" alt="{sign}:"' in head
    assert files[LIGHT].startswith(b"<svg ")


def test_a_mild_night_is_not_quiet_while_the_service_cannot_be_relied_on() -> None:
    run = parse_grid(night_grid(9.0), NOW)
    finding = Finding(light=Light.BAD, words="the newest forecast is 14 h old")
    page = shown(status_of(nights_of(HOLDING, run, NOW), NOW, findings=(finding,)))
    assert "quiet" not in title(page)
    assert "service needs you" in title(page)
    answer = page.partition("<h1>")[2].partition("</section>")[0]
    assert "Service: the newest forecast is 14 h old." in answer


def test_the_page_looks_for_a_newer_one_with_and_without_a_script() -> None:
    page = shown(frosty())
    assert '<noscript><meta http-equiv="refresh" content="300"></noscript>' in page
    assert "location.reload(),300000" in page


def test_without_any_forecast_the_page_says_that_nothing_can_be_judged() -> None:
    farm = make_holding()
    problem = "no forecast for this place has been received"
    nights = blind_nights(farm, Facts(runs=()), NOW, problem)
    page = shown(status_of(nights, NOW))
    assert problem in page
    assert "That is not an all-clear." in page
    assert "cannot judge: " in title(page)
    for block in farm.blocks:
        assert [
            block.name,
            "frost risk unknown: there is no forecast (full bloom)",
        ] in (rows(page, "blocks"))


def test_what_cannot_be_judged_says_so_in_its_row_and_shows_no_warm_hours() -> None:
    warm = frosty_hours(low_c=9.0, high_c=20.0)
    air: list[float | None] = [*warm[:18], *([None] * 14), *warm[32:]]
    run = parse_grid(grid_text(air_c=air), NOW)
    page = shown(status_of(nights_of(make_holding(), run, NOW), NOW))
    why = (
        "frost risk unknown: the forecast has no air temperature for 13 hours of the "
        "night"
    )
    assert ["Sun Apr 12", why] in rows(page, "nights")
    assert ["Apricots", why] in rows(page, "blocks")
    answer = words(page.partition("<h1>")[2].partition("</section>")[0])
    assert "Frost risk unknown tonight, Sun Apr 12: get ready as for a frost." in answer
    assert " F " not in answer


def test_in_wind_the_page_says_what_not_to_start_and_how_to_stop() -> None:
    farm = planting(APRICOTS, equipment=(LINE,))
    run = parse_grid(night_grid(-3.0, wind_kmh=32.0), NOW)
    starts = tuple(called((LINE.name, APRICOTS.name), at_utc=NOW).values())
    history = replace(told(Tier.ACT), starts=starts, start_since_utc=NOW)
    page = shown(status_of(nights_of(farm, run, NOW), NOW, told={NIGHT: history}))
    seen = words(page)
    assert "Not tonight Lane line: not tonight: too windy" in seen
    assert "KEEP IT ON until you measure a wet bulb" in seen
    assert "Once water runs, KEEP IT ON" in seen
    assert "Nothing you have can work tonight. In Apricots." in seen


def test_what_could_be_done_as_well_stands_there_with_its_reason() -> None:
    block = replace(
        APRICOTS,
        methods=(METHODS["micro-sprinklers"], METHODS["propane heaters"]),
        area_m2=206.0,
    )
    seen = words(shown(frosty(planting(block), low_c=-3.0)))
    assert "Also possible" in seen
    assert "not chosen: " in seen


def many_rows(count: int) -> Farm:
    """Rows of one crop, watered by a line that is too weak for any of them."""
    weak = replace(LINE, flow_l_per_h=900.0)
    blocks = [
        replace(APRICOTS, name=f"Row {n}", cold_spot_delta_c=-0.1 * (n % 9))
        for n in range(count)
    ]
    return planting(*blocks, equipment=(weak,))


def test_a_reason_that_holds_for_many_blocks_is_said_once() -> None:
    page = shown(frosty(many_rows(60)))
    assert page.count("<strong>Lane line: </strong>") == 1
    assert page.count("In 60 blocks") == 2  # what is refused, and who is left out
    assert len(rows(page, "blocks")) == 62  # a head, the stage, and each block
    assert words(page).count("harm at 27 F, seen yesterday") == 1


def told(tier: Tier, revision: int = 1) -> NightHistory:
    return NightHistory(
        night=NIGHT, told=tier, said=tier, revision=revision, said_revision=revision
    )


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        (AnswerKind.ACTING, "Ines is acting (tonight, Sun Apr 12; since 4:40 pm)."),
        (AnswerKind.NOT_NEEDED, "Ines says: not needed here (tonight, Sun Apr 12;"),
        (AnswerKind.LATER, "Nobody has answered yet for tonight, Sun Apr 12."),
        (None, "Nobody has answered yet for tonight, Sun Apr 12."),
    ],
)
def test_the_page_says_who_acts(kind: AnswerKind | None, said: str) -> None:
    evening = NOW + timedelta(hours=2)
    answers = () if kind is None else (_answer(kind, evening - timedelta(minutes=20)),)
    run = parse_grid(night_grid(-4.0, updated=evening), evening)
    nights = nights_of(HOLDING, run, evening)
    history = {NIGHT: told(Tier.PREPARE)}
    page = shown(status_of(nights, evening, told=history, answers=answers))
    assert said in words(page)


def _answer(kind: AnswerKind, given: datetime) -> Answer:
    return Answer(
        person="Ines",
        night=NIGHT,
        tier=Tier.PREPARE,
        revision=99,
        kind=kind,
        given_utc=given,
    )


def test_a_job_that_was_ticked_says_when_and_by_whom() -> None:
    status = frosty()
    assert status.plan is not None
    job = status.plan.tasks[0]
    done = Tick(night=NIGHT, job=job_key(job), person="Tobias", done_utc=NOW)
    seen = words(shown(replace(status, ticks=(done,))))
    assert seen.count("(done 3:00 pm, Tobias)") == 1
    old = replace(done, night=NIGHT - timedelta(days=1))
    assert "(done " not in words(shown(replace(status, ticks=(old,))))


@pytest.mark.parametrize(
    ("air_c", "problem", "said"),
    [
        (3.0, None, "colder than forecast"),
        (20.0, None, "warmer than forecast"),
        (-40.0, "air is never as cold", "not believed: air is never as cold"),
    ],
)
def test_readings_stand_against_the_forecast(
    air_c: float, problem: str | None, said: str
) -> None:
    farm = replace(HOLDING, sensors=(POST,))
    at = NOW - timedelta(minutes=30)
    reading = Reading(sensor="Post", at_utc=at, air_c=air_c, problem=problem)
    old = replace(reading, at_utc=NOW - timedelta(hours=7), air_c=1.0)
    earlier = replace(reading, at_utc=at - timedelta(hours=1), air_c=11.0)
    run = parse_grid(night_grid(-4.0), NOW)
    facts = Facts(runs=(run,), readings=(old, earlier, reading))
    page = shown(status_of(assess_all(farm, facts, NOW), NOW))
    answer = words(page.partition("<h1>")[2].partition("</section>")[0])
    assert answer.count("Post: ") == 1
    assert re.search(rf"Post: -?\d+ F at 2:30 pm, [^.]*{said}", answer)


def test_head_table_and_nights_name_one_worst_block() -> None:
    page = shown(frosty())
    answer = words(page.partition("<h1>")[2].partition("</section>")[0])
    named = re.search(r"(\d+ F) in the forecast, (\d+ F) in (\w+);", answer)
    assert named is not None
    first = rows(page, "blocks")[2]
    assert first[:2] == [named[3], named[2]]
    night = rows(page, "nights")[1]
    assert [night[2], night[4]] == [named[2], named[3]]


def _message(person: str, channel: ChannelKind) -> Message:
    return Message(
        key=f"{person}|{channel}",
        subject_kind=Subject.PREPARE,
        message_class=MessageClass.WARNING,
        night=NIGHT,
        person=person,
        channel=channel,
        address="ines@heron-bench.example",
        subject="private",
        text="private",
        html=None,
        message_id="<1@heron-bench.example>",
        deadline_utc=NOW,
    )


def sent(
    person: str, channel: ChannelKind, state: OutboxState, ago_h: int
) -> OutboxRow:
    made = _message(person, channel)
    tried = NOW - timedelta(hours=ago_h)
    return OutboxRow(
        row_id=1,
        message=made,
        state=state,
        attempts=1,
        unknowns=0,
        next_try_utc=tried,
        queued_utc=tried,
        last_error=None,
        provider_id=None,
        last_try_utc=tried,
    )


def test_messages_of_one_fate_share_a_row_and_failures_stand_first() -> None:
    sms, mail = ChannelKind.SMS, ChannelKind.EMAIL
    log = (
        sent("Ines", mail, OutboxState.DELIVERED, 0),
        sent("Ines", sms, OutboxState.DELIVERED, 0),
        sent("Tobias", sms, OutboxState.DEAD, 1),
        sent("Ines", mail, OutboxState.SENT, 40),
    )
    run = parse_grid(night_grid(-4.0), NOW)
    page = shown(status_of(nights_of(HOLDING, run, NOW), NOW, rows=log))
    assert rows(page, "messages")[1:] == [
        ["2:00 pm", "get ready, Sun Apr 12", "Tobias by sms: DID NOT ARRIVE"],
        ["3:00 pm", "get ready, Sun Apr 12", "Ines by email, Ines by sms: arrived"],
        [
            "Apr 10 11:00 pm",
            "get ready, Sun Apr 12",
            "Ines by email: handed over, not confirmed",
        ],
    ]


def test_a_metric_site_reads_24_hours_and_the_day_first() -> None:
    site = replace(SITE, units=Units.METRIC)
    seen = words(shown(frosty(replace(HOLDING, site=site))))
    assert "written Sun 12 Apr 15:00 PDT, valid until 17:00" in seen
    assert re.search(r"\d [ap]m\b|[a-z] Apr\b", seen) is None
    american = words(shown(frosty()))
    assert "written Sun Apr 12, 3:00 pm PDT, valid until 5:00 pm" in american
    assert re.search(r"\b(1[3-9]|2\d|0\d):\d\d|\d Apr\b", american) is None


def test_covers_that_may_still_be_laid_are_not_called_nothing() -> None:
    now = NOW + timedelta(hours=7)
    run = parse_grid(night_grid(-4.0, updated=now), now)
    page = shown(status_of(nights_of(planting(STRAWBERRIES), run, now), now))
    assert "Lay covers now, in the dark" in words(page)
    assert rows(page, "blocks")[2][3] == "covers, late"


def test_the_data_beside_the_page_keep_one_form_of_time() -> None:
    data = render_status(frosty())["status.json"].decode()
    assert '"night": "2026-04-12"' in data
    assert re.search(r"\d [ap]m\b", data) is None


def test_a_block_that_nobody_watches_says_so() -> None:
    gone = replace(make_block("Old row"), stage="harvested")
    page = shown(frosty(planting(APRICOTS, gone, equipment=(LINE,))))
    [row] = [row for row in rows(page, "blocks") if row[0] == "Old row"]
    assert row[1].startswith("not watched: ")
