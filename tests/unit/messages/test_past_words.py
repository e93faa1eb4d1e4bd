"""Past springs in a grower's words."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from frostalert.messages.past_words import (
    advice_line,
    limits,
    picture_words,
    screen,
    settings_table,
    spring_line,
    value_line,
)
from frostalert.messages.wording import Wording
from frostalert.model.past import (
    BlockCost,
    PastSprings,
    SettingName,
    SettingResult,
    SpringSpan,
    Tally,
    Truth,
    TruthKind,
)
from tests.support.holdings import SITE

SPAN = SpringSpan(date(2025, 2, 1), date(2025, 6, 15))
NIGHTS = 135
TALLY = Tally(
    nights=NIGHTS,
    harmful=5,
    worth_hands=5,
    ready=14,
    ready_needed=5,
    called=6,
    called_needed=5,
)
WORDING = Wording(SITE, datetime(2025, 9, 1, 12, tzinfo=UTC))
TRUTH = Truth(kind=TruthKind.OWN, name="old.csv", lows_c={date(2025, 3, 1): 1.0})
ANSWER = PastSprings(
    truth=TRUTH,
    settings=(SettingResult(name=SettingName.PRESENT),),
    costs={SPAN: ()},
    stage_years=(2025,),
    sources=("previous runs of Open-Meteo (CC BY 4.0)",),
    pairs=200,
)


def test_a_spring_is_told_as_one_would_tell_it() -> None:
    cost = BlockCost(block="Apples", lost_pct=38.2, value=None)
    assert spring_line(SPAN, TALLY, (cost,)) == (
        "ready on 14 afternoons, called out 6 nights, 5 of them needed, none missed. "
        "5 nights would have harmed buds (with nothing done, Apples: 38 % of the crop)."
    )


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"called": 5}, "called out 5 nights, each of them needed, none missed"),
        ({"called": 1, "called_needed": 1}, "called out 1 night, needed, 4 missed"),
        ({"called_needed": 0}, "6 nights, none of them needed, 5 missed"),
        ({"called": 0, "called_needed": 0}, "called out no night, 5 missed"),
        ({"harmful": 0}, "No night would have harmed anything."),
        ({"nights": 100}, "Not known: 35 nights of 135."),
        ({"nights": 0}, "nothing is known of it."),
    ],
)
def test_each_count_is_said_right(changes: dict[str, int], words: str) -> None:
    assert words in spring_line(SPAN, replace(TALLY, **changes), ())


@pytest.mark.parametrize(
    ("lost_pct", "words"),
    [
        (0.2, "hardly any of the crop"),
        (99.8, "all of the crop"),
        (None, "no share is published"),
    ],
)
def test_what_is_lost_is_said_without_false_precision(
    lost_pct: float | None, words: str
) -> None:
    cost = BlockCost(block="Wall", lost_pct=lost_pct, value=None)
    assert f"Wall: {words}" in spring_line(SPAN, TALLY, (cost,))


def test_money_is_told_where_crops_have_a_value() -> None:
    costs = [BlockCost(block="A", lost_pct=40.0, value=960.0)]
    assert value_line([(SPAN, costs)], "USD") == (
        "In USD, with nothing done: 2025 960."
    )
    assert value_line([(SPAN, [replace(costs[0], value=None)])], "USD") == ""


def setting(name: SettingName, why_not: str = "") -> SettingResult:
    return SettingResult(name=name, keys="chance_start = 0.34", why_not=why_not)


def counted(
    *others: tuple[SettingName, Tally],
) -> Sequence[tuple[SettingResult, Tally]]:
    return [
        (setting(SettingName.PRESENT), TALLY),
        *((setting(name), tally) for name, tally in others),
    ]


def test_with_few_harmful_nights_nothing_is_to_be_changed() -> None:
    few = replace(TALLY, harmful=4, worth_hands=4, called_needed=4, ready_needed=4)
    rows = [(setting(SettingName.PRESENT), few)]
    assert advice_line(rows).startswith("4 harmful nights: too few to choose")


def test_a_missed_night_counts_before_any_call_for_nothing() -> None:
    missing = replace(TALLY, called_needed=3)
    rows = [
        (setting(SettingName.PRESENT), missing),
        (setting(SettingName.CAREFUL), replace(TALLY, called=16)),
        (setting(SettingName.LESS_CAREFUL), replace(missing, called=4)),
    ]
    assert advice_line(rows).startswith(
        "To miss less: more careful (0 missed, not 2; 10 nights more called out)."
    )


def test_to_be_ready_more_often_is_said_as_such() -> None:
    missing = replace(TALLY, ready_needed=3)
    rows = [
        (setting(SettingName.PRESENT), missing),
        (setting(SettingName.CAREFUL), TALLY),
    ]
    assert advice_line(rows).startswith(
        "To miss less: more careful (ready for 2 harmful nights more; no more calls)."
    )


def test_with_nothing_more_missed_less_trouble_is_advised() -> None:
    easier = replace(TALLY, called=5, ready=9)
    line = advice_line(counted((SettingName.LESS_CAREFUL, easier)))
    assert line.startswith(
        "Least trouble with no more missed: less careful (1 night fewer called out, 5 "
        "afternoons fewer to get ready)."
    )
    assert "one step at a time" in line


def test_where_less_trouble_misses_more_it_stays_as_it_is() -> None:
    worse = replace(TALLY, called=3, called_needed=3)
    line = advice_line(counted((SettingName.LESS_CAREFUL, worse)))
    assert line.endswith("leave it as it is.")


def test_the_table_says_what_could_not_be_tried() -> None:
    rows = [
        *counted(),
        (setting(SettingName.BY_WORTH, "needs crop_value"), Tally()),
    ]
    lines = list(settings_table(rows))
    assert " ".join(lines[1].split()) == "as you have it 14 5 0 6 5 0"
    assert "not tried: needs crop_value" in lines[2]
    assert max(map(len, lines)) <= 76


STATION = Truth(
    kind=TruthKind.STATION,
    name="NORTH LANE 2 W (USC00450001)",
    lows_c={date(2025, 3, 1): 1.0},
    distance_km=16.1,
    above_m=-30.5,
    left_out=4,
)


def test_each_limit_is_said_beside_the_answer() -> None:
    told = " ".join(limits(ANSWER, WORDING))
    assert "your thermometer (old.csv), 1 night." in told
    assert "from several runs" in told
    assert "at half of the weight" in told
    other = replace(ANSWER, truth=STATION, stage_years=(), without_archive=("nws",))
    told = " ".join(limits(other, WORDING))
    assert "NOT your place but the station NORTH LANE 2 W (USC00450001)" in told
    assert "10 mi away, 100 ft lower" in told
    assert "4 minimums belong to no night" in told
    assert "EARLY" in told
    assert "nws keeps no archive" in told
    assert "at a quarter of the weight" in told
    told = " ".join(limits(replace(other, is_source_asked=False), WORDING))
    assert "nothing is learned of them: add it to [forecast] sources" in told
    last = replace(ANSWER, truth=replace(TRUTH, kind=TruthKind.REANALYSIS), pairs=0)
    told = " ".join(limits(last, WORDING))
    assert "REANALYSIS" in told
    assert "Nothing of it enters" in told


def test_it_is_told_in_which_springs_stages_are_estimated() -> None:
    before = SpringSpan(date(2024, 2, 1), date(2024, 6, 14))
    both = replace(ANSWER, costs={before: (), SPAN: ()})
    told = " ".join(limits(both, WORDING))
    assert "as you noted them in 2025; else by the fastest" in told


def test_an_archive_that_holds_nothing_is_said_to() -> None:
    told = " ".join(limits(replace(ANSWER, sources=()), WORDING))
    assert "Forecasts: NONE" in told


def test_the_screen_holds_all_of_it() -> None:
    rows = counted((SettingName.LESS_CAREFUL, TALLY))
    text = screen(ANSWER, rows, [(SPAN, TALLY)], WORDING)
    assert text.startswith("Heron Bench: past springs")
    assert "- 2025: ready on 14 afternoons" in text
    assert "- less careful: chance_start = 0.34" in text
    assert "How far to trust this:" in text
    assert "2025: 6 nights called out" in picture_words([(SPAN, TALLY)])
