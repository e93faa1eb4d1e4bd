"""The plan on its way to people: from a forecast file to the mail in the queue."""

from dataclasses import replace
from datetime import time, timedelta
from pathlib import Path

import pytest
import vobject

from frostalert.agronomy.methods import METHODS
from frostalert.cycle import planning
from frostalert.cycle.cycle import run_cycle
from frostalert.forecast.file_source import FileSource
from frostalert.forecast.nws_official import parse_alerts
from frostalert.messages.sms import TWO_SEGMENTS, gsm_length
from frostalert.messages.warning_letter import rest_words
from frostalert.messages.wording import Wording
from frostalert.model.channel import ChannelKind
from frostalert.model.equipment import Fuel, Supplies
from frostalert.model.notice import Message, MessageClass, Subject
from frostalert.model.official import OfficialWord
from frostalert.model.plan import UnprotectedReason
from frostalert.model.site import Farm
from frostalert.store.open import open_store
from tests.adapters.test_nws_official import alert, listed
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import INES, make_block
from tests.support.mails import everything
from tests.support.plans import (
    APRICOTS,
    CALM_KMH,
    CHERRIES,
    COVERS,
    HEATERS,
    LINE,
    STRAWBERRIES,
    TWO_IN_THE_AFTERNOON,
    night_grid,
    plan_of,
    planting,
    words_of,
)

TWO_HOURS = timedelta(hours=2)
AT_NIGHT = timedelta(hours=10, minutes=40)
WHEN_LIT = timedelta(hours=12, minutes=10)
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


@pytest.mark.parametrize(
    ("farm", "is_left"),
    [
        (planting(STRAWBERRIES, equipment=(COVERS,)), False),
        # Water is on before the evening's reading; heat comes after it.
        (planting(APRICOTS, equipment=(LINE,)), False),
        (planting(APRICOTS, CHERRIES), True),
    ],
)
def test_whoever_reads_it_colder_starts_sooner_what_is_left_to_start(
    tmp_path: Path, farm: Farm, is_left: bool
) -> None:
    grid = night_grid(-3.0, dry_by_c=24.0)
    mail = sent(tmp_path, grid, TWO_HOURS, farm=farm)[ChannelKind.EMAIL]
    assert "9:40 pm Read air and wet bulb; forecast air " in mail.text
    assert ("if colder, start sooner" in mail.text) == is_left
    assert ("if it is colder, start sooner" in everything(mail)) == is_left


