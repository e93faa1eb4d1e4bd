"""The house rules that can be checked."""

import ast
import re
import subprocess
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from frostalert.agronomy.crop_file import parse_crop
from frostalert.cli.commands import COMMANDS
from tests.support.needs import needs

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "frostalert"
CORE = ("physics", "agronomy", "risk", "plan", "alarms")
NO_SOURCE = re.compile(r"(Definition|See |Our own (rule|definition|arrangement))")
"""What stands as a source and names nothing that a reader could look up."""
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "frostalert",
    "config",
    "tests",
    "deploy",
}
PAGES = (
    "README.md",
    "DEVELOPERS.md",
    "config/README.md",
    "deploy/README.md",
    "frostalert/README.md",
    "tests/README.md",
)
MOST_README_WORDS, MOST_GUIDE_BYTES = 1500, 14_000
MOST_BODY_LINES = 40
"""Lines of a function's body; a record that is made field by field counts as one."""
UNIT_SUFFIX = re.compile(r"_(c|hpa|pct|m|m2|mps|mm|mm_per_h|h|minutes|days|s)$")


def modules(*folders: str) -> list[Path]:
    roots = [PACKAGE / folder for folder in folders] if folders else [PACKAGE]
    return sorted(path for root in roots for path in root.rglob("*.py"))


def functions(path: Path) -> Iterator[ast.FunctionDef]:
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.FunctionDef):
            yield node


@needs("git")
def test_nothing_else_stands_at_the_root() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode:
        why = (listed.stderr.splitlines() or ["no reason given"])[0]
        pytest.skip(f"git lists no files here ({why}): test in a clone of your own")
    names = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {name for name in names if not name.startswith(".")} <= TOP_LEVEL


def _record_lines(function: ast.FunctionDef) -> int:
    """Return the lines of the longest record that a function makes, but for one."""
    made = [
        node
        for node in ast.walk(function)
        if (isinstance(node, ast.Call) and node.keywords and not node.args)
        or isinstance(node, ast.Dict)
    ]
    return max(((n.end_lineno or 0) - n.lineno for n in made), default=0)


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_functions_stay_small(path: Path) -> None:
    for function in functions(path):
        body = function.body[1:] if ast.get_docstring(function) else function.body
        if not body:
            continue
        lines = (
            (body[-1].end_lineno or 0) - body[0].lineno + 1 - _record_lines(function)
        )
        assert lines <= MOST_BODY_LINES, f"{function.name} has {lines} lines"


@pytest.mark.parametrize(
    "path",
    [path for path in modules(*CORE) if path.name != "__init__.py"],
    ids=lambda p: str(p.relative_to(PACKAGE)),
)
def test_public_functions_of_the_core_give_units_and_only_sources_that_name_one(
    path: Path,
) -> None:
    for function in functions(path):
        text = ast.get_docstring(function) or ""
        if function.name.startswith("_") or "\n" not in text:
            continue
        is_method = function.args.args and function.args.args[0].arg == "self"
        if is_method or (path.parts[-2] == "agronomy" and path.stem == "crops"):
            continue
        for source in re.findall(r"\.\. \[\d+\] (.*)", text):
            assert not NO_SOURCE.match(source), f"{function.name} names nothing"
        arguments = [*function.args.args, *function.args.kwonlyargs]
        for argument in arguments:
            if UNIT_SUFFIX.search(argument.arg):
                section = text.partition("Parameters\n")[2]
                described = section.partition(argument.arg)[2][:400]
                assert "[" in described, f"{function.name}: {argument.arg} has no unit"


def test_no_catch_all_modules() -> None:
    banned = {"utils", "helpers", "common", "misc", "manager"}
    assert not {path.stem for path in modules()} & banned


def test_the_wall_clock_is_read_in_one_place() -> None:
    readers = [
        path.name
        for path in modules()
        if re.search(r"datetime\.now|date\.today|time\.time\(", path.read_text())
    ]
    assert readers == ["clock.py"]


def test_every_packaged_crop_row_names_a_source() -> None:
    for path in (PACKAGE / "agronomy" / "crops").glob("*.toml"):
        text = path.read_text()
        tables = re.findall(r"^\[.*\]$", text, re.MULTILINE)
        assert len(tables) == text.count("\nsource = ")


def test_the_readme_has_exactly_two_commands_in_its_quick_start() -> None:
    text = (ROOT / "README.md").read_text()
    section = text.partition("## Quick start\n")[2].partition("\n## ")[0]
    blocks = re.findall(r"```sh\n(.*?)```", section, re.DOTALL)
    assert len(blocks) == 2
    assert all(len(block.strip().splitlines()) == 1 for block in blocks)


def test_the_readme_is_short() -> None:
    text = (ROOT / "README.md").read_text().partition("\n## License\n")
    assert text[2]
    assert len(text[0].split()) <= MOST_README_WORDS


def test_the_contributors_guide_is_short() -> None:
    assert len((ROOT / "DEVELOPERS.md").read_bytes()) <= MOST_GUIDE_BYTES


@pytest.mark.parametrize("page", PAGES)
def test_what_a_page_links_to_is_there(page: str) -> None:
    path = ROOT / page
    for link in re.findall(r"\]\(([^)]+)\)", path.read_text()):
        if link.startswith("https://"):
            continue
        name, _, anchor = link.partition("#")
        target = (path.parent / name).resolve() if name else path
        assert target.exists(), link
        assert not anchor or anchor in anchors(target), link


def anchors(page: Path) -> set[str]:
    titles = re.findall(r"^#+ (.+)$", page.read_text(), re.MULTILINE)
    return {re.sub(r"[^\w -]", "", title).lower().replace(" ", "-") for title in titles}


def test_the_configurations_page_shows_a_crop_file_that_is_read() -> None:
    text = (ROOT / "config" / "README.md").read_text()
    [block] = re.findall(r"```toml\n(.*?)```", text, re.DOTALL)
    assert parse_crop(tomllib.loads(block), "README.md").name == "medlar"


def test_every_command_stands_in_the_readme() -> None:
    text = (ROOT / "README.md").read_text()
    names = [command.name for command in COMMANDS]
    assert len(names) >= 8
    for name in names:
        assert f"frostalert {name}" in text
