"""Which tests are nearest to a room, and which changes there could lose a crop."""

from pathlib import Path

_UNIT, _SCENARIO = "tests/unit", "tests/scenario"


TOP = "top"
"""The files that stand in no room."""


def _scenarios(*names: str) -> tuple[str, ...]:
    return tuple(f"{_SCENARIO}/test_{name}.py" for name in names)


NEAREST: dict[str, tuple[str, ...]] = {
    "agronomy": (f"{_UNIT}/agronomy", f"{_UNIT}/risk", *_scenarios("plans")),
    "alarms": (
        f"{_UNIT}/alarms",
        *_scenarios("one_call", "taken_back", "starts", "due_starts", "service"),
    ),
    "config": ("tests/config",),
    "cycle": (
        f"{_UNIT}/cycle",
        *_scenarios("service", "ledger", "morning_after", "readings"),
        *_scenarios("several_sources", "people_change", "watchman", "replay"),
    ),
    "forecast": (
        "tests/adapters/test_nws.py",
        "tests/adapters/test_point_sources.py",
        "tests/adapters/test_doubtful_documents.py",
        "tests/adapters/test_nws_official.py",
    ),
    "messages": (
        f"{_UNIT}/messages",
        *_scenarios("plan_messages", "advice", "taken_back", "due_starts", "service"),
        *_scenarios("morning_after"),
    ),
    "model": (f"{_UNIT}/plan", f"{_UNIT}/alarms", f"{_UNIT}/risk"),
    "notify": ("tests/adapters/test_notify.py", "tests/adapters/test_arrivals.py"),
    "physics": (f"{_UNIT}/physics", f"{_UNIT}/risk"),
    "plan": (
        f"{_UNIT}/plan",
        *_scenarios("plans", "plan_progress", "advice", "plan_messages", "starts"),
    ),
    "report": (f"{_UNIT}/report", f"{_UNIT}/messages"),
    "risk": (
        f"{_UNIT}/risk",
        *_scenarios("several_sources", "readings", "warmth", "right_night"),
    ),
    "store": ("tests/store", f"{_UNIT}/cycle", *_scenarios("service")),
    TOP: (
        f"{_UNIT}/test_supervisor.py",
        "tests/adapters/test_transport.py",
        *_scenarios("service", "watchman", "readings", "wrong_clock"),
    ),
    "web": ("tests/adapters/test_web.py", "tests/adapters/test_personal_page.py"),
}
"""The nearest tests of each room, those of its units first. Each change is also tried
against the doctests of its own file, before all."""

DANGEROUS: dict[str, frozenset[str]] = {
    "physics": frozenset({"sum", "sign"}),
    "agronomy": frozenset({"number", "sum", "sign", "turned"}),
    "risk": frozenset(
        {"sum", "sign", "turned", "bound", "logic", "not", "extreme", "number"}
    ),
    "plan": frozenset({"turned", "bound", "logic", "not", "extreme", "number"}),
    "alarms": frozenset({"turned", "bound", "equal", "logic", "not", "return"}),
    "messages": frozenset({"turned", "logic", "not"}),
    "cycle": frozenset({"turned", "logic", "not", "return"}),
    "store": frozenset({"turned", "logic", "not"}),
}
"""What could lose a crop: the sign of what corrects a temperature, thresholds, the
comparisons of refusals and stops, and what must hold together to be safe."""


def room_of(path: str) -> str:
    """Return the room of a file of the package."""
    parts = Path(path).parts
    return parts[1] if len(parts) > len(("frostalert", "module.py")) else TOP


def nearest_tests(path: str, root: Path) -> tuple[str, ...]:
    """Return the tests that a changed file must pass, the nearest first."""
    room, name = room_of(path), Path(path).stem
    own = f"{_UNIT}/{room}/test_{name}.py"
    first = (own,) if (root / own).is_file() else ()
    return (path, *first, *NEAREST[room])


def units_of(tests: tuple[str, ...]) -> tuple[str, ...]:
    """Return the quicker of some tests: without the scenarios."""
    return tuple(path for path in tests if not path.startswith(_SCENARIO))


def is_dangerous(path: str, kind: str) -> bool:
    """Return whether a change that nobody notices could lose a crop."""
    return kind in DANGEROUS.get(room_of(path), frozenset())
