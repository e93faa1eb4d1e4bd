"""Each start from the plan of the day to the night: what people were told, and no more.

Every case stands beside its control, which differs in the one thing that is tested.
"""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.channel import ChannelKind
from frostalert.model.equipment import Equipment, Supplies
from frostalert.model.site import Block
from frostalert.model.start import StartState
from frostalert.store.open import open_store
from tests.scenario.test_taken_back import Night, whole
from tests.support.mails import everything
from tests.support.plans import (
    APRICOTS,
    CHERRIES,
    COVERS,
    HEATERS,
    LINE,
    STRAWBERRIES,
    TWO_IN_THE_AFTERNOON,
    planting,
)

MINUTES = timedelta(minutes=1)
STEP = 20 * MINUTES
DARK = timedelta(hours=6)
"""From two in the afternoon; the sun sets at twenty to eight."""


def night_of(
    folder: Path, *things: Block | Equipment, supplies: Supplies | None = None
) -> Night:
    blocks = [item for item in things if isinstance(item, Block)]
    equipment = tuple(item for item in things if isinstance(item, Equipment))
    folder.mkdir(exist_ok=True)
    farm = planting(*blocks, equipment=equipment, supplies=supplies)
    return Night(farm=farm, folder=folder, store=open_store(folder))


def answer_what_was_said(night: Night, wait: timedelta) -> None:
    """Ines says that she acts, by the tier and the revision that she was told."""
    now = TWO_IN_THE_AFTERNOON + wait
    histories = night.store.night_histories(now)
    history = histories[min(histories)]
    night.store.record_answer(
        Answer(
            person="Ines",
            night=history.night,
            tier=history.said,
            revision=history.revision,
            kind=AnswerKind.ACTING,
            given_utc=now,
        )
    )


def calls(night: Night, first: timedelta, last: timedelta) -> list[str]:
    """The texts of a night, look after look, that call to start something."""
    texts = []
    wait = first
    while wait <= last:
        told = night.look(wait)
        if ChannelKind.SMS in told:
            texts.append(told[ChannelKind.SMS].text)
        wait += STEP
    return texts


def states(night: Night) -> dict[str, StartState]:
    histories = night.store.night_histories(TWO_IN_THE_AFTERNOON)
    starts = histories[min(histories)].starts
    return {start.key[0]: start.state for start in starts}


def test_an_answer_to_prepare_starts_nothing_and_keeps_no_call_back(
    tmp_path: Path,
) -> None:
    """The only difference is that Ines answers "prepare"."""
    said = {}
    # Water is just short by the coldest night of ten, counted from dusk.
    short = Supplies(hands=2, crew=("Ines", "Tobias"), water_l=60_000.0)
    for name in ("nobody", "acting"):
        night = night_of(
            tmp_path / name, APRICOTS, CHERRIES, LINE, HEATERS, supplies=short
        )
        told = night.look(timedelta(hours=2))
        assert told[ChannelKind.SMS].text.startswith("FROST")
        assert set(states(night).values()) == {StartState.PLANNED}
        if name == "acting":
            answer_what_was_said(night, timedelta(hours=2, minutes=5))
        texts = calls(night, DARK, timedelta(hours=13, minutes=30))
        said[name] = [text for text in texts if text.startswith("START NOW")]
        mails = [
            row.message
            for row in night.store.unsent(TWO_IN_THE_AFTERNOON, is_forced=True)
            if row.message.channel is ChannelKind.EMAIL
        ]
        assert not any("Counted as running" in whole(mail) for mail in mails)
    assert said["acting"] == said["nobody"]
    assert any("Lane line" in text for text in said["acting"])
    assert any("Heaters" in text for text in said["acting"])


def test_an_answer_to_the_call_makes_just_that_start_run(tmp_path: Path) -> None:
    night = night_of(tmp_path, APRICOTS, CHERRIES, LINE, HEATERS)
    night.look(timedelta(hours=2))
    wait = DARK
    while "Lane line" not in states(night) or (
        states(night)["Lane line"] is not StartState.CALLED
    ):
        night.look(wait)
        wait += STEP
    answer_what_was_said(night, wait)
    # Water runs by the answer; the heaters' own hour is still to come.
    texts = calls(night, wait + STEP, timedelta(hours=13, minutes=30))
    assert [text for text in texts if "Heaters" in text]
    assert not [text for text in texts if "Lane line" in text]


def test_what_the_day_left_out_is_not_called_as_if_it_were_set_up(
    tmp_path: Path,
) -> None:
    """By day the water is too little; in the night less is needed, and it would do."""
    enough = {"told": 300_000.0, "left out": 13_500.0}
    seen: dict[str, list[bool]] = {}
    for name, litres in enough.items():
        supplies = Supplies(hands=2, crew=("Ines", "Tobias"), water_l=litres)
        night = night_of(tmp_path / name, APRICOTS, LINE, supplies=supplies)
        mail = night.look(timedelta(hours=2))[ChannelKind.EMAIL]
        is_left_out = "- Apricots: what you have is not enough" in everything(mail)
        assert is_left_out == (name == "left out")
        assert (states(night) == {}) == is_left_out
        for n in range(24):
            told = night.look(DARK + n * STEP)
            if ChannelKind.EMAIL not in told:
                continue
            words = whole(told[ChannelKind.EMAIL])
            done = (
                "Lane line: set up in Apricots" in words.partition("TAKEN AS DONE")[2]
            )
            seen.setdefault(name, []).append(done)
    assert any(seen["told"])
    assert not any(seen.get("left out", []))


