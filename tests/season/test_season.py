"""Seasons in the short form; the long one is `python -m tests.season`."""

import logging
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from frostalert.alarms import steps
from frostalert.alarms.look import Look
from frostalert.model.assessment import Tier
from frostalert.model.notice import (
    Decision,
    Message,
    NightDecision,
    NightHistory,
    Reason,
    Receipt,
    Subject,
)
from frostalert.model.start import StartState
from tests.season.checks import Judge
from tests.season.defects import DEFECTS, planted
from tests.season.plants import PLANTS
from tests.season.score import Score, score
from tests.season.season import limits_broken, run_season
from tests.season.weather import Season
from tests.season.world import Chance, Delivery, SimulatedStore, World
from tests.support.queued import mail_to_ines

SEASONS = ((205, 24), (323, 20))
"""Seed and nights."""
CATCHING = (323, 20, "")
"""Seed, nights and setting of a short season in which most of the machine's defects
show, and nothing without one: it is among those with faults."""
LIVELY = (507, 12, "lively")
"""One in which nearly every defect in what people are told shows."""
DOWN = (201, 12, "equipped")
"""One whose mail server is away in an afternoon, and nothing else goes wrong then."""
WHERE_CAUGHT = {
    **dict.fromkeys(PLANTS, LIVELY),
    **dict.fromkeys(
        (
            "no second try",
            "dropped outbox rows",
            "a decision without its messages",
            "sending not recorded",
            "quiet hours ignored",
        ),
        LIVELY,
    ),
    "no fallback": DOWN,
}
Place = tuple[int, int, str]


def play(place: Place, *, ends_when_found: bool = True) -> Score:
    """One season in one of its settings; where people are as they are, with heaters."""
    seed, nights, setting = place
    return run_season(
        seed,
        nights=nights,
        ends_when_found=ends_when_found,
        has_equipment=setting != "",
        is_lively=setting == "lively",
    )


EQUIPPED = 211


@pytest.fixture(autouse=True)
def quiet() -> None:
    logging.getLogger("frostalert").setLevel(logging.CRITICAL)


@pytest.mark.parametrize(("seed", "nights"), SEASONS)
def test_a_season_with_faults_misses_no_more_than_chance_and_keeps_the_limits(
    seed: int, nights: int
) -> None:
    found = run_season(seed, nights=nights)
    assert limits_broken(found, 1) == []
    # The season must have been worth watching.
    assert found.risky >= 5
    assert found.in_time + found.told_blind + len(found.missed) == found.risky
    assert found.judged >= 0.8 * nights
    assert found.duplicates > 0
    assert len(found.faults) >= 12


def test_each_start_of_an_equipped_planting_is_called_for_once() -> None:
    found = run_season(EQUIPPED, nights=12, has_equipment=True)
    assert limits_broken(found, 1) == []
    assert found.in_time + found.told_blind + len(found.missed) == found.risky
    assert found.risky >= 4


def test_starts_that_are_forgotten_are_called_for_again_and_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def forget(decision: Decision, _: Look) -> Decision:
        nights = []
        for item in decision.nights:
            # That it was to be set up is remembered, that it was called for is not.
            starts = tuple(
                replace(start, state=StartState.PLANNED, called_utc=None)
                for start in item.remember.starts
            )
            remember = replace(item.remember, starts=starts)
            nights.append(replace(item, remember=remember))
        return replace(decision, nights=tuple(nights))

    monkeypatch.setattr(steps, "STEPS", (*steps.STEPS, forget))
    found = run_season(EQUIPPED, nights=40, ends_when_found=True, has_equipment=True)
    assert any("a start called for twice" in line for line in found.violations)


@pytest.mark.parametrize("name", DEFECTS)
def test_a_planted_defect_is_caught(name: str) -> None:
    with planted(name):
        found = play(WHERE_CAUGHT.get(name, CATCHING))
    assert found.is_missed_too_often or found.failed or found.violations


def test_the_season_in_which_mails_go_out_as_texts_is_clean_without_a_defect() -> None:
    found = play(DOWN, ends_when_found=False)
    assert limits_broken(found, 1) == []
    assert found.read >= found.deliveries > 0


def test_people_as_they_are_hear_the_truth_word_by_word() -> None:
    found = play(LIVELY, ends_when_found=False)
    assert limits_broken(found, 1) == []
    # Every message was read, but for those after the last look.
    assert found.read >= found.deliveries > 200
    # What a fault explains is counted.
    assert found.waived.total() > 0
    assert dict(found.waived_rows())["messages read"] == str(found.read)


def test_a_season_follows_from_its_seed_alone() -> None:
    first, second = (run_season(7, nights=3) for _ in range(2))
    assert first == second
    assert run_season(8, nights=3) != first


def test_limits_are_limits() -> None:
    good = Score(nights=120, false_alarms=50, blind_nights=15, duplicates=30)
    assert limits_broken(good, 1) == []
    for name in ("false_alarms", "blind_nights", "duplicates", "absurd_alarms"):
        worse = Score(nights=120, **{name: getattr(good, name) + 1})
        assert len(limits_broken(worse, 1)) == 1
    for found in (Score(nights=120, failed=["x"]), Score(nights=120, violations=["x"])):
        assert len(limits_broken(found, 1)) == 1


