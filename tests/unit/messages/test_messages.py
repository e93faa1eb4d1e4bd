"""Messages: what each says, and that texts fit whatever the names are."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frostalert.alarms.episodes import alarm_of
from frostalert.forecast.nws import parse_grid
from frostalert.messages.compose import compose_decision
from frostalert.messages.compose_service import compose_operator, compose_test
from frostalert.messages.daily_line import compose_daily_line
from frostalert.messages.repeat import marked_repeat
from frostalert.messages.sms import (
    GSM_BASIC,
    GSM_DOUBLE,
    ONE_SEGMENT,
    TWO_SEGMENTS,
    gsm_length,
)
from frostalert.model.assessment import Assessment, Tier
from frostalert.model.channel import ChannelKind
from frostalert.model.equipment import Equipment
from frostalert.model.notice import (
    Attachment,
    Fallback,
    Message,
    MessageClass,
    NightHistory,
    Subject,
)
from frostalert.model.site import DORMANT, Farm, Rules, Units
from frostalert.store.codec import fallback_text, read_fallback
from tests.support.decided import decide
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import INES, SITE, make_block, make_holding
from tests.support.judged import assess, cannot_judge_anything
from tests.support.mails import everything
from tests.support.plans import COVERS, HEATERS, LINE, called

NIGHT = date(2026, 4, 12)
MORNING = datetime(2026, 4, 12, 18, 30, tzinfo=UTC)
AFTERNOON = datetime(2026, 4, 13, 0, tzinfo=UTC)
NIGHT_HOUR = datetime(2026, 4, 13, 10, tzinfo=UTC)
NEXT_MORNING = datetime(2026, 4, 13, 18, tzinfo=UTC)
HOLDING = make_holding(
    make_block(methods=("micro-sprinklers",)),
    make_block("Cherries", "sweet-cherry", "first white"),
)
WARM = frosty_hours(low_c=9.0, high_c=20.0)


def said(
    now: datetime,
    history: NightHistory | None = None,
    farm: Farm = HOLDING,
    **changes: Any,
) -> list[Message]:
    run = parse_grid(grid_text(**changes), now)
    return composed(assess(farm, run, now), now, history, farm)


def composed(
    assessment: Assessment,
    now: datetime,
    history: NightHistory | None,
    farm: Farm = HOLDING,
) -> list[Message]:
    past = {} if history is None else {history.night: history}
    decision = decide(past, now, assessment, Rules())
    return compose_decision(decision, assessment, farm)


def by(messages: list[Message], channel: ChannelKind) -> Message:
    [message] = [message for message in messages if message.channel is channel]
    return message


def is_gsm(text: str) -> bool:
    return all(c in GSM_BASIC or c in GSM_DOUBLE for c in text)


TOLD = NightHistory(night=NIGHT, told=Tier.ACT, revision=3)


def test_outlook_goes_by_email_alone_to_who_has_it() -> None:
    messages = said(MORNING)
    assert {message.channel for message in messages} == {ChannelKind.EMAIL}
    mail = messages[0]
    assert mail.message_class is MessageClass.WARNING
    assert mail.subject.startswith("Frost possible tonight, Sun Apr 12")
    assert "Preparation must begin by 3:40 pm that day" in everything(mail)


def test_prepare_rings_and_says_when_and_what_first() -> None:
    messages = said(AFTERNOON)
    text = by(messages, ChannelKind.SMS)
    assert text.message_class is MessageClass.WAKING
    assert text.text.startswith("FROST Sun Apr 12: GET READY NOW. ")
    for words in ("27 F in Apricots", "harm ", "Give or take", "Also Apr 13"):
        assert words in text.text
    assert text.text.endswith("NWS 11:00am")
    mail = by(messages, ChannelKind.EMAIL)
    assert "Start order: " in everything(mail)
    assert "Cherries: no method is listed for it." in everything(mail)
    assert "running when the wet bulb falls to 33 F" in everything(mail)


def test_act_says_start_now() -> None:
    messages = said(NIGHT_HOUR, updated=NIGHT_HOUR - timedelta(hours=2))
    text, mail = by(messages, ChannelKind.SMS), by(messages, ChannelKind.EMAIL)
    assert text.text.startswith("START NOW Mon Apr 13: ")
    assert mail.subject.startswith(
        "Start now: frost overnight Sun Apr 12 to Mon Apr 13"
    )


def test_who_is_passed_a_call_that_nothing_asks_for_any_more_starts_nothing() -> None:
    # Called on the forecast before; of the newest a second has to say the same.
    past = replace(TOLD, said=Tier.ACT, said_revision=3, called_turn=1)
    past = replace(past, called_utc=NIGHT_HOUR - timedelta(hours=1))
    made = NIGHT_HOUR - timedelta(hours=1)
    warm = parse_grid(grid_text(air_c=WARM, updated=made), NIGHT_HOUR)
    assessment = assess(HOLDING, warm, NIGHT_HOUR)
    decision = decide({NIGHT: past}, NIGHT_HOUR, assessment, Rules(), last_turn=2)
    farm = replace(HOLDING, people=(replace(INES, turn=2),))
    messages = compose_decision(decision, assessment, farm)
    text = by(messages, ChannelKind.SMS).text
    assert text.startswith("LEAVE ON WHAT IS ON, START NOTHING NEW, Mon Apr 13:")
    mail = by(messages, ChannelKind.EMAIL)
    assert mail.subject.startswith("Leave on what is on: frost overnight")
    assert "If water still runs: stop it only with a measured wet bulb" in mail.text
    for words in (text, everything(mail)):
        assert "Start order" not in words
        assert "no method is listed for any block" not in words


def test_an_old_forecast_is_named_in_subject_first_lines_and_text() -> None:
    messages = said(AFTERNOON, updated=AFTERNOON - timedelta(hours=20))
    mail, text = by(messages, ChannelKind.EMAIL), by(messages, ChannelKind.SMS)
    assert mail.subject.startswith("Get ready now (old forecast): frost")
    assert "This rests on an old forecast" in mail.text.partition("BLOCKS")[0]
    assert text.text.endswith("OLD NWS Apr 11 9:00pm")


def test_missing_hours_are_named_beside_the_hours_of_harm() -> None:
    air: list[float | None] = list(frosty_hours())
    air[25:30] = [None] * 5
    messages = said(AFTERNOON, air_c=air)
    assert "maybe colder and longer" in by(messages, ChannelKind.SMS).text
    whole = by(messages, ChannelKind.EMAIL)
    head, _, blocks = whole.text.partition("BLOCKS")
    assert ", maybe colder; harm" in head
    assert "at least" in blocks
    assert "at least" in whole.subject or "chance" not in whole.subject
    mail = everything(whole)
    assert "Not all of this night is known" in mail
    assert "may begin earlier and last longer" in mail


def test_cannot_judge_is_no_all_clear() -> None:
    blind = cannot_judge_anything(HOLDING, AFTERNOON, "no forecast was ever received")
    messages = composed(blind, AFTERNOON, None)
    text = by(messages, ChannelKind.SMS).text
    assert text.startswith("RISK UNKNOWN tonight, Sun Apr 12 at Heron Bench.")
    assert "NOT an all-clear" in text
    assert "Why: no forecast." in text
    mail = everything(by(messages, ChannelKind.EMAIL))
    assert "There is no forecast: no forecast was ever received." in mail
    assert ".." not in mail


def test_a_night_with_gaps_shows_no_low_of_its_warm_hours() -> None:
    air: list[float | None] = [*WARM[:18], *([None] * 14), *WARM[32:]]
    messages = said(AFTERNOON, air_c=air)
    assert {message.subject_kind for message in messages} == {Subject.CANNOT_JUDGE}
    for message in messages:
        words = everything(message)
        for warm in ("49 F", "48 F", "under 1 %", "chance of harm", "What is known"):
            assert warm not in words
    mail = everything(by(messages, ChannelKind.EMAIL))
    assert "That is not an all-clear" in mail


def test_a_night_at_risk_by_the_sources_minimum_alone_is_told_without_a_chance() -> (
    None
):
    air: list[float | None] = [*WARM[:18], *([None] * 54)]
    [mail] = said(AFTERNOON, air_c=air, minimum_c=-4.0)
    assert mail.subject_kind is Subject.OUTLOOK
    assert "25 F in Apricots, chance of harm not known" in mail.subject
    words = everything(mail)
    assert "air down to 25 F" in words
    assert "under 1 %" not in words
    # Nothing reads as an hour or an error that is not there.
    assert "by - " not in words
    assert "give or take unknown" not in words
    assert "When to begin is not forecast yet" in words
    assert "own low of the night reaches the alarm temperature" in words
    assert "Air 25 F, nothing else is known." in words  # in the block's own lines too


def test_how_cold_it_has_been_is_named_beside_the_low_to_come() -> None:
    at_seven = datetime(2026, 4, 13, 14, 10, tzinfo=UTC)
    farm = make_holding(make_block(cold_spot_delta_c=-2.0))
    messages = said(at_seven, None, farm, updated=at_seven - timedelta(hours=1))
    words = everything(by(messages, ChannelKind.EMAIL))
    assert re.search(
        r"Air 2\d F, .{10,60}It was down to 23 F at 6:00 am, by the forecast", words
    )


def test_withdrawn_never_tells_anyone_to_stop_water() -> None:
    history = replace(TOLD, clear_cycles=1, told=Tier.PREPARE)
    [mail] = said(AFTERNOON, history, air_c=WARM)
    assert mail.subject_kind is Subject.WITHDRAWN
    text = everything(mail)
    assert "It is no promise" in text
    assert "If water is on, this is no reason to stop it" in text


def test_stand_down_is_conditional_on_what_is_measured() -> None:
    farm = make_holding(make_block(methods=("micro-sprinklers", "propane heaters")))
    fresh = NEXT_MORNING - timedelta(hours=1)
    text = by(said(NEXT_MORNING, TOLD, farm, updated=fresh), ChannelKind.SMS).text
    # The hour of the forecast has gone by: named, it would read as if all had come.
    assert text.startswith(
        "Mon Apr 13: KEEP WATER ON until you MEASURE wet bulb over 32 F AND ice melts."
    )
    # Nobody was called to start anything by name: heat may burn as well.
    assert "Heat off once air stays over 32 F" in text
    assert text.endswith("NWS 10:00am")
    assert gsm_length(text) <= 160


@pytest.mark.parametrize(
    ("equipment", "has_water", "has_heat"),
    [(LINE, True, False), (HEATERS, False, True), (COVERS, False, False)],
)
def test_stand_down_speaks_of_what_was_called_for_alone(
    equipment: Equipment, *, has_water: bool, has_heat: bool
) -> None:
    farm = replace(HOLDING, equipment=(equipment,))
    told = replace(TOLD, starts=tuple(called((equipment.name, "Apricots")).values()))
    messages = said(NEXT_MORNING, told, farm, updated=NEXT_MORNING - timedelta(hours=1))
    for kind in (ChannelKind.SMS, ChannelKind.EMAIL):
        message = next(
            item
            for item in messages
            if (item.channel, item.subject_kind) == (kind, Subject.STAND_DOWN)
        )
        text = everything(message).lower()
        assert ("measure" in text) is has_water
        assert ("heat off" in text or "Heat off" in text) is has_heat
        assert "covers off" in text or has_water or has_heat


@pytest.mark.parametrize(
    ("height_m", "method", "equipment", "said_of", "cloth"),
    [
        (0.15, "", (), (False, False), "Sheets off"),
        (3.0, "", (), (False, False), ""),
        (0.15, "row cover", (COVERS,), (False, False), "Covers off"),
        (3.0, "micro-sprinklers", (LINE,), (True, False), ""),
        (0.15, "row cover", (HEATERS, COVERS), (False, True), "Covers off"),
        (0.15, "", (HEATERS,), (False, True), "Sheets off"),
    ],
    ids=["low", "trees", "covers", "water", "heat and covers", "heat and sheets"],
)
def test_stand_down_after_nothing_was_called_for_speaks_of_what_there_is_alone(
    height_m: float,
    method: str,
    equipment: tuple[Equipment, ...],
    said_of: tuple[bool, bool],
    cloth: str,
) -> None:
    methods = (method,) if method else ()
    block = make_block(height_m=height_m, methods=methods)
    farm = replace(make_holding(block), equipment=equipment)
    told = replace(TOLD, told_blocks=("Apricots",))
    messages = [
        item
        for item in said(
            NEXT_MORNING, told, farm, updated=NEXT_MORNING - timedelta(hours=1)
        )
        if item.subject_kind is Subject.STAND_DOWN
    ]
    mail, text = by(messages, ChannelKind.EMAIL), by(messages, ChannelKind.SMS).text
    for words in (mail.text, text):
        assert ("water on" in words.lower()) is said_of[0]
        assert ("Heat off" in words) is said_of[1]
        # A text names what must be stopped first.
        if not any(said_of):
            assert (" off " in words) is bool(cloth)
    assert "Drain" not in mail.text or said_of[0]
    assert "Fires out" not in mail.text or said_of[1]
    assert ("for the bees" in mail.text) is bool(cloth)
    assert cloth in mail.text
    is_stopping = mail.subject.startswith("Before you stop")
    assert is_stopping is any(said_of)


@pytest.mark.parametrize(
    ("air", "words"),
    [(WARM, "Quiet through "), (frosty_hours(), "Frost risk tonight")],
    ids=["quiet", "threatened"],
)
def test_the_daily_line_comes_either_way(air: list[float | None], words: str) -> None:
    run = parse_grid(grid_text(air_c=air), MORNING)
    [mail] = compose_daily_line(assess(HOLDING, run, MORNING), HOLDING)
    assert mail.subject.startswith(words)
    assert mail.message_class is MessageClass.ROUTINE
    assert "If it is missing, check the home server" in everything(mail)


@pytest.mark.parametrize(("days", "is_asked"), [(98, True), (101, False)])
def test_a_look_is_asked_for_once_a_week_by_block_and_command(
    days: int, *, is_asked: bool
) -> None:
    unseen = make_block("Late apricots", stage=DORMANT, seen=date(2025, 12, 1))
    run = parse_grid(grid_text(air_c=WARM), MORNING)
    assessment = assess(make_holding(unseen), run, MORNING)
    night, *others = assessment.nights
    [block] = night.blocks
    assert block.stage.unseen_since == date(2026, 1, 1)
    since = night.night - timedelta(days=days)
    asked = replace(block, stage=replace(block.stage, unseen_since=since))
    nights = (replace(night, blocks=(asked,)), *others)
    [mail] = compose_daily_line(
        replace(assessment, nights=nights), make_holding(unseen)
    )
    text = everything(mail)
    assert ("Cannot judge Late apricots by stage" in text) is is_asked
    if is_asked:
        assert 'frostalert stage "Late apricots" STAGE' in text
    assert "another forecast" not in text


def test_an_operator_message_names_fault_next_step_and_time() -> None:
    messages = compose_operator("k", "the disk is full", HOLDING, MORNING)
    assert all(message.subject_kind is Subject.OPERATOR for message in messages)
    assert "The disk is full" in messages[0].text
    assert "WHAT TO DO" in messages[0].text
    assert "Sun Apr 12, 11:30 am PDT" in " ".join(messages[0].text.split())


def test_a_test_message_begins_with_test() -> None:
    messages = compose_test(HOLDING, "ines", MORNING)
    assert len(messages) == 2
    for message in messages:
        assert message.text.startswith("TEST ")
        assert not message.subject or message.subject.startswith("TEST ")


def test_rehearsals_begin_with_test_in_every_part() -> None:
    run = parse_grid(grid_text(), AFTERNOON)
    assessment = assess(HOLDING, run, AFTERNOON)
    decision = decide({}, AFTERNOON, assessment, Rules())
    for message in compose_decision(decision, assessment, HOLDING, is_rehearsal=True):
        assert message.text.startswith("TEST ")
        if message.channel is ChannelKind.EMAIL:
            assert message.subject.startswith("TEST ")
            assert "TEST " in (message.html or "")


@pytest.mark.parametrize("is_blind", [False, True])
def test_a_rehearsal_asks_for_no_answer_that_it_cannot_take(*, is_blind: bool) -> None:
    air = frosty_hours(low_c=-3.0)[:8] if is_blind else frosty_hours(low_c=-3.0)
    run = parse_grid(grid_text(air_c=air), AFTERNOON)
    assessment = assess(HOLDING, run, AFTERNOON)
    decision = decide({}, AFTERNOON, assessment, Rules())
    for is_rehearsal in (False, True):
        messages = compose_decision(
            decision, assessment, HOLDING, is_rehearsal=is_rehearsal
        )
        words = everything(by(messages, ChannelKind.EMAIL))
        assert ("frostalert ack" in words) is not is_rehearsal
        assert ("it needs no answer" in words) is is_rehearsal


def test_metric_sites_read_celsius() -> None:
    metric = make_holding(site=replace(SITE, units=Units.METRIC))
    text = by(said(AFTERNOON, farm=metric), ChannelKind.SMS).text
    assert re.search(r"-\d\.\d C in Apricots, harm .* Give or take \d\.\d C", text)


def test_names_are_escaped_in_html_and_kept_in_plain() -> None:
    hostile = make_holding(make_block("<script>alert(1)</script> & co"))
    mail = by(said(AFTERNOON, farm=hostile), ChannelKind.EMAIL)
    assert mail.html is not None
    assert "<script>" not in mail.html
    assert "&lt;script&gt;" in mail.html
    assert "<script>alert(1)</script> & co" in everything(mail)


NAMES = st.text(
    st.characters(blacklist_categories=("Cs", "Cc", "Cf", "Zl", "Zp")),
    min_size=1,
    max_size=60,
)


@settings(max_examples=40)
@given(site=NAMES, block=NAMES, low_c=st.floats(-25.0, -3.5))
def test_every_text_is_one_segment_of_gsm_or_two_for_a_call(
    site: str, block: str, low_c: float
) -> None:
    farm = make_holding(make_block(block), site=replace(SITE, name=site))
    air = frosty_hours(low_c=round(low_c, 1))
    texts = [
        message.text
        for now in (AFTERNOON, NIGHT_HOUR)
        for message in said(now, farm=farm, air_c=air)
        if message.channel is ChannelKind.SMS
    ]
    blind = cannot_judge_anything(farm, AFTERNOON, "no forecast was ever received")
    texts.append(by(composed(blind, AFTERNOON, None, farm), ChannelKind.SMS).text)
    assert len(texts) == 3
    for text in texts:
        assert is_gsm(text)
        # Two for a call to act alone.
        most = TWO_SEGMENTS if text.startswith("START NOW") else ONE_SEGMENT
        assert gsm_length(marked_repeat(text)) <= most
        assert "NWS " in text or "no forecast" in text


def test_a_person_without_email_gets_the_outlook_as_a_text() -> None:
    texter = replace(INES, channels=(ChannelKind.SMS,), email=None)
    farm = replace(HOLDING, people=(texter,))
    [message] = said(MORNING, farm=farm)
    assert message.channel is ChannelKind.SMS
    assert message.text.startswith("FROST POSSIBLE")


MORNING_AFTER = datetime(2026, 4, 13, 14, 20, tzinfo=UTC)
STOP = datetime(2026, 4, 13, 17, 29, tzinfo=UTC)


def daily_lines(
    past: NightHistory,
    now: datetime = MORNING_AFTER,
    air: list[float | None] | None = None,
    farm: Farm = HOLDING,
) -> dict[ChannelKind, Message]:
    """Mail and text of a morning on which the forecast has nothing left to say."""
    warm = frosty_hours(low_c=9.0, high_c=20.0, hours=96)
    fresh = now - timedelta(hours=1)
    grid = grid_text(air_c=warm if air is None else air, updated=fresh)
    assessment = assess(farm, parse_grid(grid, now), now)
    texter = replace(INES, name="Ben", channels=(ChannelKind.SMS,), email=None)
    farm = replace(farm, people=(INES, texter))
    alarms = (alarm_of(past, ()),)
    lines = compose_daily_line(assessment, farm, alarms=alarms)
    return {line.channel: line for line in lines}


def running(equipment: Equipment) -> NightHistory:
    starts = tuple(called((equipment.name, "Apricots")).values())
    return replace(TOLD, said=Tier.ACT, starts=starts, stop_utc=STOP)


def test_the_daily_line_keeps_water_on_before_it_calls_anything_quiet() -> None:
    farm = replace(HOLDING, equipment=(LINE,))
    lines = daily_lines(running(LINE), farm=farm)
    mail, text = lines[ChannelKind.EMAIL], lines[ChannelKind.SMS].text
    assert mail.subject.startswith(
        "KEEP WATER ON until 10:29 am at least: the night of Sun Apr 12 is"
    )
    assert mail.text.startswith("KEEP WATER ON")
    assert "Never stop it on a forecast" in mail.text
    assert "Sun Apr 12: not over yet; " in mail.text
    assert "Then quiet through " in mail.text
    assert text.startswith(
        "KEEP WATER ON until 10:29am AND you MEASURE wet bulb over 32 F AND ice melts."
    )
    assert gsm_length(text) <= ONE_SEGMENT
    told_to_stop = replace(running(LINE), is_closed=True)
    after = daily_lines(told_to_stop, farm=farm)[ChannelKind.EMAIL]
    assert after.subject.startswith("Quiet through ")
    assert "Sun Apr 12: over; " in after.text


def test_the_daily_line_speaks_of_water_only_where_it_was_called_for() -> None:
    farm = replace(HOLDING, equipment=(LINE, HEATERS))
    mail = daily_lines(running(HEATERS), farm=farm)[ChannelKind.EMAIL]
    assert mail.subject.startswith("The night of Sun Apr 12 is not over yet")
    assert "Heat off, the coldest spot last" in mail.text
    assert "water" not in mail.text
    bare = daily_lines(replace(TOLD, said=Tier.ACT), farm=make_holding())
    assert "is not over yet" in bare[ChannelKind.EMAIL].subject
    assert "water" not in bare[ChannelKind.EMAIL].text
    unnamed = daily_lines(replace(TOLD, said=Tier.ACT), farm=farm)[ChannelKind.EMAIL]
    assert "If water runs: keep water on until full daylight" in unnamed.text
    assert "If heat burns: heat off" in unnamed.text
    ready = replace(TOLD, told=Tier.PREPARE, said=Tier.PREPARE)
    nobody = daily_lines(ready, farm=farm)[ChannelKind.EMAIL]
    assert nobody.subject.startswith("Quiet through ")


def test_water_stays_on_first_in_the_daily_line_of_a_night_still_at_risk() -> None:
    farm, air = (
        replace(HOLDING, equipment=(LINE, HEATERS)),
        frosty_hours(low_c=-6.0, hours=96),
    )
    cold = daily_lines(running(LINE), air=air, farm=farm)[ChannelKind.EMAIL]
    assert cold.subject.startswith("KEEP WATER ON until 10:29 am")
    assert "Frost risk overnight Sun Apr 12 to Mon Apr 13: " in cold.text
    heated = daily_lines(running(HEATERS), air=air, farm=farm)[ChannelKind.EMAIL]
    assert heated.subject.startswith("Frost risk overnight Sun Apr 12 to Mon Apr 13")
    assert "Heat off, the coldest spot last" in heated.text
    assert heated.text.count("Frost risk overnight") == 1
    assert "is not over yet" not in heated.text
    # The coming night at risk leads; the one before is named all the same.
    next_day = [*frosty_hours(low_c=9.0, high_c=20.0, hours=34), *[-6.0] * 62]
    coming = daily_lines(running(HEATERS), air=next_day, farm=farm)
    mail = coming[ChannelKind.EMAIL]
    assert mail.subject.startswith("Frost risk tonight, Mon Apr 13")
    assert "The night of Sun Apr 12 is not over yet." in mail.text


def test_a_daily_line_says_what_threatens_and_what_cannot_be_judged() -> None:
    assessment = assess(HOLDING, parse_grid(grid_text(), AFTERNOON), AFTERNOON)
    _, blind = cannot_judge_anything(HOLDING, AFTERNOON, "hours are missing").nights
    nights = (assessment.nights[0], blind)
    [mail] = compose_daily_line(replace(assessment, nights=nights), HOLDING)
    assert mail.subject.startswith("Frost risk tonight")
    assert "; risk unknown Mon Apr 13 (" in mail.subject
    assert "That is not an all-clear." in everything(mail)


def test_the_start_order_names_what_is_placed_before_dark_and_no_unequipped() -> None:
    covered = make_block("Beds", methods=("row cover",))
    watered = make_block("Lane", methods=("micro-sprinklers",))
    farm = make_holding(covered, watered, make_block("Bare ones"))
    mail = by(said(AFTERNOON, farm=farm), ChannelKind.EMAIL)
    lines = mail.text.splitlines()
    [line] = [line for line in lines if line.startswith("Start order")]
    assert line.startswith("Start order: before dark Beds, ")
    assert line.endswith(" Lane.")


def test_a_text_without_humidity_leaves_the_wet_bulb_out() -> None:
    text = by(said(AFTERNOON, dewpoint={"values": []}), ChannelKind.SMS).text
    assert "wet bulb" not in text
    assert " -" not in text.replace(" (+-", "")


def test_what_goes_by_mail_after_all_has_its_page_with_it() -> None:
    by_text = replace(INES, channels=(ChannelKind.SMS, ChannelKind.EMAIL))
    farm = replace(make_holding(make_block()), people=(by_text,))
    messages = said(AFTERNOON, farm=farm)
    outlook = [item for item in messages if item.fallback is not None]
    for item in outlook:
        assert item.fallback is not None
        kept = read_fallback(fallback_text(item.fallback))
        assert kept == item.fallback
        if item.fallback.html is not None:
            names = [file.name for file in item.fallback.attachments]
            assert "all-numbers.html" in names
    mail = Fallback(
        channel=ChannelKind.EMAIL,
        address="ines@heron-bench.example",
        subject="s",
        text="t",
        html="h",
        attachments=(Attachment(name="a", media_type="text/html", content=b"x"),),
    )
    assert read_fallback(fallback_text(mail)) == mail
    # What an earlier version kept had no files.
    old = (
        '{"channel": "email", "address": "a", "subject": "s", "text": "t", "html": "h"}'
    )
    plain = replace(mail, address="a", attachments=())
    assert read_fallback(old) == plain