def test_water_does_not_come_and_go_by_the_way_it_is_counted(tmp_path: Path) -> None:
    """Called or not called, the tank is as full, and the night as long."""
    farm = planting(APRICOTS, equipment=(LINE,))
    folder = tmp_path / "tight"
    folder.mkdir()
    for litres in range(12_000, 22_000, 2_000):
        supplies = Supplies(hands=2, crew=("Ines", "Tobias"), water_l=float(litres))
        place = folder / str(litres)
        place.mkdir()
        night = Night(
            farm=replace(farm, supplies=supplies),
            folder=place,
            store=open_store(place),
        )
        night.look(timedelta(hours=2))
        was_called = False
        for n in range(20):
            told = night.look(DARK + n * STEP)
            text = told[ChannelKind.SMS].text if ChannelKind.SMS in told else ""
            mail = whole(told[ChannelKind.EMAIL]) if told else ""
            was_called = was_called or "micro-sprinklers in" in text
            is_out = "- Apricots: what you have is not enough" in mail
            assert not (was_called and is_out), (litres, n)


def test_a_night_known_after_dark_names_an_hour_before_the_harm_and_covers_at_once(
    tmp_path: Path,
) -> None:
    night = night_of(tmp_path, CHERRIES, STRAWBERRIES, HEATERS, COVERS)
    night.look(timedelta(hours=2), low_c=8.0, high_c=20.0)
    told = night.look(timedelta(hours=7))
    text, mail = told[ChannelKind.SMS].text, told[ChannelKind.EMAIL]
    assert "LAY COVERS NOW, IN THE DARK" in text
    assert "covers now, in the dark" in mail.subject
    harm = text.partition("harm ")[2][:5]
    ready = text.partition("be ready by ")[2][:5]
    assert harm
    # Both are past midnight, written alike: the earlier stands first by its text.
    assert not ready or ready <= harm
    words = whole(mail)
    assert "Laid now, in the dark, they help less" in words


@pytest.mark.parametrize("is_late", [False, True], ids=["in time", "after its end"])
def test_after_a_restart_nothing_is_called_whose_end_is_past(
    tmp_path: Path, *, is_late: bool
) -> None:
    night = night_of(tmp_path, CHERRIES, HEATERS)
    wait = timedelta(hours=17) if is_late else timedelta(hours=14)
    told = night.look(wait)
    text = told[ChannelKind.SMS].text if ChannelKind.SMS in told else ""
    assert ("START NOW" in text) != is_late
    assert (states(night) == {}) == is_late


def test_start_now_is_a_call_and_is_said_once(tmp_path: Path) -> None:
    night = night_of(tmp_path, CHERRIES, HEATERS)
    wait = timedelta(hours=14)
    # It must be set up first, so that its own hour is half an hour away.
    assert night.look(wait)[ChannelKind.SMS].text.startswith("START NOW")
    assert states(night) == {"Heaters": StartState.CALLED}
    for minutes in range(5, 90, 5):
        assert night.look(wait + minutes * MINUTES) == {}


def test_a_start_that_nobody_answered_travels_with_what_is_passed_on(
    tmp_path: Path,
) -> None:
    farm = planting(APRICOTS, CHERRIES, equipment=(LINE, HEATERS))
    first = farm.people[0]
    second = replace(first, name="Tobias", turn=2, email="tobias@heron-bench.example")
    farm = replace(farm, people=(first, second))
    night = Night(farm=farm, folder=tmp_path, store=open_store(tmp_path))
    night.look(timedelta(hours=2))
    answer_what_was_said(night, timedelta(hours=2, minutes=1))
    wait = DARK
    while states(night).get("Lane line") is not StartState.CALLED:
        night.look(wait)
        wait += 5 * MINUTES
    for n in range(1, 12):
        night.look(wait + n * 5 * MINUTES)
    passed = [
        row.message
        for row in night.store.unsent(TWO_IN_THE_AFTERNOON + wait, is_forced=True)
        if row.message.person == "Tobias" and row.message.channel is ChannelKind.SMS
    ]
    assert passed
    assert "Lane line" in passed[0].text
    assert passed[0].text.startswith("START NOW")


def test_an_answer_to_a_lower_tier_answers_no_call(tmp_path: Path) -> None:
    night = night_of(tmp_path, APRICOTS, LINE)
    night.look(timedelta(hours=2))
    answer_what_was_said(night, timedelta(hours=2))
    [given] = night.store.recent_answers(TWO_IN_THE_AFTERNOON + timedelta(hours=3))
    assert given.tier is Tier.PREPARE
    assert states(night) == {"Lane line": StartState.PLANNED}
