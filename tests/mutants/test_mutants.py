"""Changes of one token in short: they are found, made, tried, and counted rightly."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.mutants.__main__ import choose, lines, sources
from tests.mutants.kinds import KINDS, Mutant, every_mutant, mutants_of
from tests.mutants.nearest import MOST_S, UNSEEN, WATCHED, Touched, watch
from tests.mutants.rooms import DANGEROUS, ROOMS, TOP, is_dangerous
from tests.mutants.workshop import ROOT, Tried, Workshop

SMALL = '''
"""A rule."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Rule:
    limit: float = -2.5


def is_harmful(low: float, rule: Rule, others: list[int] | None = None) -> bool:
    """Return whether a low does harm: 3 > 2 - 1."""
    if others is None:
        return low < rule.limit
    return not others and low - 1.0 <= min(others) and f"{low > 1}" in "a" + "b"
'''
RULE = """
def harmful(low):
    if low != low:
        return True
    return low <= -2.0
"""
TEST = """
from frostalert.plan.rule import harmful

def test_it():
    assert harmful(-2.0)
    assert not harmful(2.0)
"""


def test_each_kind_of_token_is_found_and_changed_alone() -> None:
    found = {(m.kind, m.before, m.after) for m in mutants_of("rule.py", SMALL)}
    assert found == {
        ("sign", "-", ""),
        ("number", "2.5", "3.75"),
        ("equal", "is", "is not"),
        ("return", "return low < rule.limit", "pass"),
        ("turned", "<", ">"),
        ("bound", "<", "<="),
        ("not", "not", ""),
        ("logic", "and", "or"),
        ("sum", "-", "+"),
        ("number", "1.0", "1.5"),
        ("turned", "<=", ">="),
        ("bound", "<=", "<"),
        ("extreme", "min", "max"),
        ("equal", "in", "not in"),
    }
    for mutant in mutants_of("rule.py", SMALL):
        changed = mutant.apply(SMALL)
        ast.parse(changed)
        rest = SMALL[: mutant.start], SMALL[mutant.end :]
        assert changed == rest[0] + mutant.after + rest[1]


def test_every_file_of_the_package_can_be_changed_and_is_read_only() -> None:
    files = sources()
    found = list(every_mutant(files))
    assert {m.kind for m in found} == set(KINDS)
    assert len(found) > 3000
    for mutant in found[::97]:
        ast.parse(mutant.apply(files[mutant.path]))
    assert sources() == files


def test_the_seed_chooses_and_no_file_has_them_all() -> None:
    found = list(every_mutant(sources()))
    chosen = choose(found, 60, 5)
    assert chosen == choose(found, 60, 5)
    assert chosen != choose(found, 60, 6)
    assert len({mutant.path for mutant in chosen}) == 60


@pytest.mark.parametrize("room", ROOMS)
def test_each_room_is_there(room: str) -> None:
    assert room == TOP or (ROOT / "frostalert" / room).is_dir()
    assert DANGEROUS.get(room, frozenset()) <= set(KINDS)


def test_what_is_watched_and_what_is_not_is_there() -> None:
    for path in (*WATCHED, *(f"tests/{name}" for name in UNSEEN)):
        assert (ROOT / path).exists(), path


def test_some_changes_could_lose_a_crop() -> None:
    assert is_dangerous("frostalert/risk/hands.py", "bound")
    assert not is_dangerous("frostalert/web/page.py", "bound")


USED = """from frostalert.plan.rule import LIMIT

def is_over(value):
    return value > LIMIT
"""
HOLDS = """LIMIT = 3


def half(value):
    if value is None:
        return 0
    return value / 2
"""


def test_a_change_is_tried_against_the_tests_that_run_it() -> None:
    rule, used = "frostalert/plan/rule.py", "frostalert/plan/used.py"
    touched = Touched(
        by_line={
            rule: {
                5: frozenset({"a::quick", "b::slow"}),
                7: frozenset({"a::quick", "c::long", "d/test_rule.py::own"}),
            },
            used: {4: frozenset({"e::user"})},
        },
        lasted_s={
            "a::quick": 0.1,
            "b::slow": 2.0,
            "c::long": MOST_S,
            "d/test_rule.py::own": 30.0,
            "e::user": 1.0,
        },
        sources={rule: HOLDS, used: USED},
    )
    tests = {(m.line, m.before): touched.tests_of(m) for m in mutants_of(rule, HOLDS)}
    # A name given outside of functions: whoever runs a line that uses it.
    assert tests[1, "3"] == ("e::user",)
    # The quickest first; of the two long ones there is time for the file's own.
    assert tests[5, "is"] == ("a::quick", "b::slow")
    assert tests[7, "/"] == ("a::quick", "d/test_rule.py::own")
    # Run by no test: those that run anything of the file.
    assert set(tests[6, "return 0"]) == {"a::quick", "b::slow", "d/test_rule.py::own"}


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    room = tmp_path / "frostalert" / "plan"
    room.mkdir(parents=True)
    for folder in (room.parent, room):
        (folder / "__init__.py").write_text('"""Small."""\n')
    (room / "rule.py").write_text(RULE)
    (tmp_path / "tests").mkdir()
    (tmp_path / "tests" / "test_rule.py").write_text(TEST)
    (tmp_path / "pyproject.toml").write_text("[tool.pytest.ini_options]\n")
    made = Workshop(tmp_path)
    yield made
    made.close()
    assert not made.folder.exists()


def test_what_tests_notice_is_killed_and_what_changes_nothing_survives(
    workshop: Workshop,
) -> None:
    tests = ["tests/test_rule.py"]
    workshop.warm_up(tests)
    by_change = {
        (m.before, m.after): m for m in mutants_of("frostalert/plan/rule.py", RULE)
    }
    ends = {
        change: workshop.attempt(mutant, tests, 60.0).end
        for change, mutant in by_change.items()
        if change in {("<=", ">="), ("<=", "<"), ("True", "False")}
    }
    assert ends == {
        ("<=", ">="): "killed",
        ("<=", "<"): "killed",
        # No test asks for it: nothing that is no number is ever given.
        ("True", "False"): "survived",
    }
    assert (workshop.folder / "frostalert/plan/rule.py").read_text() == RULE
    assert (workshop.root / "frostalert/plan/rule.py").read_text() == RULE


def test_which_lines_a_test_runs_is_seen(tmp_path: Path) -> None:
    """With the real package, by its own example."""
    mutant = next(
        m for m in every_mutant(sources()) if m.path == "frostalert/model/percent.py"
    )
    watched = ("frostalert/model/percent.py",)
    touched = watch(ROOT, sources(), watched)
    assert touched.tests_of(mutant)
    assert set(touched.lasted_s) >= set(touched.tests_of(mutant))


def test_what_never_ends_is_ended_and_counted_apart(workshop: Workshop) -> None:
    path = workshop.folder / "tests" / "test_rule.py"
    path.write_text("def test_it():\n    while True:\n        pass\n")
    mutant = mutants_of("frostalert/plan/rule.py", RULE)[0]
    assert workshop.attempt(mutant, ["tests/test_rule.py"], 1.0).end == "timed out"


def test_the_last_lines_tell_rate_and_dangerous_survivors() -> None:
    def tried(path: str, kind: str, end: str) -> Tried:
        mutant = Mutant(
            path=path, line=3, kind=kind, start=0, end=1, before="<", after=">"
        )
        return Tried(mutant=mutant, end=end)

    found = [
        tried("frostalert/plan/a.py", "turned", "survived"),
        tried("frostalert/plan/a.py", "sum", "survived"),
        tried("frostalert/web/b.py", "turned", "timed out"),
        tried("frostalert/web/b.py", "turned", "killed"),
    ]
    said = list(lines(found, 9))
    assert said[0] == "changes tried: 4 of 9"
    assert said[1] == "of them timed out: 1"
    assert "room web: 2 of 2 killed, 100 %" in said
    assert "survived: DANGEROUS frostalert/plan/a.py:3 turned: < -> >" in said
    assert "survived: frostalert/plan/a.py:3 sum: < -> >" in said
    assert said[-2:] == ["killed: 50 %", "survivors of the dangerous kinds: 1"]
