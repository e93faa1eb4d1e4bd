"""A call to start that no longer holds is taken back before anybody follows it."""

from dataclasses import dataclass, field, replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from frostalert.agronomy.methods import METHODS
from frostalert.cycle.cycle import run_cycle
from frostalert.forecast.file_source import FileSource
from frostalert.messages.sms import TWO_SEGMENTS, gsm_length
from frostalert.model.alarm import Answer, AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.channel import ChannelKind
from frostalert.model.equipment import Equipment
from frostalert.model.notice import Message, Reason
from frostalert.model.site import Block, Farm
from frostalert.store.open import open_store
from frostalert.store.state import StateStore
from tests.support.mails import everything
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

AFTERNOON, WATER_HOUR, FIRE_HOUR = (
    timedelta(hours=2),
    timedelta(hours=10, minutes=40),
    timedelta(hours=13),
)
A_LOOK = timedelta(minutes=20)
FIRES = replace(HEATERS, name="Fires", method=METHODS["small fires"], count=40)
BY_FIRES = replace(CHERRIES, methods=(METHODS["small fires"],))
CALM_KMH, WINDY_KMH = 1.8, 18.0


@dataclass
class Night:
    """A service that looks again and again; what each look has queued."""

    farm: Farm
    folder: Path
    store: StateStore
    why: list[Reason] = field(default_factory=list)
    seen: set[str] = field(default_factory=set)

    def look(self, wait: timedelta, **forecast: Any) -> dict[ChannelKind, Message]:
        """The messages to Ines that are new at this look."""
        now = TWO_IN_THE_AFTERNOON + wait
        path = self.folder / "grid.json"
        path.write_text(night_grid(**{"updated": now - A_LOOK, **forecast}))
        result = run_cycle(self.farm, [FileSource(path)], self.store, now)
        self.why.append(result.decision.nights[0].why)
        rows = [
            row.message
            for row in self.store.unsent(now, is_forced=True)
            if row.message.key not in self.seen and row.message.person == "Ines"
        ]
        self.seen |= {message.key for message in rows}
        return {message.channel: message for message in rows}

    def answer(self, wait: timedelta) -> None:
        """Ines says that she acts on the last message."""
        now = TWO_IN_THE_AFTERNOON + wait
        histories = self.store.night_histories(now)
        history = histories[min(histories)]
        answer = Answer(
            person="Ines",
            night=history.night,
            tier=Tier.ACT,
            revision=history.revision,
            kind=AnswerKind.ACTING,
            given_utc=now,
        )
        self.store.record_answer(answer)


def called_night(
    folder: Path, hour: timedelta, *things: Block | Equipment, **forecast: Any
) -> Night:
    """A night on which Ines was called to start what is there."""
    blocks = [item for item in things if isinstance(item, Block)]
    equipment = [item for item in things if isinstance(item, Equipment)]
    farm = planting(*blocks, equipment=tuple(equipment))
    night = Night(farm=farm, folder=folder, store=open_store(folder))
    night.look(AFTERNOON, **forecast)
    called = night.look(hour, **forecast)
    assert called[ChannelKind.SMS].text.startswith("START NOW")
    return night


def whole(message: Message) -> str:
    """A mail's words without its line breaks."""
    return everything(message)


def test_fires_are_taken_back_when_the_wind_rises_after_the_call(
    tmp_path: Path,
) -> None:
    night = called_night(tmp_path, FIRE_HOUR, BY_FIRES, FIRES)
    told = night.look(FIRE_HOUR + A_LOOK, wind_kmh=WINDY_KMH)
    assert night.why[-1] is Reason.TAKEN_BACK
    text, mail = told[ChannelKind.SMS].text, told[ChannelKind.EMAIL]
    assert text.startswith(
        "DO NOT START Fires in Cherries: too windy. If fire is lit, PUT OUT. STILL "
        "FROST "
    )
    assert text.endswith("NWS 3:00am")
    assert gsm_length(text) <= TWO_SEGMENTS
    assert mail.subject.startswith("Do not start Fires in Cherries, too windy: frost")
    assert whole(mail).startswith(
        "Do NOT start Fires in Cherries: too windy for open fire, up to 11 mph as "
        "forecast while in use; the limit is 6 mph. If it is lit, put it out. "
        "You were told to start this. The forecast has changed."
    )
    assert "Still expected: frost overnight" in everything(mail)
    assert "Start now" not in everything(mail)


