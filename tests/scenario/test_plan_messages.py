"""The plan on its way to people: from a forecast file to the mail in the queue."""

from datetime import timedelta
from pathlib import Path

import pytest
import vobject

from frostalert.cycle import planning
from frostalert.cycle.cycle import run_cycle
from frostalert.forecast.file_source import FileSource
from frostalert.forecast.nws_official import parse_alerts
from frostalert.messages.sms import TWO_SEGMENTS, gsm_length
from frostalert.model.channel import ChannelKind
from frostalert.model.equipment import Supplies
from frostalert.model.notice import Message, Subject
from frostalert.model.official import OfficialWord
from frostalert.model.site import Farm
from frostalert.store.open import open_store
from tests.adapters.test_nws_official import alert, listed
from tests.support.grids import frosty_hours, grid_text
from tests.support.mails import everything
from tests.support.plans import (
    APRICOTS,
    CALM_KMH,
    CHERRIES,
    COVERS,
    LINE,
    STRAWBERRIES,
    TWO_IN_THE_AFTERNOON,
    night_grid,
    planting,
)

TWO_HOURS = timedelta(hours=2)
AT_NIGHT = timedelta(hours=10, minutes=40)
HOLDING = planting(APRICOTS, CHERRIES, STRAWBERRIES)


def sent(
    folder: Path, grid: str, *later: timedelta, farm: Farm = HOLDING
) -> dict[ChannelKind, Message]:
    """The warnings of the last of some cycles; Ines has mail and texts.

    That no newer forecast came all day is another message.
    """
    folder.mkdir(exist_ok=True)
    (folder / "grid.json").write_text(grid)
    store = open_store(folder)
    try:
        for wait in later:
            now = TWO_IN_THE_AFTERNOON + wait
            run_cycle(farm, [FileSource(folder / "grid.json")], store, now)
        rows = store.unsent(TWO_IN_THE_AFTERNOON + later[-1], is_forced=True)
    finally:
        store.database.close()
    return {
        row.message.channel: row.message
        for row in rows
        if row.message.subject_kind is not Subject.OPERATOR
    }


def test_the_afternoon_mail_holds_the_plan_and_the_calendar(tmp_path: Path) -> None:
    messages = sent(tmp_path, night_grid(-3.0), TWO_HOURS)
    mail = messages[ChannelKind.EMAIL]
    for words in (
        "Lane line (micro-sprinklers): enough",
        "HOUR BY HOUR, AT THE LATEST",
        "Caution: Once begun it must not stop",
        "WATER AND FUEL",
    ):
        assert words in everything(mail)
    assert "Start order" not in everything(mail)
    calendar, numbers = mail.attachments
    assert numbers.name == "all-numbers.html"
    read = vobject.readOne(calendar.content.decode())
    assert any("Lane line" in event.summary.value for event in read.vevent_list)
    assert messages[ChannelKind.SMS].attachments == ()


def test_start_now_names_what_to_run_and_when(tmp_path: Path) -> None:
    # Called at four in the afternoon; at 00:40 local the water's set-up time begins.
    messages = sent(tmp_path, night_grid(-3.0), TWO_HOURS, AT_NIGHT)
    text = messages[ChannelKind.SMS].text
    assert text.startswith("START NOW")
    assert "Run Lane line Apricots by 1:40am or at 34 F" in text
    assert text.endswith("NWS 11:00am")
    assert gsm_length(text) <= 160
    mail = everything(messages[ChannelKind.EMAIL])
    assert "TAKEN AS DONE BEFORE DARK" in mail
    assert "Covers (row cover)" in mail


def test_whoever_hears_of_it_only_at_night_is_not_told_that_covers_are_on(
    tmp_path: Path,
) -> None:
    mail = everything(sent(tmp_path, night_grid(-3.0), AT_NIGHT)[ChannelKind.EMAIL])
    assert "TAKEN AS DONE" not in mail
    assert "Strawberries: covers were due before dark. Laid by lamplight" in mail
    # Water is set up late, by lamplight, and still in time for dry buds.
    assert "Lane line: set up in Apricots" in mail


