"""What is listed and not described: named, with its hour, and never begun too late."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from frostalert.agronomy.methods import METHODS
from frostalert.messages.lead_words import ActionState, action_state
from frostalert.messages.warning import PAGE_LEADS
from frostalert.model.channel import ChannelKind
from frostalert.model.method import RefusalReason
from frostalert.model.plan import Verdict
from frostalert.store.open import open_store
from tests.scenario.test_taken_back import AFTERNOON, Night
from tests.support.mails import everything
from tests.support.plans import (
    APRICOTS,
    CHERRIES,
    TWO_IN_THE_AFTERNOON,
    night_grid,
    plan_of,
    planting,
)

BY_FIRES = replace(CHERRIES, methods=(METHODS["small fires"],))
COLD = night_grid(-4.0)


def test_listed_water_has_an_hour_a_reading_and_a_last_hour() -> None:
    farm = planting(APRICOTS, equipment=())
    [water] = plan_of(farm, COLD).listed
    assert water.start_air_c is not None
    assert water.start_utc is not None
    assert water.last_dry_start_utc is not None
    assert water.start_utc < water.last_dry_start_utc
    late = plan_of(farm, COLD, water.last_dry_start_utc + timedelta(minutes=10))
    [refused] = late.refused
    assert (refused.verdict, refused.grounds) == (
        Verdict.NOT_TONIGHT,
        (RefusalReason.TOO_LATE,),
    )
    assert late.listed == ()


def test_nobody_is_told_to_start_what_is_only_listed_before_its_hour() -> None:
    farm = planting(APRICOTS, BY_FIRES, equipment=())
    day = plan_of(farm, COLD)
    [water] = [item for item in day.listed if item.block == "Apricots"]
    assert water.start_utc is not None
    states = [
        action_state(plan_of(farm, COLD, moment), was_called=False)
        for moment in (
            TWO_IN_THE_AFTERNOON + timedelta(hours=6),
            water.start_utc - timedelta(hours=1),
        )
    ]
    assert states == [ActionState.EARLY, ActionState.START]


def test_water_listed_beside_buds_that_froze_is_no_start(tmp_path: Path) -> None:
    night = Night(
        farm=planting(APRICOTS, equipment=()),
        folder=tmp_path,
        store=open_store(tmp_path),
    )
    told = night.look(timedelta(hours=13, minutes=30), low_c=-4.0)
    text, mail = told[ChannelKind.SMS].text, everything(told[ChannelKind.EMAIL])
    assert "START NOW" not in text
    assert "Start now" not in mail
    assert "DON'T START micro-sprinklers in Apricots: too late" in text
    assert "If on, KEEP ON." in text


def test_a_start_of_what_is_only_listed_names_block_and_method(tmp_path: Path) -> None:
    night = Night(
        farm=planting(APRICOTS, BY_FIRES, equipment=()),
        folder=tmp_path,
        store=open_store(tmp_path),
    )
    night.look(AFTERNOON, low_c=-4.0)
    texts, mails = [], []
    for looks in range(20):
        wait = timedelta(hours=7, minutes=20 * looks)
        told = night.look(wait, low_c=-4.0)
        texts += [told[ChannelKind.SMS].text] if told else []
        mails += [told[ChannelKind.EMAIL].text] if told else []
    start = next(text for text in texts if text.startswith("START NOW"))
    # Whoever starts what is only listed must know as well how it ends.
    mail = next(mail for mail in mails if mail.startswith("Start now"))
    assert "Once water runs, KEEP IT ON until you measure" in mail
    assert "Ice breaks limbs" in mail
    assert "micro-sprinklers in Apricots by" in start
    assert "NOT on dry buds after" in start


def test_the_page_of_a_warning_has_a_lead_for_every_state() -> None:
    assert set(PAGE_LEADS) == set(ActionState)


def test_what_is_only_listed_is_called_at_its_hour(tmp_path: Path) -> None:
    night = Night(
        farm=planting(BY_FIRES, equipment=()),
        folder=tmp_path,
        store=open_store(tmp_path),
    )
    night.look(AFTERNOON, low_c=-4.0)
    texts = {}
    for looks in range(48):
        wait = timedelta(hours=6, minutes=10 * looks)
        told = night.look(wait, low_c=-4.0)
        if told:
            texts[wait] = told[ChannelKind.SMS].text
    *_, (wait, start) = texts.items()
    assert [text[:9] for text in texts.values()].count("START NOW") == 1
    assert start.startswith("START NOW Mon Apr 13: small fires in Cherries by 2:")
    # An hour before it must burn by the forecast, and no sooner than that by much.
    assert timedelta(hours=11) <= wait <= timedelta(hours=12)