def test_the_afternoon_mail_holds_the_plan_and_the_calendar(tmp_path: Path) -> None:
    messages = sent(tmp_path, night_grid(-3.0), TWO_HOURS)
    mail = messages[ChannelKind.EMAIL]
    for words in (
        "Lane line (micro-sprinklers): enough",
        "JOBS BY THE HOUR",
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
    # Whoever has texts alone must know the last hour for dry buds as well.
    assert (
        "Lane line in Apricots by 1:40am, sooner at 34 F, NOT on dry buds after 3:00am."
    ) in text
    assert text.endswith("NWS 11:00am")
    assert gsm_length(text) <= TWO_SEGMENTS
    jobs = messages[ChannelKind.EMAIL].text
    assert "\nNow: Start Lane line in Apricots, running by 1:40 am\n" in jobs
    mail = everything(messages[ChannelKind.EMAIL])
    assert "TAKEN AS DONE BEFORE DARK" in mail
    assert "Covers (row cover)" in mail


def test_whoever_hears_of_it_only_at_night_is_not_told_that_covers_are_on(
    tmp_path: Path,
) -> None:
    mail = everything(sent(tmp_path, night_grid(-3.0), AT_NIGHT)[ChannelKind.EMAIL])
    assert "TAKEN AS DONE" not in mail
    assert "Strawberries: covers were due before dark. Laid now, in the dark" in mail
    # Water is set up late, by lamplight, and still in time for dry buds.
    assert "Lane line: set up in Apricots" in mail


@pytest.mark.parametrize(
    ("wait", "lead"),
    [(TWO_HOURS, "FROST"), (AT_NIGHT, "FROST Mon Apr 13: NOTHING HERE CAN STOP IT")],
)
def test_where_nothing_can_hold_it_nobody_is_told_to_start(
    tmp_path: Path, wait: timedelta, lead: str
) -> None:
    pond = Supplies(hands=2, water_l=500.0, refill_l_per_h=10.0)
    farm = planting(APRICOTS, equipment=(LINE,), supplies=pond)
    messages = sent(tmp_path, night_grid(-5.0), wait, farm=farm)
    mail, text = (messages[kind] for kind in (ChannelKind.EMAIL, ChannelKind.SMS))
    assert mail.subject.startswith("Nothing you have can stop it: frost ")
    assert mail.text.startswith("Nothing you have can stop the frost ")
    assert "No need to get up" in mail.text
    assert "be ready to start" not in everything(mail)
    assert text.text.startswith(lead)
    assert "NOTHING HERE" in text.text
    # Source and age stand there, and no word that hurries people to what cannot help.
    assert text.text.endswith("NWS 11:00am")
    assert "Start no water that will not last" in everything(mail)
    assert "in place and tried" not in everything(mail)
    assert "start sooner" not in everything(mail)
    assert gsm_length(text.text) <= TWO_SEGMENTS


def test_what_is_forbidden_for_one_reason_is_told_together(tmp_path: Path) -> None:
    block = make_block(
        "Cherries", "sweet-cherry", methods=("propane heaters", "small fires")
    )
    grid = night_grid(-3.0, wind_kmh=29.0)
    text = sent(
        tmp_path, grid, WHEN_LIT + TWO_HOURS, farm=planting(block, equipment=())
    )[ChannelKind.SMS].text
    assert "DO NOT USE propane heaters, small fires in Cherries: too windy." in text


def test_nobody_is_told_to_sleep_while_water_may_run() -> None:
    pond = Supplies(hands=2, water_l=500.0, refill_l_per_h=10.0)
    farm = planting(APRICOTS, equipment=(LINE,), supplies=pond)
    plan = plan_of(farm, night_grid(-5.0))
    assert rest_words(plan) == "No need to get up."
    [water] = plan_of(planting(APRICOTS, equipment=(LINE,)), night_grid(-3.0)).chosen
    unsure = (replace(water, may_run=True),)
    for may_run in (replace(plan, refused=unsure), replace(plan, begun=unsure)):
        assert rest_words(may_run) == "If water is on, KEEP IT ON."


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
    for words in ("Hang thermometers", "Start Lane line in Apricots", "covers off"):
        assert sum(words in line for line in own) == 1, words
        assert words.lower() not in others.lower()
    for words in ("set up Lane line", "set up Heaters", "start Heaters"):
        assert words in others
        assert not any(words.lower() in line.lower() for line in own)
    *night, morning = own
    assert len(night) >= 5
    assert all(line[0].isdigit() for line in night)
    assert morning.startswith("Morning, once the air stays above 32 F: ")
    assert own[0].startswith("6:55 pm Set up Covers in Strawberries")


@pytest.mark.parametrize(
    ("supplies", "jobs"),
    [
        # Nobody is named: the one who reads it does it all.
        (Supplies(), ["JOBS", "Start Lane line"]),
        (Supplies(hands=2), ["JOBS", "Set up Covers", "Set up Lane line", "Heaters"]),
        # What the second worker does is everybody's.
        (Supplies(hands=2, crew=("Ines",)), ["JOBS", "Set up Covers", "Set up Lane"]),
    ],
)
def test_a_job_without_a_known_person_is_everybodys(
    tmp_path: Path, supplies: Supplies, jobs: list[str]
) -> None:
    farm = planting(APRICOTS, CHERRIES, STRAWBERRIES, supplies=supplies)
    mail = sent(tmp_path, night_grid(-3.0), TWO_HOURS, farm=farm)[ChannelKind.EMAIL]
    listed = mail.text.split("BLOCKS")[0]
    assert [words for words in jobs if words not in listed] == []
    assert "YOUR JOBS" not in listed
    assert "person 1" not in everything(mail)
    assert "person 2" not in everything(mail)


@pytest.mark.parametrize(("blocks", "has_room"), [(3, True), (6, False)])
def test_the_readings_to_start_at_stand_on_the_page_and_where_there_is_room(
    tmp_path: Path, blocks: int, has_room: bool
) -> None:
    some = [replace(APRICOTS, name=f"Apricots {n}") for n in range(1, 1 + blocks)]
    line = replace(LINE, flow_l_per_h=blocks * 2500.0, area_m2=blocks * 206.12)
    farm = planting(*some, equipment=(line,))
    mail = sent(tmp_path, night_grid(-3.0), TWO_HOURS, farm=farm)[ChannelKind.EMAIL]
    # Wet bulb 0.5 degC, by the psychrometer equation at the site's pressure.
    table = "air (F) reads 34 at dew point 32, 36 at 28, 38 at 24"
    assert (table in mail.text) == has_room
    assert not has_room or len(mail.text.split()) <= 350
    [page] = [i for i in mail.attachments if i.name == "all-numbers.html"]
    assert table in page.content.decode()


def test_plan_and_mail_say_when_water_stops_in_the_same_words(tmp_path: Path) -> None:
    mail = sent(tmp_path, night_grid(-3.0), TWO_HOURS)[ChannelKind.EMAIL]
    words = words_of(plan_of(HOLDING, night_grid(-3.0)), HOLDING)
    [rule] = [line for line in mail.text.splitlines() if "KEEP IT ON" in line]
    assert rule.strip() in " ".join(words.split())
    dry = planting(CHERRIES)
    assert "KEEP IT ON" not in words_of(plan_of(dry, night_grid(-3.0)), dry)
    assert "Start water by" not in words_of(plan_of(dry, night_grid(-3.0)), dry)


POND = Supplies(hands=2, water_l=500.0, refill_l_per_h=10.0)
HOPELESS = planting(APRICOTS, equipment=(LINE,), supplies=POND)


def calls_of(
    folder: Path, farm: Farm, *waits: timedelta, lows_c: tuple[float, ...] = (-5.0,)
) -> list[Message]:
    """The calls to act of some looks in one night, held or not; the last low stays."""
    folder.mkdir()
    store = open_store(folder)
    for place, wait in enumerate(waits):
        low_c = lows_c[min(place, len(lows_c) - 1)]
        now = TWO_IN_THE_AFTERNOON + wait
        updated = now - timedelta(hours=1)
        (folder / "grid.json").write_text(night_grid(low_c, updated=updated))
        run_cycle(farm, [FileSource(folder / "grid.json")], store, now)
    rows = store.unsent(TWO_IN_THE_AFTERNOON + timedelta(hours=24), is_forced=True)
    store.database.close()
    return [r.message for r in rows if r.message.subject_kind is Subject.ACT]


def test_who_was_told_to_get_ready_is_not_woken_to_hear_that_nothing_can_be_started(
    tmp_path: Path,
) -> None:
    sleeper = replace(INES, quiet_from=time(22), quiet_to=time(6))
    farm = replace(HOPELESS, people=(sleeper,))
    waits = [TWO_HOURS, *(AT_NIGHT + timedelta(minutes=20 * n) for n in range(4))]
    calls = calls_of(tmp_path / "told", farm, *waits)
    six = TWO_IN_THE_AFTERNOON + timedelta(hours=16)
    # By mail alone: nobody was told to start anything, so nobody is freed by a text.
    # Held to the end of the quiet hours, still of use then.
    assert [m.channel for m in calls] == [ChannelKind.EMAIL]
    assert {m.message_class for m in calls} == {MessageClass.WARNING}
    assert {m.held_until_utc for m in calls} == {six}
    assert all(m.deadline_utc > six for m in calls)
    # Awake, they hear it at the hour at which they always did.
    awake = calls_of(tmp_path / "awake", HOPELESS, *waits)
    assert {m.message_class for m in awake} == {MessageClass.WARNING}
    assert {m.held_until_utc for m in awake} == {None}


def test_water_that_may_not_hold_is_told_with_its_chance_and_not_as_hopeless(
    tmp_path: Path,
) -> None:
    weak = replace(LINE, flow_l_per_h=1100.0)
    farm = planting(APRICOTS, equipment=(weak,))
    messages = sent(tmp_path, night_grid(-3.5), AT_NIGHT, farm=farm)
    mail, text = (messages[kind] for kind in (ChannelKind.EMAIL, ChannelKind.SMS))
    assert mail.subject.startswith("Nothing you have is sure to hold: frost ")
    assert mail.text.startswith("Nothing you have is sure to hold in the frost ")
    assert (
        "too little water if the night gets colder (three in four that it holds)"
    ) in everything(mail)
    assert "NOTHING HERE IS SURE TO HOLD." in text.text
    for words in (everything(mail), text.text):
        assert "No need to get up" not in words
        assert "can stop" not in words


def test_who_was_never_told_to_get_ready_hears_at_once_that_nothing_can_be_started(
    tmp_path: Path,
) -> None:
    sleeper = replace(INES, quiet_from=time(22), quiet_to=time(6))
    calls = calls_of(tmp_path / "new", replace(HOPELESS, people=(sleeper,)), AT_NIGHT)
    assert {m.message_class for m in calls} == {MessageClass.WAKING}
    assert {m.held_until_utc for m in calls} == {None}
    # What can be started breaks the quiet hours, whoever was told.
    able = replace(planting(APRICOTS, equipment=(LINE,)), people=(sleeper,))
    called = calls_of(tmp_path / "able", able, TWO_HOURS, AT_NIGHT)
    assert {m.held_until_utc for m in called} == {None}


def test_who_was_told_to_start_what_would_now_do_harm_hears_it_at_once(
    tmp_path: Path,
) -> None:
    sleeper = replace(INES, quiet_from=time(22), quiet_to=time(6))
    able = replace(planting(APRICOTS, equipment=(LINE,)), people=(sleeper,))
    waits = (TWO_HOURS, AT_NIGHT)
    calls = calls_of(tmp_path / "colder", able, *waits, lows_c=(-3.0, -9.0))
    assert calls
    assert {m.held_until_utc for m in calls} == {None}
    assert any("NOTHING HERE IS SURE TO HOLD" in m.text for m in calls)
    assert any("Lane line in Apricots" in m.text for m in calls)


def test_a_pair_stands_in_the_mail_with_the_words_and_cautions_of_both(
    tmp_path: Path,
) -> None:
    bed = replace(LINE, name="Bed line", flow_l_per_h=800.0, area_m2=90.0)
    block = replace(
        STRAWBERRIES, methods=(METHODS["row cover"], METHODS["micro-sprinklers"])
    )
    farm = planting(block, equipment=(COVERS, bed))
    mail = sent(tmp_path, night_grid(-3.0), TWO_HOURS, farm=farm)[ChannelKind.EMAIL]
    assert "Covers with Bed line: should hold." in mail.text
    assert "Bed line with Covers: should hold, running by" in mail.text
    assert "set up Covers" in mail.text
    for caution in ("KEEP IT ON", "edges held down", "Ice weighs on the cloth"):
        assert mail.text.count(caution) == 1
    assert len(mail.text.split()) <= 350


def test_the_mail_says_which_night_gets_a_tank_that_two_ask_for(tmp_path: Path) -> None:
    supplies = Supplies(hands=2, water_l=40_000.0)
    farm = planting(APRICOTS, equipment=(LINE,), supplies=supplies)
    mail = sent(tmp_path, night_grid(-3.0), TWO_HOURS, farm=farm)[ChannelKind.EMAIL]
    assert "left for tomorrow night, Mon Apr 13, which needs" in mail.text
    assert "it does not last for both, and this night gets it" in mail.text


def test_a_supply_that_falls_short_says_by_how_much_in_the_row_of_its_block(
    tmp_path: Path,
) -> None:
    [left] = plan_of(HOPELESS, night_grid(-3.0)).left_out
    [budget] = left.budgets
    by = Wording(HOPELESS.site, TWO_IN_THE_AFTERNOON).amount(budget.short, "L")
    mail = sent(tmp_path, night_grid(-3.0), TWO_HOURS, farm=HOPELESS)
    text = mail[ChannelKind.EMAIL].text
    assert f"Unprotected: short by {by} of water." in text
    assert budget.short > 500.0
    assert UnprotectedReason.NOT_ENOUGH.value not in text


def test_fuel_for_even_the_fewest_heaters_says_what_those_lack(tmp_path: Path) -> None:
    scant = replace(HEATERS, fuel=Fuel(burned_per_h=1.7, stock=10.0, unit="L"))
    farm = planting(CHERRIES, equipment=(scant,))
    plan = plan_of(farm, night_grid(-3.0))
    [left], [passed] = plan.left_out, plan.passed_over
    [budget] = left.budgets
    # Two heaters would save a tenth; nobody has to find fuel for all twelve.
    assert budget.needed < 3.0 * 1.7 * 14.0
    assert left.short == passed.short == ("fuel",)
    mail = sent(tmp_path, night_grid(-3.0), TWO_HOURS, farm=farm)
    by = Wording(farm.site, TWO_IN_THE_AFTERNOON).amount(budget.short, "L")
    text = mail[ChannelKind.EMAIL].text
    assert f"Unprotected: short by {by} of fuel for Heaters." in text


def test_how_many_heaters_the_fuel_is_counted_for_is_said_wherever_they_are_lit(
    tmp_path: Path,
) -> None:
    # Who lights all twelve runs out of it in the middle of the night.
    scant = replace(HEATERS, fuel=Fuel(burned_per_h=1.7, stock=70.0, unit="L"))
    farm = planting(CHERRIES, equipment=(scant,))
    [option] = plan_of(farm, night_grid(-3.0)).chosen
    assert 0 < option.units < 12
    named = f"Heaters x {option.units} in Cherries"
    ready = sent(tmp_path, night_grid(-3.0), TWO_HOURS, farm=farm)
    assert f"set up Heaters x {option.units}" in ready[ChannelKind.EMAIL].text
    assert f"Start {named}" in ready[ChannelKind.EMAIL].text
    called = sent(tmp_path, night_grid(-3.0), TWO_HOURS, WHEN_LIT, farm=farm)
    mail, text = (called[kind] for kind in (ChannelKind.EMAIL, ChannelKind.SMS))
    assert text.text.startswith("START NOW")
    assert named in text.text
    assert named in mail.text.splitlines()[0]
    assert named in mail.subject


def test_loose_covers_that_wind_would_lift_are_left_off_with_the_reason(
    tmp_path: Path,
) -> None:
    farm = planting(STRAWBERRIES, equipment=(COVERS,))
    grid = night_grid(-3.0, wind_kmh=29.0)
    messages = sent(tmp_path, grid, TWO_HOURS, farm=farm)
    mail, text = (messages[kind].text for kind in (ChannelKind.EMAIL, ChannelKind.SMS))
    assert (
        "Covers: too windy; leave them off, or weigh down the edges all around." in mail
    )
    assert "Leave Covers off: too windy." in text
    late = sent(tmp_path / "late", grid, AT_NIGHT, farm=farm)
    # Whoever laid them all the same is not told to leave them off.
    assert "if laid, weigh down the edges" in late[ChannelKind.EMAIL].text
    assert "Leave Covers off" not in late[ChannelKind.SMS].text
