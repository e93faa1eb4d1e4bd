"""The ledger's nights as rows for a file, and as lines for a terminal."""

from collections.abc import Sequence
from datetime import timedelta

from frostalert.messages.wording import Wording
from frostalert.model.ledger import LedgerNight

COLUMNS = (
    "night",
    "kind",
    "worst_block",
    "forecast_low_c",
    "measured_low_c",
    "harm_from_c",
    "chance_of_harm",
    "predicted_kill_pct",
    "said",
    "first_call_utc",
    "lead_h",
    "messages",
    "answers",
    "bud_counts",
    "outcome",
    "withdrawn",
)
HEAD = f"{'Night':10} {'Forecast':>8} {'Measured':>8} {'Harm at':>8} {'Said':12} " + (
    f"{'Lead':>6} {'Msgs':>4} Outcome, counts"
)


def ledger_rows(lines: Sequence[LedgerNight]) -> list[dict[str, object]]:
    """Return plain values, one row a night; temperatures in degC, times in UTC."""
    return [
        {
            "night": line.night.isoformat(),
            "kind": line.kind.value if line.kind else "",
            "worst_block": line.worst,
            "forecast_low_c": _rounded(line.forecast_low_c),
            "measured_low_c": _rounded(line.measured_low_c),
            "harm_from_c": _rounded(line.harm_from_c),
            "chance_of_harm": _rounded(line.probability),
            "predicted_kill_pct": _rounded(line.predicted_kill_pct),
            "said": line.calls.highest.value,
            "first_call_utc": ""
            if line.calls.first_call_utc is None
            else line.calls.first_call_utc.isoformat(),
            "lead_h": None if line.lead is None else _rounded(_hours(line.lead)),
            "messages": line.calls.messages,
            "answers": "; ".join(line.calls.answers),
            "bud_counts": "; ".join(_counts(line)),
            "outcome": line.outcome.value,
            "withdrawn": line.calls.is_withdrawn,
        }
        for line in lines
    ]


def ledger_line(line: LedgerNight, wording: Wording) -> str:
    """Return one night in a line of a terminal."""
    lead = "-" if line.lead is None else f"{_hours(line.lead):.1f} h"
    withdrawn = ["withdrawn"] if line.calls.is_withdrawn else []
    words = "; ".join([line.outcome.value, *withdrawn, *_counts(line)])
    return (
        f"{line.night} {wording.temperature(line.forecast_low_c):>8} "
        f"{wording.temperature(line.measured_low_c):>8} "
        f"{wording.temperature(line.harm_from_c):>8} {line.calls.highest.value:12} "
        f"{lead:>6} {line.calls.messages:>4} {words}"
    )


def _counts(line: LedgerNight) -> list[str]:
    """Return the bud counts of a night in words."""
    return [f"{item.block} {item.dead} of {item.counted} dead" for item in line.counts]


def _rounded(value: float | None) -> float | None:
    """Return a number as exact as it can be known."""
    return None if value is None else round(value, 2)


def _hours(duration: timedelta) -> float:
    """Return a duration. [h]"""
    return duration / timedelta(hours=1)
