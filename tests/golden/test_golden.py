"""What the program says is what it said when the golden files were written."""

import re

import pytest

from frostalert.model.notice import Subject
from tests.golden.documents import FOLDER, GROUPS, canonical, changes, made, stored

_HEAD = re.compile(r"^#\d+ .*  (\S+) to \w+ by (\w+)( AGAIN)?$", re.MULTILINE)


@pytest.mark.parametrize("group", GROUPS)
def test_nothing_is_said_otherwise_than_before(group: str) -> None:
    found = changes(group, stored(group), made(group))
    assert not found, "\n\n".join(["the golden files differ:", *found])


def test_no_file_is_kept_that_nothing_makes() -> None:
    assert {path.name for path in FOLDER.iterdir()} == set(GROUPS)


def test_every_kind_of_message_is_kept() -> None:
    texts = [text for group in GROUPS for text in stored(group).values()]
    found = {match.group(1, 2) for text in texts for match in _HEAD.finditer(text)}
    kinds = set(Subject) - {Subject.TEST}
    assert {kind for kind, channel in found if channel == "email"} == kinds
    # Quiet news goes by the first channel of a person alone.
    assert {kind for kind, channel in found if channel == "sms"} >= kinds - {
        Subject.DAILY_LINE,
        Subject.MORNING_AFTER,
    }
    sent = stored("commands-that-send")
    assert "Subject: TEST from frostalert" in sent["mails.txt"]
    assert "Body: TEST from frostalert" in sent["texts.txt"]


@pytest.mark.parametrize(
    "words",
    [
        "Subject: Frost possible",
        "Subject: Get ready from",
        "Subject: Nothing you have can stop it",
        "Subject: Start now:",
        "Subject: Start now (old forecast)",
        "(old forecast): frost tonight",
        "Subject: Do not start",
        "Subject: Covers stay on",
        "Subject: Lay covers now, in the dark",
        "You can start after all",
        "Time is short",
        "Subject: The forecast no longer shows",
        "Subject: Before you stop",
        "Subject: Frost risk unknown",
        "Subject: Quiet through",
        "Subject: Frost risk tonight",
        "Subject: Weekly check",
        "Subject: frostalert needs you: the changed configuration",
        "Subject: frostalert needs you: no new forecast",
        "Subject: frostalert needs you: it was not running",
        "put off messages",
        "may not have arrived",
        "In force: Freeze Warning",
        "frost.heron-bench.example/answer/Ines",
        "BEGIN:VCALENDAR",
        "prepare to Tobias by sms",
        "START NOW",
        "AFTER ALL",
        "DO NOT START",
    ],
)
def test_what_messages_can_say_is_kept(words: str) -> None:
    kept = " ".join(text for group in GROUPS for text in stored(group).values())
    assert words in " ".join(kept.split())


def test_a_changed_word_is_shown_with_its_file() -> None:
    [found] = changes("group", {"a.txt": "one\ntwo\n"}, {"a.txt": "one\n2\n"})
    assert found.splitlines() == [
        "group/a.txt differs",
        "--- group/a.txt kept",
        "+++ group/a.txt now",
        "@@ -1,2 +1,2 @@",
        " one",
        "-two",
        "+2",
    ]


def test_a_file_that_comes_or_goes_is_named() -> None:
    assert changes("group", {"a": ""}, {"b": ""}) == [
        "group/a: gone",
        "group/b: not kept",
    ]
    assert changes("group", {"a": ""}, {"a": ""}) == []


def test_only_the_last_digits_of_a_number_may_vary() -> None:
    assert canonical("a.json", '{"x": 1.0000000001}') == canonical(
        "a.json", '{"x": 1.0}'
    )
    assert canonical("a.json", '{"x": 1.0001}') != canonical("a.json", '{"x": 1.0}')
    assert canonical("a.json", '{"x": 1}[exit code 2]\n').endswith("}[exit code 2]\n")
