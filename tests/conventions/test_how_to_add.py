"""What DEVELOPERS.md says of adding a method and a channel, done in a copy of the tree.

First with the kind alone: the type checker names every place that lacks a part. Then
with the parts: it is content, and the real program uses them. Two runs of the type
checker each: the first of all takes some 10 s, each of the others some 5 s.
"""

import json
import re
import shutil
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

import pytest

from frostalert.messages.sms import ONE_SEGMENT
from tests.conventions.additions import (
    FOGGING_BARE,
    FOGGING_PARTS,
    PUSH_BARE,
    PUSH_PARTS,
    Insertion,
)
from tests.support.configs import config_text
from tests.support.plans import night_grid
from tests.support.servers import Reply, http_server

ROOT = Path(__file__).parents[2]
NOW = "2026-04-12T14:45"
FOG_LINE = """
[[equipment]]
name = "Fog line"
method = "fogging"
flow = "20 gpm"
gain = "5 degF"
gain_is_measured = true
"""


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the type checker remembers: by content, whichever the copy."""
    return tmp_path_factory.mktemp("types")


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    """A copy of the program in a folder of its own, with a cold night's forecast."""
    copy = tmp_path / "copy"
    leave_out = shutil.ignore_patterns("__pycache__")
    shutil.copytree(ROOT / "frostalert", copy / "frostalert", ignore=leave_out)
    shutil.copy(ROOT / "pyproject.toml", copy)
    (copy / "grid.json").write_text(night_grid(-2.5))
    return copy


def put(tree: Path, insertions: Iterable[Insertion]) -> None:
    for one in insertions:
        one.put_into(tree)


def run(tree: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run Python in the copy."""
    return subprocess.run(
        [sys.executable, *arguments],
        cwd=tree,
        capture_output=True,
        text=True,
        timeout=200,
        check=False,
    )


def refused(tree: Path, cache: Path) -> set[str]:
    """Return the files that the type checker names."""
    done = run(tree, "-m", "mypy", "--cache-dir", str(cache), "frostalert")
    assert done.returncode in (0, 1), done.stdout + done.stderr
    return set(re.findall(r"^(\S+?):\d+: error:", done.stdout, re.MULTILINE))


def program(tree: Path, *arguments: str) -> str:
    """Return what the copy's own program prints."""
    done = run(tree, "-m", "frostalert", *arguments)
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout


def assert_tidy(tree: Path) -> None:
    """Put imports in order as every contributor does; then nothing is found."""
    run(tree, "-m", "ruff", "check", "--fix", "--select", "I", ".")
    run(tree, "-m", "ruff", "format", ".")
    done = run(tree, "-m", "ruff", "check", ".")
    assert done.returncode == 0, done.stdout


def files_of(insertions: Iterable[Insertion], *, is_new: bool) -> set[str]:
    """Return the files that are made, or those that are changed."""
    return {one.file for one in insertions if is_new != bool(one.after)}


def files_told(title: str) -> set[str]:
    """Return the files that a paragraph of "How to add" names."""
    text = (ROOT / "DEVELOPERS.md").read_text().partition("## How to add")[2]
    paragraph = text.partition(f"**{title}.**")[2].partition("\n\n**")[0]
    return {f"frostalert/{name}" for name in re.findall(r"`([\w/]+\.py)`", paragraph)}


def test_a_method_of_a_new_kind_is_refused_until_it_has_its_parts(
    tree: Path, cache: Path
) -> None:
    put(tree, FOGGING_BARE)
    assert refused(tree, cache) == files_of(FOGGING_PARTS, is_new=False)

    put(tree, FOGGING_PARTS)
    assert_tidy(tree)
    assert refused(tree, cache) == set()
    config = config_text(more=FOG_LINE).replace('["micro-sprinklers"]', '["fogging"]')
    (tree / "frostalert.toml").write_text(config)
    night = ("--forecast", "grid.json", "--now", NOW)
    [chosen] = json.loads(program(tree, "plan", "--json", *night))["plan"]["chosen"]
    assert (chosen["method"], chosen["equipment"]) == ("fogging", "Fog line")
    assert chosen["gain"]["high_delta_c"] == pytest.approx(5 / 1.8, abs=0.001)
    assert chosen["loss_after"] < chosen["loss_before"]
    words = " ".join(program(tree, "plan", *night).split())
    assert "Fog line (fogging)" in words
    assert "Fog that drifts over a road blinds drivers." in words


def test_a_new_channel_is_refused_until_it_has_its_parts(
    tree: Path, cache: Path
) -> None:
    put(tree, PUSH_BARE)
    # The file's table and what is made of it are asked for by those that are named.
    later = {"frostalert/config/schema.py", "frostalert/config/to_model.py"}
    assert refused(tree, cache) == files_of(PUSH_PARTS, is_new=False) - later

    put(tree, PUSH_PARTS)
    assert_tidy(tree)
    assert refused(tree, cache) == set()
    with http_server(lambda _: Reply(200, '{"id": "p-1"}')) as server:
        state = str(tree / "state")
        config = config_text(sms_url=server.url, state=state).replace(
            'channels = ["email"]', 'channels = ["push"]\ntopic = "frost"'
        )
        (tree / "frostalert.toml").write_text(config)
        without = run(tree, "-m", "frostalert", "config", "check")
        assert "somebody is told by push, so it needs a [push] section" in " ".join(
            without.stderr.split()
        )
        section = f'\n[push]\nurl = "{server.url}/send"\n'
        (tree / "frostalert.toml").write_text(config + section)
        program(tree, "once", "--forecast", "grid.json", "--now", NOW)
    [sent] = [json.loads(seen.body) for seen in server.seen if seen.path == "/send"]
    assert sent["topic"] == "frost"
    assert sent["text"].startswith("TEST")
    assert len(sent["text"]) <= ONE_SEGMENT
    asked = "from frostalert import schedule as a, supervisor as b\nprint({code})"
    for lanes in ("a.LANES", "list(b.LIMITS_S)"):
        assert "'push'" in run(tree, "-c", asked.format(code=lanes)).stdout


@pytest.mark.parametrize(
    ("title", "insertions"),
    [
        ("A method", (*FOGGING_BARE, *FOGGING_PARTS)),
        ("A channel", (*PUSH_BARE, *PUSH_PARTS)),
    ],
)
def test_developers_are_told_of_each_file_and_of_no_other(
    title: str, insertions: tuple[Insertion, ...]
) -> None:
    assert files_told(title) == files_of(insertions, is_new=False)
