"""The rooms that are changed, and which changes there could lose a crop."""

from pathlib import Path

TOP = "top"
"""The files that stand in no room."""
ROOMS = (
    "agronomy", "alarms", "config", "cycle", "forecast", "messages", "model", "notify",
    "physics", "plan", "report", "risk", "store", TOP, "web",
)  # fmt: skip
"""What is changed; `cli` puts the others together and is tried by hand."""

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


def is_dangerous(path: str, kind: str) -> bool:
    """Return whether a change that nobody notices could lose a crop."""
    return kind in DANGEROUS.get(room_of(path), frozenset())
