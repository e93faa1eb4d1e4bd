"""An outlook that only repeats itself waits for the daily line."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from frostalert.forecast.nws import parse_grid
from frostalert.model.assessment import Assessment, Tier
from frostalert.model.notice import Decision, NightHistory, Reason, Subject
from frostalert.model.site import Rules
from tests.support.decided import decide
from tests.support.grids import grid_text
from tests.support.holdings import make_block, make_holding
from tests.support.judged import assess

TONIGHT = date(2026, 4, 12)
MORNING = datetime(2026, 4, 12, 18, 30, tzinfo=UTC)  # 11:30 local
AFTERNOON = datetime(2026, 4, 13, 0, tzinfo=UTC)  # 17:00 local


def judged(now: datetime) -> Assessment:
    return assess(make_holding(make_block()), parse_grid(grid_text(), now), now)


def told_warmer(assessment: Assessment, colder_c: float) -> dict[date, NightHistory]:
    """Each night at risk told as an outlook, as some degrees warmer than it is."""
    return {
        night.night: NightHistory(
            night=night.night,
            told=Tier.OUTLOOK,
            said=Tier.OUTLOOK,
            told_blocks=("Apricots",),
            told_low_c=worst.bud.low_c + colder_c,
            told_running_by_utc=worst.running_by_utc,
            last_forecast_utc=MORNING - timedelta(hours=8),
            revision=1,
            said_utc=MORNING - timedelta(hours=8),
            said_revision=1,
        )
        for night in assessment.nights
        if (worst := night.worst) is not None and worst.bud is not None
    }


def decided(now: datetime, told: dict[date, NightHistory]) -> Decision:
    return decide(told, now, judged(now), Rules())


def test_an_outlook_that_got_colder_is_no_message_of_its_own() -> None:
    told = told_warmer(judged(MORNING), 4.0)
    decision = decided(MORNING, told)
    assert not decision.announced
    tonight = next(item for item in decision.nights if item.night == TONIGHT)
    assert tonight.why is Reason.NOTHING_TO_DO_YET
    assert tonight.change is not None
    assert tonight.remember.revision == 1
    # What people were told stays what it was: the next call says what changed since.
    assert tonight.remember.told_low_c == told[TONIGHT].told_low_c


def test_a_rise_takes_the_outlooks_that_got_colder_along() -> None:
    told = told_warmer(judged(AFTERNOON), 4.0)
    said = {item.night: item for item in decided(AFTERNOON, told).announced}
    assert said[TONIGHT].say is Subject.PREPARE
    further = [item for item in said.values() if item.night > TONIGHT]
    assert further
    assert {(i.say, i.why) for i in further} == {(Subject.OUTLOOK, Reason.GOT_WORSE)}


def test_a_new_outlook_is_told_and_takes_the_others_along() -> None:
    told = told_warmer(judged(MORNING), 4.0)
    last = max(told)
    told[last] = replace(told[last], told=Tier.NONE, said=Tier.NONE, told_blocks=())
    said = {item.night: item.why for item in decided(MORNING, told).announced}
    assert said[TONIGHT] is Reason.GOT_WORSE
