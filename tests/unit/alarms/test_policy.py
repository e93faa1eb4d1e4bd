"""The policy as a table: history and assessment in, what is said and why out."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from frostalert.alarms import steps
from frostalert.forecast.nws import parse_grid
from frostalert.model.assessment import Assessment, Tier
from frostalert.model.notice import NightDecision, NightHistory, Reason, Subject
from frostalert.model.site import DORMANT, Rules
from frostalert.model.start import Start, StartState
from tests.support.decided import decide, look_of
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import make_block, make_holding
from tests.support.judged import assess, cannot_judge_anything

NIGHT = date(2026, 4, 12)
AFTERNOON = datetime(2026, 4, 13, 0, tzinfo=UTC)  # 17:00 local
BEFORE_DAWN = datetime(2026, 4, 13, 10, tzinfo=UTC)  # 03:00 local
MADE = datetime(2026, 4, 12, 18, tzinfo=UTC)
RULES = Rules()
WARM: dict[str, Any] = {"air_c": frosty_hours(low_c=9.0, high_c=20.0)}


def assessed(now: datetime = AFTERNOON, **changes: Any) -> Assessment:
    return assess(make_holding(), parse_grid(grid_text(**changes), now), now)


def decided(
    history: NightHistory | None, assessment: Assessment, now: datetime = AFTERNOON
) -> NightDecision:
    past = {} if history is None else {history.night: history}
    decision = decide(past, now, assessment, RULES)
    return next(item for item in decision.nights if item.night == NIGHT)


def told(tier: Tier, **changes: Any) -> NightHistory:
    assessment = assessed()
    worst = assessment.nights[0].worst
    assert worst is not None
    assert worst.bud is not None
    history = NightHistory(
        night=NIGHT,
        told=tier,
        said=tier,
        told_blocks=("Apricots",),
        told_low_c=worst.bud.low_c,
        told_running_by_utc=worst.running_by_utc,
        last_forecast_utc=MADE,
        revision=1,
    )
    return replace(history, **changes)


def test_a_new_risk_is_told() -> None:
    item = decided(None, assessed())
    assert (item.say, item.why) == (Subject.PREPARE, Reason.TIER_ROSE)
    assert item.remember.told is Tier.PREPARE
    assert item.remember.revision == 1


def test_the_same_risk_is_told_once() -> None:
    item = decided(told(Tier.PREPARE), assessed())
    assert (item.say, item.why) == (None, Reason.ALREADY_TOLD)


def test_a_higher_tier_is_told() -> None:
    item = decided(told(Tier.OUTLOOK), assessed())
    assert (item.say, item.why) == (Subject.PREPARE, Reason.TIER_ROSE)
    assert item.remember.revision == 2


def test_a_lower_tier_is_not_told() -> None:
    item = decided(told(Tier.ACT), assessed())
    assert (item.say, item.why) == (None, Reason.ALREADY_TOLD)
    assert item.remember.told is Tier.ACT


@pytest.mark.parametrize(
    ("colder_c", "say"), [(0.9, None), (1.1, Subject.PREPARE)], ids=["near", "past"]
)
def test_a_colder_night_is_told_again_past_a_step(
    colder_c: float, say: Subject | None
) -> None:
    before = told(Tier.PREPARE)
    assert before.told_low_c is not None
    history = replace(before, told_low_c=before.told_low_c + colder_c)
    item = decided(history, assessed())
    assert item.say is say
    if say:
        assert item.why is Reason.GOT_WORSE
        assert item.change is not None
        assert item.change.colder_c == pytest.approx(colder_c)


def test_an_earlier_danger_is_told_again_past_a_step() -> None:
    before = told(Tier.PREPARE)
    assert before.told_running_by_utc is not None
    moved = before.told_running_by_utc + timedelta(minutes=70)
    item = decided(replace(before, told_running_by_utc=moved), assessed())
    assert item.why is Reason.GOT_WORSE
    assert item.change is not None
    assert item.change.earlier == timedelta(minutes=70)


def colder_since(ago: timedelta, **changes: Any) -> NightHistory:
    """A night told some time ago that is two degrees colder now."""
    before = told(Tier.PREPARE, said_utc=AFTERNOON - ago, **changes)
    assert before.told_low_c is not None
    return replace(before, told_low_c=before.told_low_c + 2.0)


@pytest.mark.parametrize(
    ("ago", "why"),
    [
        (timedelta(0), Reason.JUST_CALLED),
        (timedelta(minutes=4), Reason.JUST_CALLED),
        (timedelta(minutes=5), Reason.GOT_WORSE),
        # Told in the time to come: the clock was set back since.
        (-timedelta(minutes=1), Reason.GOT_WORSE),
    ],
)
def test_a_night_that_was_just_told_is_told_again_when_that_has_settled(
    ago: timedelta, why: Reason
) -> None:
    history = colder_since(ago)
    item = decided(history, assessed())
    assert item.why is why
    if item.say is None:
        assert item.remember == replace(history, stop_utc=item.remember.stop_utc)
        decision = decide({NIGHT: history}, AFTERNOON, assessed(), RULES)
        assert decision.next_look_utc <= AFTERNOON - ago + timedelta(minutes=5)


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"told_blocks": ("Another",)}, Reason.GOT_WORSE),
        ({"said": Tier.OUTLOOK}, Reason.TIER_ROSE),
    ],
    ids=["a block more", "a higher tier"],
)
def test_what_asks_more_of_people_never_waits(
    changes: dict[str, Any], why: Reason
) -> None:
    item = decided(colder_since(timedelta(seconds=10), **changes), assessed())
    assert (item.say, item.why) == (Subject.PREPARE, why)


def test_withdrawing_takes_two_new_forecasts() -> None:
    first = decided(told(Tier.PREPARE), assessed(**WARM, updated=MADE))
    assert first.why is Reason.WAITING_TO_CLEAR
    # The same forecast again is no second word.
    again = decided(first.remember, assessed(**WARM, updated=MADE))
    assert again.why is Reason.WAITING_TO_CLEAR
    newer = MADE + timedelta(hours=3)
    second = decided(again.remember, assessed(**WARM, updated=newer))
    third = decided(
        second.remember, assessed(**WARM, updated=newer + timedelta(hours=1))
    )
    said = [item.say for item in (first, again, second, third)]
    assert said.count(Subject.WITHDRAWN) == 1
    assert (second.say or third.say) is Subject.WITHDRAWN


def test_nothing_is_withdrawn_on_an_old_forecast() -> None:
    history = told(Tier.PREPARE, clear_cycles=5)
    stale = assessed(**WARM, updated=AFTERNOON - timedelta(hours=16))
    item = decided(history, stale)
    assert (item.say, item.why) == (None, Reason.HELD_ON_BAD_DATA)


def test_missing_data_never_clears_and_is_said() -> None:
    blind = cannot_judge_anything(make_holding(), AFTERNOON, "nothing came")
    item = decided(told(Tier.PREPARE), blind)
    assert item.say is Subject.CANNOT_JUDGE
    assert item.remember.told is Tier.PREPARE
    assert not item.remember.is_closed


def test_a_blind_night_is_told_once_and_then_daily() -> None:
    blind = cannot_judge_anything(make_holding(), AFTERNOON, "nothing came")
    first = decided(None, blind)
    assert (first.say, first.why) == (Subject.CANNOT_JUDGE, Reason.CANNOT_JUDGE)
    assert decided(first.remember, blind).say is None
    later = AFTERNOON + timedelta(hours=24)
    again = decide({NIGHT: first.remember}, later, blind, RULES).nights[0]
    assert again.why is Reason.STILL_CANNOT_JUDGE


def test_nobody_is_told_that_a_night_nobody_heard_of_is_withdrawn() -> None:
    item = decided(None, assessed(**WARM))
    assert (item.say, item.why) == (None, Reason.NOTHING_THREATENS)


def test_a_withdrawn_night_that_returns_is_told_again() -> None:
    closed = told(Tier.PREPARE, is_closed=True, revision=2)
    item = decided(closed, assessed())
    assert item.say is Subject.PREPARE
    assert item.remember.revision == 3
    assert not item.remember.is_closed


MORNING = datetime(2026, 4, 13, 18, tzinfo=UTC)  # 11:00 local


def test_only_those_who_acted_are_told_how_to_stop() -> None:
    over = assessed(MORNING, updated=MORNING - timedelta(hours=1))
    acted = decided(told(Tier.ACT), over, MORNING)
    assert (acted.say, acted.why) == (Subject.STAND_DOWN, Reason.COLD_IS_OVER)
    prepared = decided(told(Tier.PREPARE), over, MORNING)
    assert (prepared.say, prepared.why) == (None, Reason.COLD_IS_OVER)
    assert prepared.remember.is_quiet
    assert not acted.remember.is_quiet


def test_no_stand_down_before_the_wet_bulb_is_forecast_above_freezing() -> None:
    # The air rises above the alarm temperature while the wet bulb stays below zero.
    dry_morning = assessed(
        MORNING,
        updated=MORNING - timedelta(hours=1),
        air_c=frosty_hours(low_c=-5.0, high_c=5.0),
        dewpoint_c=[-15.0] * 72,
    )
    assert dry_morning.nights[0].tier is Tier.NONE
    item = decided(told(Tier.ACT), dry_morning, MORNING)
    assert (item.say, item.why) == (None, Reason.HELD_ON_BAD_DATA)


@pytest.mark.parametrize(
    ("burning", "say"), [({"Heaters"}, Subject.STAND_DOWN), (set(), None)]
)
def test_heat_alone_is_stood_down_by_the_air_whatever_the_wet_bulb(
    burning: set[str], say: Subject | None
) -> None:
    dry_morning = assessed(
        MORNING,
        updated=MORNING - timedelta(hours=1),
        air_c=frosty_hours(low_c=-5.0, high_c=9.0),
        dewpoint_c=[-15.0] * 72,
    )
    key = ("Heaters", "Apricots")
    lit = Start(key=key, state=StartState.CALLED, called_utc=BEFORE_DAWN)
    history = told(Tier.ACT, starts=(lit,))
    look = look_of({NIGHT: history}, MORNING, dry_morning, RULES)
    decision = steps.decide(replace(look, burning=burning))
    assert decision.nights[0].say is say
    # Not while the air itself is below freezing, though buds no longer freeze.
    cold = assessed(
        MORNING,
        updated=MORNING - timedelta(hours=1),
        air_c=frosty_hours(low_c=-5.0, high_c=5.0),
        dewpoint_c=[-15.0] * 72,
    )
    look = look_of({NIGHT: history}, MORNING, cold, RULES)
    assert steps.decide(replace(look, burning=burning)).nights[0].say is None
    # Where water was called for as well, the wet bulb holds as before.
    line = replace(lit, key=("Line", "Apricots"))
    both = {NIGHT: replace(history, starts=(lit, line))}
    look = look_of(both, MORNING, dry_morning, RULES)
    decision = steps.decide(replace(look, burning=burning))
    assert decision.nights[0].say is None


def test_those_who_acted_are_told_how_to_stop_even_when_noon_comes_first() -> None:
    next_day = AFTERNOON + timedelta(days=1)
    assessment = assess(
        make_holding(), parse_grid(grid_text(**WARM), next_day), next_day
    )
    thaw = datetime(2026, 4, 13, 16, 0, tzinfo=UTC)
    past = told(Tier.ACT, stop_utc=thaw)
    decision = decide({NIGHT: past}, next_day, assessment, RULES)
    assert decision.nights[0].say is Subject.STAND_DOWN
    unknown = decide({NIGHT: told(Tier.ACT)}, next_day, assessment, RULES)
    assert unknown.nights[0].say is None
    closed = decision.nights[0].remember
    again = decide({NIGHT: closed}, next_day, assessment, RULES)
    assert all(item.night != NIGHT for item in again.nights)


def test_noon_does_not_end_the_cold() -> None:
    noon = datetime(2026, 4, 13, 19, 30, tzinfo=UTC)
    steady = assess(
        make_holding(),
        parse_grid(grid_text(air_c=[-6.0] * 72, dewpoint_c=[-9.0] * 72), noon),
        noon,
    )
    assert steady.nights[0].tier is Tier.ACT
    gone = decide({NIGHT: told(Tier.ACT)}, noon, steady, RULES).nights[0]
    assert (gone.say, gone.why) == (None, Reason.GOES_ON)


def test_who_started_water_is_never_told_that_nothing_was_the_matter() -> None:
    history = told(Tier.ACT, clear_cycles=1, last_forecast_utc=MADE)
    newer = MADE + timedelta(hours=3)
    item = decided(history, assessed(**WARM, updated=newer))
    assert item.say is Subject.STAND_DOWN


def test_missing_data_closes_no_night_to_come() -> None:
    later = NIGHT + timedelta(days=4)
    history = NightHistory(night=later, told=Tier.OUTLOOK, revision=1)
    blind = cannot_judge_anything(make_holding(), AFTERNOON, "nothing came")
    decision = decide({later: history}, AFTERNOON, blind, RULES)
    assert all(item.night != later for item in decision.nights)


def test_a_night_long_gone_is_closed_without_a_word() -> None:
    history = told(Tier.ACT)
    later = AFTERNOON + timedelta(days=10)
    blind = cannot_judge_anything(make_holding(), later, "nothing came")
    gone = decide({NIGHT: history}, later, blind, RULES).nights[0]
    assert gone.say is None
    assert gone.remember.is_closed


def test_what_is_said_is_what_is_true_now() -> None:
    # Told to act, then the danger moves hours later and the night gets colder.
    before = told(Tier.ACT)
    assert before.told_low_c is not None
    history = replace(before, told_low_c=before.told_low_c + 2.0)
    item = decided(history, assessed())
    assert item.say is Subject.PREPARE
    assert item.remember.told is Tier.ACT


def test_no_stand_down_on_a_stale_forecast() -> None:
    stale = assessed(MORNING, updated=MORNING - timedelta(hours=22))
    item = decided(told(Tier.ACT), stale, MORNING)
    assert (item.say, item.why) == (None, Reason.HELD_ON_BAD_DATA)


def test_a_block_that_joins_is_told() -> None:
    farm = make_holding(make_block(), make_block("Pears", "pear", "full bloom"))
    run = parse_grid(grid_text(), AFTERNOON)
    assessment = assess(farm, run, AFTERNOON)
    history = replace(told(Tier.PREPARE), told_blocks=("Apricots",))
    worst = assessment.nights[0].worst
    assert worst is not None
    assert worst.bud is not None
    history = replace(
        history, told_low_c=worst.bud.low_c, told_running_by_utc=worst.running_by_utc
    )
    item = decided(history, assessment)
    assert item.why is Reason.GOT_WORSE
    assert item.change is not None
    assert item.change.joined == ("Pears",)
    assert decided(item.remember, assessment).say is None


def test_a_block_that_nobody_looked_at_does_not_hold_back_the_end() -> None:
    old = make_block("Plums", "european-plum", DORMANT, seen=date(2026, 1, 1))
    run = parse_grid(grid_text(updated=MORNING - timedelta(hours=1)), MORNING)
    assessment = assess(make_holding(make_block(), old), run, MORNING)
    unseen = assessment.nights[0].blocks[1]
    assert unseen.stage.unseen_since is not None
    assert unseen.probability is not None
    item = decided(told(Tier.ACT), assessment, MORNING)
    assert item.say is Subject.STAND_DOWN


def test_the_next_look_comes_when_time_alone_changes_something() -> None:
    morning = datetime(2026, 4, 12, 19, 30, tzinfo=UTC)
    assessment = assessed(morning)
    send_by = assessment.nights[0].send_by_utc
    assert send_by is not None
    just_before = send_by - timedelta(minutes=20)
    looked = decide({}, just_before, assessed(just_before), RULES)
    assert looked.next_look_utc == send_by
    quiet = decide({}, morning, assessed(morning, **WARM), RULES)
    assert quiet.next_look_utc == morning + timedelta(hours=1)


def test_the_start_is_told_again_where_it_was_called_off_in_between() -> None:
    # "Act" was told too soon, then the danger hour moved away, and now it is there.
    history = replace(told(Tier.ACT), said=Tier.PREPARE, revision=2)
    night = assessed(BEFORE_DAWN).nights[0]
    assert night.tier is Tier.ACT
    item = decided(history, assessed(BEFORE_DAWN), BEFORE_DAWN)
    assert (item.say, item.why) == (Subject.ACT, Reason.TIER_ROSE)
    assert item.remember.said is Tier.ACT
    assert decided(item.remember, assessed(BEFORE_DAWN), BEFORE_DAWN).say is None


def test_another_block_at_the_head_is_not_a_colder_night() -> None:
    # The beds start later and get colder: they take the head when their hour comes.
    beds = make_block(
        "Beds", "strawberry", "popcorn", height_m=0.15, cold_spot_delta_c=-2.0
    )
    lane = make_block(methods=("micro-sprinklers",))
    farm = make_holding(lane, beds)
    air = [value for value in frosty_hours() if value is not None]
    dry_air = grid_text(air_c=air, dewpoint_c=[value - 12.0 for value in air])
    run = parse_grid(dry_air, AFTERNOON)
    first = assess(farm, run, AFTERNOON)
    told_once = decided(None, first).remember
    heads = set()
    for hours in range(1, 16):
        now = AFTERNOON + timedelta(hours=hours)
        assessment = assess(farm, run, now)
        worst = assessment.nights[0].worst
        heads |= {worst.block if worst else ""}
        item = decided(told_once, assessment, now)
        assert item.why is not Reason.GOT_WORSE
        told_once = item.remember
    assert heads == {"Apricots", "Beds"}


def test_a_night_that_goes_blind_again_is_told_within_the_hour() -> None:
    blind = cannot_judge_anything(make_holding(), AFTERNOON, "nothing came")
    first = decided(None, blind).remember
    assert first.is_blind
    seen = decided(first, assessed(**WARM, updated=MADE)).remember
    assert not seen.is_blind
    soon = AFTERNOON + timedelta(minutes=50)
    later = AFTERNOON + timedelta(minutes=70)
    assert decide({NIGHT: seen}, soon, blind, RULES).nights[0].say is None
    again = decide({NIGHT: seen}, later, blind, RULES).nights[0]
    assert again.say is Subject.CANNOT_JUDGE


def test_a_start_that_moves_away_is_told_anew_when_its_hour_comes() -> None:
    # "Start now" was said for a danger two hours before the one that is seen now.
    before = told(Tier.ACT)
    assert before.told_running_by_utc is not None
    sooner = before.told_running_by_utc - timedelta(hours=2)
    moved = decided(replace(before, told_running_by_utc=sooner), assessed())
    assert moved.say is None
    assert moved.remember.said is Tier.PREPARE
    item = decided(moved.remember, assessed(BEFORE_DAWN), BEFORE_DAWN)
    assert (item.say, item.why) == (Subject.ACT, Reason.TIER_ROSE)


def test_a_likelier_harm_is_worse_at_the_same_low() -> None:
    now = assessed().nights[0].worst
    assert now is not None
    assert now.probability is not None
    before = told(Tier.PREPARE, told_probability=now.probability - 0.21)
    item = decided(before, assessed())
    assert item.why is Reason.GOT_WORSE
    assert item.change is not None
    assert item.change.colder_c == 0.0
    assert item.change.likelier == (before.told_probability, now.probability)
    assert item.remember.told_probability == now.probability
    steady = told(Tier.PREPARE, told_probability=now.probability - 0.19)
    assert decided(steady, assessed()).why is Reason.ALREADY_TOLD


def test_a_colder_low_that_is_no_likelier_to_do_harm_is_no_news() -> None:
    now = assessed().nights[0].worst
    assert now is not None
    assert now.probability is not None
    before = told(Tier.PREPARE)
    assert before.told_low_c is not None
    warmer = {"told_low_c": before.told_low_c + 1.5}
    same = told(Tier.PREPARE, told_probability=now.probability, **warmer)
    assert decided(same, assessed()).why is Reason.ALREADY_TOLD
    less = told(Tier.PREPARE, told_probability=now.probability - 0.1, **warmer)
    assert decided(less, assessed()).why is Reason.GOT_WORSE


def test_where_the_chance_cannot_rise_the_low_alone_counts() -> None:
    cold = assessed(air_c=frosty_hours(low_c=-12.0))
    worst = cold.nights[0].worst
    assert worst is not None
    assert worst.bud is not None
    assert worst.probability is not None
    assert worst.probability > 0.9
    before = told(
        Tier.PREPARE,
        told_low_c=worst.bud.low_c + 1.5,
        told_running_by_utc=worst.running_by_utc,
        told_probability=worst.probability,
    )
    item = decided(before, cold)
    assert item.change is not None
    assert item.change.colder_c == pytest.approx(1.5)


def test_since_when_people_were_called_is_kept_from_message_to_message() -> None:
    earlier = AFTERNOON - timedelta(hours=3)
    history = told(Tier.PREPARE, hands_since_utc=earlier, told_low_c=2.0)
    worse = decided(history, assessed())
    assert worse.say is Subject.PREPARE
    assert worse.remember.hands_since_utc == earlier
    assert worse.remember.start_since_utc is None
    # Called to start now: that begins now, and since when hands are called stays.
    act = decided(history, assessed(BEFORE_DAWN), BEFORE_DAWN)
    assert act.say is Subject.ACT
    assert act.remember.hands_since_utc == earlier
    assert act.remember.start_since_utc == BEFORE_DAWN
    # A night that had ended begins anew.
    closed = replace(history, is_closed=True, told=Tier.NONE, said=Tier.NONE)
    again = decided(closed, assessed())
    assert again.remember.hands_since_utc == AFTERNOON


def test_a_warning_whose_plan_nobody_waits_for_owes_none() -> None:
    item = decided(None, assessed())
    assert item.say is not None
    assert not item.remember.is_plan_owed


def test_a_night_that_was_closed_without_a_word_wakes_nobody_anew() -> None:
    """A reading at dawn that brings the cold back says nothing that nobody knows."""
    closed = replace(told(Tier.PREPARE), is_closed=True, is_quiet=True)
    item = decided(closed, assessed())
    assert (item.say, item.why) == (None, Reason.ALREADY_TOLD)
    assert not item.remember.is_closed
    assert not item.remember.is_quiet
    # A night that people heard the end of is told, and wakes, anew.
    ended = decided(replace(closed, is_quiet=False), assessed())
    assert ended.say is Subject.PREPARE
    assert ended.is_waking
    # More than they were told wakes them in any case.
    higher = replace(told(Tier.OUTLOOK), is_closed=True, is_quiet=True)
    risen = decided(higher, assessed())
    assert risen.say is Subject.PREPARE
    assert risen.is_waking
