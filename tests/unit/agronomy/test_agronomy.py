"""Crop tables, kill curve and stages against what was published."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostalert.agronomy.crops import (
    FROM_MEMORY,
    find_crop,
    find_stage,
    packaged_crop_names,
    parse_crop,
)
from frostalert.agronomy.kill import expected_kill_pct, kill_pct, reach_probability
from frostalert.agronomy.stages import stage_in_force
from frostalert.errors import (
    CropFileError,
    PhysicsDomainError,
    UnknownCropError,
    UnknownStageError,
)
from frostalert.model.site import DORMANT, HARVESTED


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


# MSU Extension, Critical Spring Temperatures for Tree Fruit Bud Development Stages,
# 2021 (after the WSU bulletins): 10 % and 90 % kill in degF, whole tables.
MSU_TABLES = {
    "apple": [
        (15, 2),
        (18, 10),
        (23, 15),
        (27, 21),
        (28, 24),
        (28, 25),
        (28, 25),
        (28, 25),
        (28, 25),
    ],
    "pear": [
        (15, 0),
        (20, 6),
        (24, 15),
        (25, 19),
        (26, 22),
        (27, 23),
        (28, 24),
        (28, 24),
    ],
    "peach": [(18, 1), (21, 5), (23, 9), (25, 15), (26, 21), (27, 24), (28, 25)],
    "sweet-cherry": [
        (17, 5),
        (22, 9),
        (25, 14),
        (26, 17),
        (27, 21),
        (27, 24),
        (28, 25),
        (28, 25),
        (28, 25),
    ],
    "european-plum": [
        (14, 0),
        (17, 3),
        (20, 7),
        (24, 16),
        (26, 22),
        (27, 23),
        (28, 23),
        (28, 23),
    ],
}


# MSU (apricot; no 90 % value at swollen bud), Intermountain Tree Fruit Production
# Guide (tart cherry but for two rows from memory), FAO table 4.8 (Concord grape).
MORE_TABLES: dict[str, list[tuple[float, float | None]]] = {
    "apricot": [
        (15, None),
        (20, 0),
        (22, 9),
        (24, 14),
        (25, 19),
        (27, 22),
        (27, 24),
        (28, 25),
    ],
    "tart-cherry": [
        (15, 0),
        (24, 10),
        (26, 22),
        (26, 24),
        (28, 24),
        (28, 24),
        (28, 24),
        (28, 25),
        (28, 25),
    ],
    "concord-grape": [
        (13, -3),
        (21, 10),
        (25, 16),
        (27, 21),
        (28, 22),
        (28, 26),
        (28, 27),
    ],
}
# "Damage begins", in degF: Penn State (Demchak) and Ontario for strawberry, MSU and
# Penn State for blueberry (the warm end), University of Maine for cranberry.
BEGINNINGS: dict[str, list[float]] = {
    "strawberry": [10, 22, 28, 30, 28],
    "highbush-blueberry": [20, 23, 25, 27, 28, 28],
    "cranberry-early-black": [18, 20, 22, 25, 27, 30, 30, 30, 28],
    "cranberry-stevens": [20, 22, 25, 27, 30, 30, 30, 30, 28],
    "blackberry": [28],
    "walnut": [30],
    "kiwifruit": [29.3],
    "orange": [28],
}


@pytest.mark.parametrize("name", MORE_TABLES)
def test_other_tables_are_the_published_ones(name: str) -> None:
    rows = find_crop(name, {}).stages
    for row, (t10, t90) in zip(rows, MORE_TABLES[name], strict=True):
        assert row.t10_c == pytest.approx(celsius(t10), abs=1e-6)
        if t90 is None:
            assert row.t90_c is None
        else:
            assert row.t90_c == pytest.approx(celsius(t90), abs=1e-6)


@pytest.mark.parametrize("name", BEGINNINGS)
def test_beginnings_of_damage_are_the_published_ones(name: str) -> None:
    found = [row.damage_begins_c for row in find_crop(name, {}).stages]
    expected = [celsius(value) for value in BEGINNINGS[name]]
    assert np.array(found, dtype=float) == pytest.approx(np.array(expected), abs=1e-6)


@pytest.mark.parametrize("name", MSU_TABLES)
def test_tree_fruit_tables_are_the_published_ones(name: str) -> None:
    rows = find_crop(name, {}).stages
    found = [(row.t10_c, row.t90_c) for row in rows]
    expected = [(celsius(t10), celsius(t90)) for t10, t90 in MSU_TABLES[name]]
    assert np.array(found, dtype=float) == pytest.approx(np.array(expected), abs=1e-6)


def test_nectarine_is_judged_as_peach_and_says_so() -> None:
    nectarine, peach = find_crop("nectarine", {}), find_crop("peach", {})
    assert nectarine.stages == peach.stages
    assert "peach" in nectarine.notes[0]


def test_apricot_swollen_bud_has_no_curve() -> None:
    row = find_crop("apricot", {}).stages[0]
    assert row.t90_c is None
    assert not row.has_curve


def test_only_tart_cherry_holds_values_from_memory() -> None:
    remembered = {
        (name, row.stage)
        for name in packaged_crop_names()
        for row in find_crop(name, {}).stages
        if row.source == FROM_MEMORY
    }
    assert remembered == {
        ("tart-cherry", "side green"),
        ("tart-cherry", "open cluster"),
    }


@pytest.mark.parametrize("name", packaged_crop_names())
def test_every_row_has_a_source_and_no_berry_has_a_curve(name: str) -> None:
    crop = find_crop(name, {})
    assert all(row.source for row in crop.stages)
    if name in {"strawberry", "highbush-blueberry", "blackberry", "walnut"}:
        assert not any(row.has_curve for row in crop.stages)


def test_grape_warns_by_the_warmer_table_and_kills_by_the_other() -> None:
    # MSU's 10 % column against FAO table 4.8 after Proebsting 1988, at bud burst.
    row = find_crop("concord-grape", {}).stages[2]
    assert row.alarm_c == pytest.approx(celsius(28.0))
    assert row.t10_c == pytest.approx(celsius(25.0))


def test_unknown_names_come_with_the_nearest() -> None:
    with pytest.raises(UnknownCropError, match="apricot"):
        find_crop("aprikot", {})
    with pytest.raises(UnknownStageError, match="full bloom"):
        find_stage(find_crop("apricot", {}), "full blom")
    assert find_stage(find_crop("apple", {}), "Half inch green") == "half-inch green"


# The curve through T10 and T90 for peach in full bloom (27 and 24 degF); the ends are
# published (Ballard and Proebsting, WSU Bulletin 634), the values between computed.
@pytest.mark.parametrize(
    ("fahrenheit", "share"),
    [(28, 2.5), (27, 10), (26, 32.5), (25.5, 50), (25, 67.5), (24, 90), (23, 97.5)],
)
def test_kill_curve(fahrenheit: float, share: float) -> None:
    found = kill_pct(celsius(fahrenheit), celsius(27), celsius(24))
    assert found == pytest.approx(share, abs=0.1)


@given(low=st.floats(-8.0, 3.0), sigma=st.floats(0.1, 4.0))
def test_expected_kill_agrees_with_a_fine_sum(low: float, sigma: float) -> None:
    errors = np.linspace(-8.0, 8.0, 4001)
    weights = np.exp(-(errors**2) / 2.0)
    kills = kill_pct(low + sigma * errors, -2.8, -4.4)
    expected = float((kills * weights).sum() / weights.sum())
    assert expected_kill_pct(low, sigma, -2.8, -4.4) == pytest.approx(
        expected, abs=0.02
    )


def test_a_curve_that_runs_backwards_is_refused() -> None:
    with pytest.raises(PhysicsDomainError):
        kill_pct(-3.0, -4.0, -2.0)


# Normal distribution function, tabulated.
@pytest.mark.parametrize(
    ("low", "sigma", "limit", "chance"),
    [(1, 2, -2, 0.0668), (-1, 2, -2, 0.3085), (-2, 2, -2, 0.5), (2, 2.5, 0, 0.2119)],
)
def test_chance_of_reaching_a_limit(
    low: float, sigma: float, limit: float, chance: float
) -> None:
    assert reach_probability(low, sigma, limit) == pytest.approx(chance, abs=1e-4)


def stage_at(
    crop: str, stage: str, age_days: int, **days: int
) -> tuple[str, bool, bool, str]:
    night = date(2026, 4, 12)
    found = stage_in_force(
        find_crop(crop, {}),
        stage,
        date.fromordinal(night.toordinal() - age_days),
        night,
        stage_days=days.get("stage_days", 8),
        dormant_days=days.get("dormant_days", 30),
    )
    return found.stage, found.is_assumed, found.is_muted, found.reason


@pytest.mark.parametrize(
    ("crop", "stage", "age", "expected", "assumed"),
    [
        ("apricot", "first bloom", 7, "first bloom", False),
        ("apricot", "first bloom", 8, "full bloom", True),
        # One stage further for every eight days.
        ("apricot", "swollen bud", 42, "full bloom", True),
        ("apricot", "green fruit", 30, "green fruit", True),
        # The next row is hardier on paper; the tender one stays in force.
        ("strawberry", "open blossom", 20, "open blossom", True),
    ],
)
def test_an_old_stage_counts_as_the_next_if_that_is_more_tender(
    crop: str, stage: str, age: int, expected: str, *, assumed: bool
) -> None:
    found, is_assumed, is_muted, reason = stage_at(crop, stage, age)
    assert (found, is_assumed, is_muted) == (expected, assumed, False)
    assert "looked at" in reason


def test_dormant_is_believed_for_a_while_and_then_not() -> None:
    assert stage_at("apple", DORMANT, 10)[2] is True
    stage, _, is_muted, reason = stage_at("apple", DORMANT, 30)
    assert (stage, is_muted) == (DORMANT, False)
    assert "may have moved" in reason


@pytest.mark.parametrize("stage", [DORMANT, "first bloom"])
def test_a_look_that_is_to_come_is_not_believed(stage: str) -> None:
    found, is_assumed, is_muted, reason = stage_at("apricot", stage, -300)
    assert not is_muted
    assert "date to come" in reason
    assert is_assumed or found == DORMANT


def test_harvested_is_muted_until_a_new_season_may_begin() -> None:
    assert stage_at("apple", HARVESTED, 100)[2] is True
    stage, _, is_muted, reason = stage_at("apple", HARVESTED, 200)
    assert (stage, is_muted) == (HARVESTED, False)
    assert "new season" in reason


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"stages": []}, "at least one"),
        ({"colour": "red"}, 'unknown key "colour"'),
        ({"exposure": "20 min"}, "half hours"),
        (
            {"stages": [{"stage": "bloom", "t10": "27", "source": "x"}]},
            "has no unit",
        ),
        ({"stages": [{"stage": "bloom", "t10": "27 degF"}]}, "needs source"),
        (
            {
                "stages": [
                    {
                        "stage": "bloom",
                        "t10": "24 degF",
                        "t90": "27 degF",
                        "source": "x",
                    }
                ]
            },
            "not colder",
        ),
        ({"stages": [{"stage": "bloom", "source": "x"}]}, "neither t10"),
        (
            {"stages": [{"stage": "bloom", "t10": "27 degC", "source": "x"}]},
            "cannot be meant",
        ),
    ],
)
def test_a_broken_crop_file_says_what_is_wrong(
    change: dict[str, object], words: str
) -> None:
    good = {
        "name": "medlar",
        "title": "medlar",
        "stages": [{"stage": "bloom", "t10": "27 degF", "source": "own notes"}],
    }
    assert parse_crop(good, "medlar.toml").stages[0].stage == "bloom"
    with pytest.raises(CropFileError, match=words) as caught:
        parse_crop(good | change, "medlar.toml")
    assert "medlar.toml" in str(caught.value)


def test_a_stage_seen_the_morning_after_says_so() -> None:
    stage, is_assumed, _, reason = stage_at("apricot", "first bloom", -1)
    assert (stage, is_assumed) == ("first bloom", False)
    assert reason == "first bloom, looked at after this night's evening"
