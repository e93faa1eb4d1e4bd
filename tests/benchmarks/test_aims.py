"""All benchmarks against their aims, in the short form: they measure what they say."""

import pytest

from tests.benchmarks import core, start_up, wet_bulb
from tests.benchmarks.__main__ import tell
from tests.benchmarks.aim import Aim
from tests.benchmarks.season import season_aims


def test_a_missed_aim_is_counted_either_way(capsys: pytest.CaptureFixture[str]) -> None:
    aims = [
        Aim(name="a", value=2.0, limit=2.0),
        Aim(name="b", value=2.1, limit=2.0),
        Aim(name="c", value=1.9, limit=2.0, is_least=True),
        Aim(name="d", value=9.0, unit="s"),
    ]
    assert tell(iter(aims)) == 1
    lines = capsys.readouterr().out.splitlines()
    assert lines == [
        "a: 2 (aim at most 2)",
        "b: 2.1 (aim at most 2, MISSED)",
        "c: 1.9 (aim at least 2, MISSED)",
        "d: 9 s",
        "aims missed: 2",
    ]
    assert tell(iter(aims[:1])) == 0


def test_each_part_measures_something() -> None:
    assert core.second_source_ratio(cells=2, rounds=1) > 0.0
    assert all(aim.value > 0.0 for aim in wet_bulb.aims(count=500, rounds=1)[::2])
    names = {aim.name for aim in start_up.aims(rounds=1)}
    assert "start of frostalert --help, times a bare import" in names
    night, ratio, changed = season_aims(nights=2)
    assert night.value > 0.0
    assert ratio.value > 0.0
    assert changed.value == 0