def test_it_is_told_once_and_asks_nobody_anew(tmp_path: Path) -> None:
    night = called_night(tmp_path, FIRE_HOUR, BY_FIRES, FIRES)
    night.answer(FIRE_HOUR)
    first = night.look(FIRE_HOUR + A_LOOK, wind_kmh=WINDY_KMH)
    assert set(first) == {ChannelKind.SMS, ChannelKind.EMAIL}
    for looks in (2, 3, 4):
        again = night.look(FIRE_HOUR + looks * A_LOOK, wind_kmh=WINDY_KMH)
        assert (again, night.why[-1]) == ({}, Reason.ALREADY_TOLD)


def test_what_was_taken_back_is_called_for_again_but_not_to_and_fro(
    tmp_path: Path,
) -> None:
    night = called_night(tmp_path, FIRE_HOUR, BY_FIRES, FIRES)
    winds = (WINDY_KMH, CALM_KMH, WINDY_KMH, CALM_KMH, WINDY_KMH)
    told = [
        night.look(FIRE_HOUR + (n + 1) * A_LOOK, wind_kmh=wind)
        for n, wind in enumerate(winds)
    ]
    assert night.why[-5:] == [
        Reason.TAKEN_BACK,
        Reason.CALLED_AGAIN,
        Reason.TAKEN_BACK,
        Reason.ALREADY_TOLD,
        Reason.ALREADY_TOLD,
    ]
    assert [bool(messages) for messages in told] == [True, True, True, False, False]
    text, mail = told[1][ChannelKind.SMS].text, told[1][ChannelKind.EMAIL]
    assert text.startswith("AFTER ALL: START NOW")
    assert "Fires x 13 in Cherries at once" in text
    assert whole(mail).startswith(
        "You can start after all: Fires in Cherries. Start now: Fires x 13 in Cherries"
    )


def test_water_that_may_run_is_not_stopped_by_being_taken_back(tmp_path: Path) -> None:
    night = called_night(tmp_path, WATER_HOUR, APRICOTS, LINE)
    told = night.look(WATER_HOUR + A_LOOK, wind_kmh=WINDY_KMH)
    text, mail = told[ChannelKind.SMS].text, told[ChannelKind.EMAIL]
    assert text.startswith("DO NOT START Lane line in Apricots: too windy.")
    assert "If water is on, KEEP ON." in text
    assert gsm_length(text) <= TWO_SEGMENTS
    assert "If it is already running, KEEP IT ON" in whole(mail)
    assert "Once water runs, KEEP IT ON" in whole(mail)


def test_several_are_named_in_the_mail_and_counted_in_the_text(tmp_path: Path) -> None:
    night = called_night(tmp_path, WATER_HOUR, BY_FIRES, APRICOTS, FIRES, LINE)
    told = night.look(WATER_HOUR + A_LOOK, wind_kmh=WINDY_KMH)
    text, mail = told[ChannelKind.SMS].text, told[ChannelKind.EMAIL]
    assert text.startswith("DO NOT START Fires in Cherries; Lane line in Apricots: too")
    assert "If fire is lit, PUT OUT. If water is on, KEEP ON." in text
    assert gsm_length(text) <= TWO_SEGMENTS
    for words in ("Do NOT start Fires in Cherries", "Do NOT start Lane line in Apri"):
        assert words in whole(mail)


def test_water_that_got_too_little_is_told_beside_what_got_worse(
    tmp_path: Path,
) -> None:
    weak = replace(LINE, flow_l_per_h=1250.0)
    night = called_night(tmp_path, WATER_HOUR, APRICOTS, weak)
    told = night.look(WATER_HOUR + A_LOOK, low_c=-8.0)
    assert night.why[-1] is Reason.GOT_WORSE
    mail = told[ChannelKind.EMAIL]
    assert whole(mail).startswith(
        "Do NOT start Lane line in Apricots: it gives less water than tonight takes."
    )
    assert told[ChannelKind.SMS].text.startswith(
        "DO NOT START Lane line in Apricots: too little water for it now. If water "
        "is on, KEEP ON. LEAVE ON WHAT IS ON, START NOTHING NEW, Mon Apr 13"
    )


