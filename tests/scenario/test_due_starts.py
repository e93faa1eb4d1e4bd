"""Each start of a night is called for at its hour, by phone too."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from frostalert.cycle.cycle import redecide
from frostalert.messages.sms import TWO_SEGMENTS, gsm_length
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Reason
from frostalert.model.progress import Progress
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.store.open import open_store
from tests.scenario.test_taken_back import (
    AFTERNOON,
    BY_FIRES,
    FIRES,
    WATER_HOUR,
    Night,
    called_night,
    whole,
)
from tests.support.holdings import make_block
from tests.support.mails import everything
from tests.support.plans import (
    APRICOTS,
    CHERRIES,
    HEATERS,
    LINE,
    TWO_IN_THE_AFTERNOON,
    night_grid,
    plan_of,
    planting,
)

STEP = timedelta(minutes=20)


def test_heaters_that_start_later_than_water_have_a_call_of_their_own(
    tmp_path: Path,
) -> None:
    night = called_night(tmp_path, WATER_HOUR, APRICOTS, CHERRIES, LINE, HEATERS)
    night.answer(WATER_HOUR)
    calls = {}
    for n in range(1, 10):
        messages = night.look(WATER_HOUR + n * STEP)
        if messages:
            calls[n * STEP] = messages
    assert night.why.count(Reason.START_IS_DUE) == 1
    [(wait, messages)] = calls.items()
    text = messages[ChannelKind.SMS].text
    # By the forecast heat must burn at 03:29; an hour before that is its start.
    assert timedelta(hours=1, minutes=20) <= wait <= timedelta(hours=2)
    assert text.startswith("START NOW Mon Apr 13: Heaters x 12 in ")
    assert "Heaters x 12 in Cherries by 3:" in text
    assert "Lane line" not in text
    assert text.endswith("PDT") or "NWS" in text
    assert gsm_length(text) <= TWO_SEGMENTS
    assert "Start now: frost" in everything(messages[ChannelKind.EMAIL])


def test_the_next_look_is_no_later_than_the_next_start(tmp_path: Path) -> None:
    night = called_night(tmp_path, WATER_HOUR, APRICOTS, CHERRIES, LINE, HEATERS)
    night.answer(WATER_HOUR)
    now = TWO_IN_THE_AFTERNOON + WATER_HOUR
    for _ in range(20):
        found = redecide(night.farm, night.store, now + timedelta(seconds=1))
        if found.decision.nights[0].why is Reason.START_IS_DUE:
            break
        assert now < found.decision.next_look_utc <= now + timedelta(hours=1, minutes=1)
        now = found.decision.next_look_utc
    else:
        raise AssertionError
    # By the clock of the plan: its start is ten minutes ahead, to the second.
    plan_start = found.decision.nights[0].due_starts
    assert plan_start == (("Heaters", "Cherries"),)
    assert now - (TWO_IN_THE_AFTERNOON + WATER_HOUR) > timedelta(hours=1)


def test_where_the_first_start_is_hours_away_nobody_is_told_to_start(
    tmp_path: Path,
) -> None:
    # Strawberries that nothing is listed for are in danger hours before the cherries.
    bare = make_block("Beds", "strawberry", "popcorn", height_m=0.15)
    farm = planting(BY_FIRES, bare, equipment=(FIRES,))
    night = Night(farm=farm, folder=tmp_path, store=open_store(tmp_path))
    night.look(AFTERNOON)
    early, started = [], []
    for n in range(36):
        messages = night.look(AFTERNOON + (n + 1) * STEP)
        text = messages[ChannelKind.SMS].text if messages else ""
        early += [messages] if text.startswith("BE READY TO START") else []
        started += [(n, messages)] if text.startswith("START NOW") else []
    assert len(early) == 1
    mail = early[0][ChannelKind.EMAIL]
    assert mail.subject.startswith("Be ready to start at 2:")
    assert "Nothing has to be started yet. We will message you again when" in whole(
        mail
    )
    assert len(started) == 1
    assert night.why.count(Reason.START_IS_DUE) == 1


def test_a_start_that_needs_long_is_called_before_the_tier_says_so(
    tmp_path: Path,
) -> None:
    slow = replace(FIRES, time_each=timedelta(minutes=30))
    farm = planting(BY_FIRES, equipment=(slow,))
    night = Night(farm=farm, folder=tmp_path, store=open_store(tmp_path))
    night.look(AFTERNOON)
    texts = []
    for n in range(36):
        messages = night.look(AFTERNOON + (n + 1) * STEP)
        texts += [m.text for kind, m in messages.items() if kind is ChannelKind.SMS]
    # Called by the plan, and not a second time when the tier follows.
    assert [text[:9] for text in texts] == ["START NOW"]
    assert Reason.START_IS_DUE in night.why
    assert Reason.TIER_ROSE not in night.why[1:]


def test_heat_is_lit_above_the_temperature_that_kills(tmp_path: Path) -> None:
    night = called_night(tmp_path, timedelta(hours=12, minutes=40), BY_FIRES, FIRES)
    words = whole(night.look(timedelta(hours=14), low_c=-5.0)[ChannelKind.EMAIL])
    assert "10 % kill at 27 F" in words
    # 1 degC above it at the bud, and what air among the buds is warmer by.
    assert "whatever the hour when the thermometer among the buds reads 3" in words


def test_a_night_that_opens_again_has_its_calls_again(tmp_path: Path) -> None:
    night = called_night(tmp_path, timedelta(hours=13), BY_FIRES, FIRES)
    night.answer(timedelta(hours=13))
    mild = {"low_c": 8.0, "high_c": 20.0}
    for n in (1, 2, 3):
        night.look(timedelta(hours=13) + n * STEP, **mild)
    assert Reason.CLEARED in night.why
    opened = night.why.copy()
    texts = []
    for n in range(4, 16):
        # Cold comes back for the end of the night: first to prepare for.
        messages = night.look(timedelta(hours=13) + n * STEP, low_c=-1.9)
        texts += [m.text for kind, m in messages.items() if kind is ChannelKind.SMS]
    assert night.why[len(opened) :].count(Reason.TIER_ROSE) >= 1
    assert any(text.startswith("START NOW") for text in texts), (night.why, texts)
    [history] = [
        h
        for h in night.store.night_histories(TWO_IN_THE_AFTERNOON).values()
        if h.starts
    ]
    [start] = history.starts
    assert start.key == (FIRES.name, BY_FIRES.name)
    assert start.called_utc is not None


@pytest.mark.parametrize(("cost", "is_called"), [(5000.0, False), (1.0, True)])
def test_hands_are_called_only_for_a_night_that_is_worth_them(
    tmp_path: Path, cost: float, *, is_called: bool
) -> None:
    block = replace(BY_FIRES, night_costs=(("small fires", cost),))
    farm = planting(block, equipment=(FIRES,))
    night = Night(farm=farm, folder=tmp_path, store=open_store(tmp_path))
    texts = []
    for n in range(42):
        messages = night.look(AFTERNOON + n * STEP, low_c=-1.5)
        texts += [m.text for kind, m in messages.items() if kind is ChannelKind.SMS]
    # Everybody gets ready all the same.
    assert texts[0].startswith("FROST Sun Apr 12")
    assert any(text.startswith("START NOW") for text in texts) == is_called


def test_what_is_set_up_in_the_dark_is_called_for_in_time_and_does_not_slide(
    tmp_path: Path,
) -> None:
    slow = replace(HEATERS, set_up=timedelta(minutes=100))
    farm = planting(CHERRIES, equipment=(slow,))
    night = Night(farm=farm, folder=tmp_path, store=open_store(tmp_path))
    night.look(AFTERNOON, low_c=4.0)
    calls: dict[timedelta, str] = {}
    for look in range(48):
        wait = timedelta(hours=8, minutes=10 * look)
        messages = night.look(wait, low_c=4.0 if wait < timedelta(hours=9) else -2.8)
        if messages:
            calls[wait] = messages[ChannelKind.SMS].text
    (_, ready), (called, start) = calls.items()
    assert "GET READY NOW. Heaters Cherries by 3:13am." in ready
    # Set up from the hour of that message on, it starts at the hour that it named.
    assert start.startswith("START NOW Mon Apr 13: Heaters x 12 in Cherries by 3:13am")
    assert called == timedelta(hours=12, minutes=10)


def test_a_start_nobody_was_told_of_begins_with_its_setting_up_in_the_dark() -> None:
    slow = replace(HEATERS, set_up=timedelta(minutes=80))
    farm = planting(CHERRIES, equipment=(slow,))
    grid = night_grid(-2.8)
    untold = Progress(is_known=True)
    plans = [
        plan_of(farm, grid, TWO_IN_THE_AFTERNOON + timedelta(hours=hours), untold)
        for hours in (8.0, 9.0, 10.0, 11.0)
    ]
    begin = [plan.begin_utc(plan.starts[0]) for plan in plans]
    set_up = timedelta(minutes=40)  # of two people
    assert begin == [plans[0].starts[0].start_utc - set_up] * len(plans)
    by_day = plan_of(farm, grid)
    assert by_day.begin_utc(by_day.starts[0]) == by_day.starts[0].start_utc


def test_a_lone_reading_that_says_harm_began_calls_the_start_at_once(
    tmp_path: Path,
) -> None:
    post = Sensor(name="Post", kind=SensorKind.REFERENCE)
    farm = planting(CHERRIES, equipment=(replace(HEATERS, count=8),))
    farm = replace(farm, sensors=(post,))
    said = {}
    for air_c in (None, -6.0):
        folder = tmp_path / str(air_c)
        folder.mkdir()
        night = Night(farm=farm, folder=folder, store=open_store(folder))
        night.look(AFTERNOON)
        eleven = timedelta(hours=9)
        at = TWO_IN_THE_AFTERNOON + eleven
        if air_c is not None:
            # Ten degrees below the forecast: nobody has borne it out.
            night.store.add_readings([Reading(sensor="Post", at_utc=at, air_c=air_c)])
        looks = [night.look(eleven + n * STEP) for n in range(16)]
        texts = [m[ChannelKind.SMS].text if m else "" for m in looks]
        said[air_c] = [n for n, text in enumerate(texts) if text.startswith("START")]
        if air_c is not None:
            assert "Heaters x 8 in Cherries at once" in texts[0]
            assert "harm 10:46pm" in texts[0]
    # By the forecast alone the start is hours away; each is called for once.
    assert said[-6.0] == [0]
    assert len(said[None]) == 1
    assert said[None][0] * STEP >= timedelta(hours=2)
