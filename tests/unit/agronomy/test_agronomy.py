"""Crop tables, kill curve and stages against what was published."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import expit

from frostalert.agronomy.ageing import Pace
from frostalert.agronomy.crop_file import FROM_MEMORY, parse_crop
from frostalert.agronomy.crops import find_crop, find_stage, packaged_crop_names
from frostalert.agronomy.kill import (
    ERROR_NODES,
    kill_pct,
    kills_at_nodes,
    mean_over_error,
    reach_probability,
    reached_share,
)
from frostalert.agronomy.stages import Look, stage_in_force
from frostalert.errors import (
    CropFileError,
    PhysicsDomainError,
    UnknownCropError,
    UnknownStageError,
)
from frostalert.model.site import DORMANT


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
# Guide (tart cherry, which has no value for two rows), FAO table 4.8 (Concord grape).
MORE_TABLES: dict[str, list[tuple[float | None, float | None]]] = {
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
        (None, None),
        (26, 22),
        (26, 24),
        (None, None),
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
    # University of Delaware for the tight bud: 22 to 27, the warm end.
    "strawberry": [10, 27, 28, 30, 28],
    "highbush-blueberry": [20, 23, 25, 27, 28, 28],
    "cranberry-early-black": [
        *(18, 20, 22, 25, 27, 30, 30, 30, 28),
        # Fruit by its colour; the more tender of the two cultivars.
        *(27, 26, 25, 23, 23, 23),
    ],
    "cranberry-stevens": [
        *(20, 22, 25, 27, 30, 30, 30, 30, 28),
        *(27, 26, 25, 24, 24, 24),
    ],
    # UC Cooperative Extension, Merced: small nuts, the most tender of the three.
    "almond": [28, 28, 28],
    "blackberry": [28],
    "walnut": [30],
    "kiwifruit": [29.3],
    "orange": [28],
}


@pytest.mark.parametrize("name", MORE_TABLES)
def test_other_tables_are_the_published_ones(name: str) -> None:
    rows = find_crop(name, {}).stages
    for row, published in zip(rows, MORE_TABLES[name], strict=True):
        for found, value in zip((row.t10_c, row.t90_c), published, strict=True):
            if value is None:
                assert found is None
            else:
                assert found == pytest.approx(celsius(value), abs=1e-6)
        assert row.has_curve is (None not in published)


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


def test_no_value_is_from_memory() -> None:
    remembered = {
        (name, row.stage)
        for name in packaged_crop_names()
        for row in find_crop(name, {}).stages
        if FROM_MEMORY in row.source and "authors from memory" not in row.source
    }
    assert remembered == {("kiwifruit", "flower buds")}  # the citation, not the value


def test_what_was_not_read_gets_no_percentage() -> None:
    rows = {row.stage: row for row in find_crop("tart-cherry", {}).stages}
    for stage, following in (
        ("side green", "green tip"),
        ("open cluster", "first white"),
    ):
        assert not rows[stage].has_curve
        assert rows[stage].t10_c is None
        assert rows[stage].alarm_c == rows[following].alarm_c


def test_vinifera_is_nowhere_hardier_than_concord() -> None:
    concord = {row.stage: row for row in find_crop("concord-grape", {}).stages}
    vinifera = {row.stage: row for row in find_crop("grape", {}).stages}
    shared = vinifera.keys() & concord.keys()
    assert shared >= {"first swell", "full swell", "bud burst", "first leaf"}
    for stage in shared:
        assert vinifera[stage].alarm_c >= concord[stage].alarm_c
        assert not vinifera[stage].has_curve
    # MSU's copy has 10 % kill at 26 degF; Purdue's 20 degF is the colder of the two.
    assert vinifera["full swell"].t10_c == pytest.approx(celsius(26))
    leaves = [row.alarm_c for name, row in concord.items() if "leaf" in name]
    assert vinifera["new green growth"].alarm_c >= max(leaves)


@pytest.mark.parametrize(
    "name",
    [
        name
        for name in packaged_crop_names()
        if not name.startswith(("cranberry", "strawberry"))
    ],
)
def test_a_later_stage_is_never_hardier(name: str) -> None:
    # Cranberry and strawberry fruit are published as hardier than the open flower.
    warns = [row.alarm_c for row in find_crop(name, {}).stages]
    assert warns == sorted(warns)


def test_concord_keeps_its_warning_in_later_leaves() -> None:
    warns = [row.alarm_c for row in find_crop("concord-grape", {}).stages]
    expected = [celsius(value) for value in (13, 26, 28, 28.5, 29, 29, 29)]
    assert np.array(warns) == pytest.approx(np.array(expected))


def test_dormant_limits_are_the_published_ones() -> None:
    found = {
        name: row.damage_begins_c
        for name in packaged_crop_names()
        if (row := find_crop(name, {}).dormant) is not None
    }
    # FAO table 4.8 after Winkler 1974; Penn State; Hewett and Young (-10 degC).
    expected = {"concord-grape": -18, "grape": -5, "kiwifruit": 14, "strawberry": 10}
    assert found == {
        name: pytest.approx(celsius(value)) for name, value in expected.items()
    }


def test_the_fastest_degree_days_are_the_published_ones() -> None:
    # Geneva NY 1995, NW Michigan 2021 and Purdue, in degF days above a base in degF.
    found = {
        name: (round(first.need_cd * 1.8), round(first.base_c * 1.8 + 32), first.stage)
        for name in packaged_crop_names()
        if (first := find_crop(name, {}).first_stage) is not None
    }
    assert found == {
        "apple": (24, 43, "green tip"),
        "grape": (120, 50, "bud burst"),
        "sweet-cherry": (111, 42, "side green"),
        "tart-cherry": (111, 42, "side green"),
    }


def test_cranberry_grows_tender_at_a_stage_as_published() -> None:
    # University of Maine: 25 (27 after 5 to 7 days), 27 (29.5 to 30 after as many).
    early, late = (
        {
            row.stage: (round(row.aged_c * 1.8 + 32, 1), row.aged_days)
            for row in find_crop(name, {}).stages
            if row.aged_c is not None
        }
        for name in ("cranberry-early-black", "cranberry-stevens")
    )
    assert early == {"cabbage head": (27, 5), "bud elongation": (30, 5)}
    assert late == {"bud swell": (27, 5), "cabbage head": (30, 5)}


def test_japanese_plum_is_judged_as_peach_and_says_so() -> None:
    plum, peach = find_crop("Japanese plum", {}), find_crop("peach", {})
    assert plum.stages == peach.stages
    assert "peach table stands in" in plum.notes[0]


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


@pytest.mark.parametrize(
    ("wanted", "near"),
    [
        ("aprikot", ["apricot"]),
        ("Peech", ["peach"]),
        ("appel", ["apple"]),
        ("cherry", ["sweet-cherry", "tart-cherry"]),
        ("cherries", ["sweet-cherry", "tart-cherry"]),
        ("blueberry", ["highbush-blueberry", "rabbiteye-blueberry"]),
        ("cranberries", ["cranberry-early-black", "cranberry-stevens"]),
        ("strawbery", ["strawberry"]),
        ("pruen", ["prune"]),
    ],
)
def test_another_spelling_comes_with_the_nearest_names(
    wanted: str, near: list[str]
) -> None:
    with pytest.raises(UnknownCropError) as caught:
        find_crop(wanted, {})
    assert caught.value.nearest == near
    assert "the nearest name" in str(caught.value)
    assert "write" not in str(caught.value)


def test_a_stage_of_another_crop_is_never_taken_for_one_with_a_word_in_common() -> None:
    crops = [find_crop(name, {}) for name in packaged_crop_names()]
    for crop in crops:
        own = {name.replace("-", " ") for name in crop.stage_names}
        for stage in {name for other in crops for name in other.stage_names}:
            if stage.replace("-", " ") in own:
                continue
            with pytest.raises(UnknownStageError) as caught:
                find_stage(crop, stage)
            assert caught.value.nearest == []
            listed = ", ".join(f'"{name}"' for name in crop.stage_names)
            assert f"write one of {listed}" in str(caught.value)


@pytest.mark.parametrize(
    ("wanted", "near"),
    [
        ("full blom", ["full bloom"]),
        ("Ful-Bloom", ["full bloom"]),
        ("fisrt bloom", ["first bloom"]),
        ("green fruits", ["green fruit"]),
        ("bloom", []),
        ("full swell", []),
        ("full", []),
    ],
)
def test_a_misspelt_stage_is_offered_as_it_is_written(
    wanted: str, near: list[str]
) -> None:
    with pytest.raises(UnknownStageError) as caught:
        find_stage(find_crop("apricot", {}), wanted)
    assert caught.value.nearest == near


@pytest.mark.parametrize(
    "plant",
    [
        "raspberry",
        "gooseberry",
        "currant",
        "blackcurrant",
        "redcurrant",
        "quince",
        "hazelnut",
        "fig",
        "medlar",
        "elderberry",
        "haskap",
        "honeyberry",
        "saskatoon",
        "persimmon",
        "hops",
        "bilberry",
        "mulberry",
        "pecan",
        "pea",
        "loganberry",
        "jostaberry",
        "crowberry",
        "chestnut",
        "grapefruit",
        "lemon",
        "pawpaw",
        "kiwiberry",
    ],
)
def test_another_plant_is_never_offered(plant: str) -> None:
    with pytest.raises(UnknownCropError, match="no published table") as caught:
        find_crop(plant, {})
    assert caught.value.nearest == []
    assert "crop file of your own" in str(caught.value)
    assert not any(f'"{name}"' in str(caught.value) for name in packaged_crop_names())


@pytest.mark.parametrize(
    ("other", "name"),
    [
        ("plum", "european-plum"),
        ("Prune", "european-plum"),
        ("boysenberry", "blackberry"),
        ("sour cherry", "tart-cherry"),
        ("kiwi", "kiwifruit"),
        ("vinifera", "grape"),
    ],
)
def test_other_names_of_a_plant_are_known(other: str, name: str) -> None:
    assert find_crop(other, {}) is find_crop(name, {})


def test_ones_own_crop_comes_before_another_name() -> None:
    own = parse_crop(
        {
            "name": "plum",
            "title": "plum",
            "aliases": ["damson"],
            "stages": [{"stage": "bloom", "t10": "27 degF", "source": "own notes"}],
        },
        "plum.toml",
    )
    assert find_crop("plum", {"plum": own}) is own
    assert find_crop("Damson", {"plum": own}) is own


def test_an_unknown_stage_comes_with_the_nearest() -> None:
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
    found = mean_over_error(kills_at_nodes(low, sigma, -2.8, -4.4))
    assert found == pytest.approx(expected, abs=0.02)


def test_the_curve_is_that_of_scipy_far_beyond_its_points_too() -> None:
    temps = np.array([-900.0, -60.0, -4.4, -3.6, -2.8, 0.0, 12.0, 900.0, np.nan])
    steep = np.log(81.0) / 1.6
    assert kill_pct(temps, -2.8, -4.4) == pytest.approx(
        100.0 * expit(steep * (-3.6 - temps)), rel=1e-12, abs=1e-300, nan_ok=True
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
        Look(stage=stage, seen=date.fromordinal(night.toordinal() - age_days)),
        night,
        Pace(**days),
    )
    return found.stage, found.is_assumed, found.is_muted, found.reason


@pytest.mark.parametrize(
    ("crop", "stage", "age", "expected", "assumed"),
    [
        # Four days a stage from first pink to petal fall, else eight.
        ("apricot", "first bloom", 3, "first bloom", False),
        ("apricot", "first bloom", 4, "full bloom", True),
        ("peach", "first pink", 7, "first bloom", True),
        ("peach", "first pink", 8, "full bloom", True),
        ("apple", "tight cluster", 7, "tight cluster", False),
        ("apple", "tight cluster", 8, "first pink", True),
        ("apricot", "swollen bud", 23, "calyx red", True),
        ("apricot", "swollen bud", 24, "first white", True),
        ("apricot", "swollen bud", 28, "first bloom", True),
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


def test_dormant_seen_in_spring_is_believed_for_a_while_and_then_not() -> None:
    assert stage_at("apple", DORMANT, 10)[2] is True
    stage, is_assumed, is_muted, reason = stage_at("apple", DORMANT, 30)
    assert (is_assumed, is_muted) == (True, False)
    assert stage != DORMANT
    assert "may have moved" in reason


@pytest.mark.parametrize("stage", [DORMANT, "first bloom"])
def test_a_look_that_is_to_come_is_not_believed(stage: str) -> None:
    found, is_assumed, is_muted, reason = stage_at("apricot", stage, -300)
    assert not is_muted
    assert "date to come" in reason
    assert is_assumed or found == DORMANT


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


@given(
    low_c=st.floats(-15.0, 10.0),
    sigma_c=st.floats(0.5, 4.0),
    limit_c=st.floats(-6.0, 0.0),
)
def test_a_chance_by_nodes_is_the_chance_by_formula(
    low_c: float, sigma_c: float, limit_c: float
) -> None:
    by_nodes = reached_share(low_c + sigma_c * ERROR_NODES, limit_c)
    by_formula = float(reach_probability(low_c, sigma_c, limit_c))
    assert by_nodes == pytest.approx(by_formula, abs=1e-8)
    # What holds all that would reach it takes the chance away.
    held = np.maximum(low_c + sigma_c * ERROR_NODES, limit_c + 0.5)
    assert reached_share(held, limit_c) == 0.0