@pytest.mark.parametrize(
    ("block", "item", "low_c"),
    [(STRAWBERRIES, COVERS, -3.0), (CHERRIES, HEATERS, -3.0)],
)
def test_what_stays_in_the_plan_is_not_spoken_of(
    tmp_path: Path, block: Block, item: Equipment, low_c: float
) -> None:
    farm = planting(block, equipment=(item,))
    night = Night(farm=farm, folder=tmp_path, store=open_store(tmp_path))
    for wait in (AFTERNOON, FIRE_HOUR, FIRE_HOUR + A_LOOK):
        night.look(wait, low_c=low_c)
    assert night.why[-1] is Reason.ALREADY_TOLD


def test_heat_that_burns_keeps_its_stop_when_the_plan_drops_it(tmp_path: Path) -> None:
    few = replace(HEATERS, count=2, area_m2=103.0)
    night = called_night(tmp_path, FIRE_HOUR, CHERRIES, few, low_c=-4.0, cloud_pct=50)
    night.answer(FIRE_HOUR)
    mail = night.look(FIRE_HOUR + 3 * A_LOOK, low_c=-8.0)[ChannelKind.EMAIL]
    assert mail.subject.startswith("Leave on what is on: frost overnight")
    words = whole(mail)
    assert "it saves too little of the buds to be worth its work" in words
    assert "If it is lit, it may burn on: put it out once the air among" in words
    assert (
        "If heat burns: keep heat on until the air among the buds has stayed" in words
    )
    assert "If heat burns: Heaters: look every 30 min".lower() in words.lower()


def test_wind_that_is_not_known_lights_nothing_and_puts_nothing_out(
    tmp_path: Path,
) -> None:
    night = called_night(tmp_path, FIRE_HOUR, BY_FIRES, FIRES)
    night.look(FIRE_HOUR + A_LOOK, windSpeed={"uom": "wmoUnit:km_h-1", "values": []})
    assert night.why[-1] is not Reason.TAKEN_BACK


def test_water_that_is_too_late_hurries_nobody_to_it(tmp_path: Path) -> None:
    night = called_night(tmp_path, WATER_HOUR, APRICOTS, LINE)
    told = night.look(WATER_HOUR + A_LOOK, low_c=-14.0)
    assert night.why[-1] is Reason.GOT_WORSE
    text, mail = told[ChannelKind.SMS].text, told[ChannelKind.EMAIL]
    assert "LEAVE ON WHAT IS ON, START NOTHING NEW" in text
    assert "START NOW" not in text
    assert text.startswith(
        "DO NOT START Lane line in Apricots: too late, dry buds would freeze."
    )
    assert whole(mail).startswith(
        "Do NOT start Lane line in Apricots: too late to begin, since dry buds"
    )
    assert "Nothing new to start; what is on stays on: frost" in whole(mail)
    assert "Begin nothing that the plan refuses" in whole(mail)


def test_water_kept_ready_by_day_is_called_when_the_night_turns_milder(
    tmp_path: Path,
) -> None:
    weak = replace(LINE, flow_l_per_h=1100.0)
    farm = planting(APRICOTS, equipment=(weak,))
    night = Night(farm=farm, folder=tmp_path, store=open_store(tmp_path))
    ready = night.look(AFTERNOON, low_c=-3.5)
    text, mail = ready[ChannelKind.SMS].text, everything(ready[ChannelKind.EMAIL])
    assert "GET READY from 7:15pm" in text
    assert "Set up Lane line Apricots, start only if told." in text
    assert "7:15 pm Set up Lane line in Apricots; start it only if we say so" in mail
    # As cold as it was said to be nobody is woken for what cannot be started.
    assert night.look(timedelta(hours=9), low_c=-3.5) == {}
    assert night.look(timedelta(hours=10), low_c=-2.6) == {}
    started = night.look(timedelta(hours=10, minutes=30), low_c=-2.6)
    assert night.why[-1] is Reason.START_IS_DUE
    assert "START NOW Mon Apr 13: Lane line in Apricots" in (
        started[ChannelKind.SMS].text
    )
    assert "Set up" not in everything(started[ChannelKind.EMAIL])