@pytest.mark.parametrize(
    ("missed", "implied", "is_broken"),
    [(0, 0.0, False), (1, 0.0, True), (2, 0.6, False), (3, 0.6, False), (4, 0.6, True)],
)
def test_missed_nights_are_held_against_what_the_chances_imply(
    missed: int, implied: float, is_broken: bool
) -> None:
    found = Score(nights=60, judged=60, risky=9, missed=["m"] * missed, implied=implied)
    # Of 60 nights, each missed with a chance of 1 in 100: 3 or more once in 44 seasons,
    # 4 or more once in 320.
    assert found.is_missed_too_often is is_broken
    assert [line.split(":")[0] for line in limits_broken(found, 1)] == (
        ["missed"] if is_broken else []
    )


def test_many_seasons_together_are_judged_as_one() -> None:
    one, many = Score(nights=60, judged=60, missed=["m"], implied=0.3), Score()
    assert not one.is_missed_too_often
    for _ in range(20):
        many.add(one)
    assert many.is_missed_too_often


def test_what_a_source_misses_of_a_night_it_misses_in_issue_after_issue() -> None:
    seasons = [Season(seed, date(2026, 3, 1), 60) for seed in range(12)]
    errors = np.concatenate([season._errors_c for season in seasons], axis=1)
    for lead_h, sigma_c in ((24, 1.0), (48, 1.7), (72, 2.5)):
        assert errors[:, :, lead_h // 3].std() == pytest.approx(sigma_c, rel=0.08)
        both = np.corrcoef(errors[:, :, lead_h // 3])[0, 1]
        assert both == pytest.approx(0.5, abs=0.1)
    own = errors[0]
    assert np.corrcoef(own[:, 4], own[:, 5])[0, 1] > 0.98
    assert np.corrcoef(own[:, 5], own[:, 24])[0, 1] == pytest.approx(0.4, abs=0.1)


@pytest.mark.parametrize(
    ("offset_c", "said"), [(0.0, []), (2.2, ["buds"])], ids=["right", "too warm"]
)
def test_buds_judged_warmer_than_both_sources_have_them_are_found(
    tmp_path: Path, offset_c: float, said: list[str]
) -> None:
    season = Season(1, date(2026, 4, 1), 3)
    world = World(season, tmp_path, season.high_at(3), np.random.default_rng(1))
    moment = season.low_at(0) - timedelta(hours=12)
    told_c = season.told_bud_c(0, moment)
    assert told_c is not None
    world.chances[season.night_of(0)] = [
        Chance(moment, 0.01, told_c + offset_c, Tier.NONE)
    ]
    found = score(Judge(world), 1)
    assert [line.split(": ")[1].split()[0] for line in found.failed] == said
    assert found.judged == 1
    assert found.implied == pytest.approx(0.01)


def test_each_of_some_short_seasons_has_its_own_limits() -> None:
    names = ("false_alarms", "blind_nights", "duplicates")
    good = Score(nights=60, false_alarms=50, blind_nights=15, duplicates=30)
    two, long = Score(), Score()
    for _ in range(2):
        two.add(good)
    for _ in range(4):
        long.add(good)
    assert limits_broken(good, 1) == []
    assert limits_broken(two, 2) == []
    # Four halves in two seasons are two whole ones.
    assert len(limits_broken(long, 2)) == 3
    for name in names:
        worse = replace(two, **{name: getattr(two, name) + 1})
        [line] = limits_broken(worse, 2)
        assert f"in 2 seasons, limit {getattr(good, name)} each" in line


def test_a_message_has_its_own_reason_beside_another_of_that_second(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    season = Season(1, date(2026, 4, 1), 3)
    now = datetime(2026, 4, 2, 7, tzinfo=UTC)
    world = World(season, tmp_path, now, np.random.default_rng(1))
    store, judge = SimulatedStore(world, now), Judge(world)
    # Its messages say nothing that could be read.
    monkeypatch.setattr(judge.eyes, "look", lambda _: None)
    for revision, why in ((2, Reason.START_IS_DUE), (3, Reason.GOT_WORSE)):
        store.record_decision(*_act(now, revision, why), now)
        for row in store.unsent(now, is_forced=True):
            store.mark_sent(row, Receipt(provider_id="p", is_confirmed=True), now)
            world.delivered.append(_delivery(now, row.message))
    judge.look(is_up=False, up_since_utc=now)
    told = [world.told_by(delivery.message.key) for delivery in world.delivered]
    assert [[item.why for item in items] for items in told] == [
        [Reason.START_IS_DUE],
        [Reason.GOT_WORSE],
    ]
    assert judge.violations == []
    # The same start called for anew is found, whatever else fell into that second.
    store.record_decision(*_act(now, 4, Reason.START_IS_DUE), now)
    [row] = store.unsent(now, is_forced=True)
    world.delivered.append(_delivery(now, row.message))
    judge.look(is_up=False, up_since_utc=now)
    [line] = judge.violations
    assert "a start called for twice" in line
    store.database.close()


def _delivery(now: datetime, message: Message) -> Delivery:
    """A message that arrives at once."""
    return Delivery(at_utc=now, message=message, is_repeat=False)


def _act(now: datetime, revision: int, why: Reason) -> tuple[Decision, list[Message]]:
    """Somebody is told to start, for a reason."""
    night = date(2026, 4, 1)
    history = NightHistory(night=night, told=Tier.ACT, said=Tier.ACT, revision=revision)
    item = NightDecision(
        night=night, say=Subject.ACT, why=why, detail="d", remember=history
    )
    message = mail_to_ines(
        Subject.ACT,
        now + timedelta(hours=8),
        key=f"Heron Bench|{night}|act|{revision}|Ines|email",
        night=night,
        message_id=f"<{revision}@heron-bench.example>",
        nights=(night,),
    )
    return Decision(nights=(item,), next_look_utc=now), [message]