@pytest.mark.parametrize(
    ("wait", "lead"),
    [(TWO_HOURS, "FROST"), (AT_NIGHT, "FROST Mon Apr 13: NOTHING HERE CAN HOLD IT")],
)
def test_where_nothing_can_hold_it_nobody_is_told_to_start(
    tmp_path: Path, wait: timedelta, lead: str
) -> None:
    pond = Supplies(hands=2, water_l=500.0, refill_l_per_h=10.0)
    farm = planting(APRICOTS, equipment=(LINE,), supplies=pond)
    messages = sent(tmp_path, night_grid(-5.0), wait, farm=farm)
    mail, text = (messages[kind] for kind in (ChannelKind.EMAIL, ChannelKind.SMS))
    assert mail.subject.startswith("Nothing here can hold it: frost t")
    assert mail.text.startswith("Nothing you have can hold the frost t")
    assert "Nobody has to get up" in mail.text
    assert "be ready to start" not in everything(mail)
    assert text.text.startswith(lead)
    assert "NOTHING HERE" in text.text
    # Source and age stand there, and no word that hurries people to what cannot help.
    assert text.text.endswith("NWS 11:00am")
    assert "Start no water that will not last" in everything(mail)
    assert "in place and tried" not in everything(mail)
    assert "be quicker" not in everything(mail)
    assert gsm_length(text.text) <= TWO_SEGMENTS


def test_covers_alone_are_due_by_sunset_and_nothing_is_to_be_started(
    tmp_path: Path,
) -> None:
    farm = planting(STRAWBERRIES, equipment=(COVERS,))
    mail = sent(tmp_path, night_grid(-3.0), TWO_HOURS, farm=farm)[ChannelKind.EMAIL]
    assert mail.subject.startswith("Get ready from 7:")
    assert "be ready to start" not in everything(mail)
    assert "Harm can begin at" in everything(mail)


def test_a_plan_that_breaks_off_silences_no_warning(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        message = "a defect in the plan"
        raise RuntimeError(message)

    monkeypatch.setattr(planning, "make_plan", broken)
    mail = sent(tmp_path, night_grid(-3.0), TWO_HOURS)[ChannelKind.EMAIL]
    assert mail.subject.startswith("Get ready now: frost")
    # The methods, their cautions and the start order stand there all the same.
    assert "Start order" in everything(mail)
    assert "- micro-sprinklers. Once begun it must not stop" in everything(mail)


def test_days_ahead_the_mail_names_what_can_still_be_done(tmp_path: Path) -> None:
    # In the morning, more than a day before the cold that the second night brings.
    air = frosty_hours(low_c=12.0, high_c=20.0)[:32] + frosty_hours(low_c=-3.0)[32:]
    grid = grid_text(air_c=air, wind_kmh=CALM_KMH)
    mail = sent(tmp_path, grid, -timedelta(hours=3))[ChannelKind.EMAIL]
    assert "DAYS AHEAD" in everything(mail)
    assert "Mow grass to under 2 in" in everything(mail)
    assert "HOUR BY HOUR" not in everything(mail)
    assert [item.name for item in mail.attachments] == ["all-numbers.html"]


def test_official_warnings_stand_beside_our_own_and_change_no_tier(
    tmp_path: Path,
) -> None:
    plain = sent(tmp_path / "plain", night_grid(-3.0), TWO_HOURS)
    folder = tmp_path / "official"
    folder.mkdir()
    store = open_store(folder)
    now = TWO_IN_THE_AFTERNOON + TWO_HOURS
    store.save_official(
        OfficialWord(asked_utc=now, alerts=parse_alerts(listed(alert()), now))
    )
    store.database.close()
    quoted = sent(folder, night_grid(-3.0), TWO_HOURS)
    for channel in ChannelKind:
        assert quoted[channel].subject == plain[channel].subject
    mail = quoted[ChannelKind.EMAIL]
    words = everything(mail)
    assert "In force: Freeze Warning by NWS Testville" in words
    assert "In force" not in everything(plain[ChannelKind.EMAIL])


def test_a_readers_own_jobs_stand_apart_from_the_others(tmp_path: Path) -> None:
    mail = sent(tmp_path, night_grid(-3.0), TWO_HOURS)[ChannelKind.EMAIL]
    _, _, rest = mail.text.partition("YOUR JOBS\n")
    *own, others = rest.partition("\n\n")[0].splitlines()
    assert others.startswith("Tobias: ")
    # What nobody is named for is everybody's; what another does is not the reader's.
    for words in ("Hang thermometers", "Start Lane line in Apricots", "Covers off"):
        assert sum(words in line for line in own) == 1, words
        assert words.lower() not in others.lower()
    for words in ("set up Lane line", "set up Heaters", "start Heaters"):
        assert words in others
        assert not any(words.lower() in line.lower() for line in own)
    hours = [line.split(" ")[0] for line in own]
    assert len(hours) == len(own) >= 6
    assert own[0].startswith("6:55 pm Set up Covers in Strawberries")
