"""One spoiled document through the real command, and what came of it."""

import io
import json
import math
import signal
import sys
import traceback
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cache
from pathlib import Path
from random import Random
from typing import Any
from unittest import mock
from zoneinfo import ZoneInfo

from frostalert.cli.main import main
from tests.mutations.documents import Original
from tests.mutations.kinds import KINDS

TOLERANCE_C = 0.5
"""A low that is warmer by more than this than the good document's counts. [degC] One
step of whole degF is 0.56."""
FAR_C = 3.0
"""Warmer by more than this though something is said: counted for information. [degC]"""
JUDGED_WITHIN = timedelta(hours=36)
LONGEST_S = 10.0
"""A case that takes longer hangs. [s]"""
_REFUSED = 65
"""The exit code of a document that cannot be used."""
_UNJUDGED = {"cannot-judge", "not-covered-yet"}
_LACKING = (
    "hour of the night",
    "hours of the night",
    "the forecast lacks",
    "the forecast has no hour",
    "is known",
)
_LOWS = ("air_low_c", "site_low_c", "dry_bud_low_c", "wet_bud_low_c")


class Hung(BaseException):
    """A case took too long; nothing of the program may catch this."""


@dataclass(frozen=True, slots=True)
class Done:
    """What a command did."""

    out: str
    err: str
    is_refused: bool = False
    crash: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of one case.

    Attributes
    ----------
    end : str
        "refused", "said" (something was), "same" (no low is warmer), "warmer" (one is,
        and nothing was said), "crash" or "hang".
    words : str
        What a reader needs to look into it.
    warmer_c : float
        By how much the low is warmer that is warmest against the good one. [degC]
    """

    case: str
    kind: str
    name: str
    end: str
    words: str = ""
    warmer_c: float = 0.0


def play(case: str, original: Original, kind: str, folder: Path) -> Outcome:
    """Spoil a document and judge it."""
    random = Random(case)  # noqa: S311 - no secret
    body = KINDS[kind](json.loads(original.body), random)

    def ended(end: str, words: str = "", warmer_c: float = 0.0) -> Outcome:
        return Outcome(
            case=case,
            kind=kind,
            name=original.name,
            end=end,
            words=words,
            warmer_c=warmer_c,
        )

    try:
        with _within(LONGEST_S):
            done = tonight(original, body, folder)
            shown = tonight(original, body, folder, as_json=False)
    except Hung:
        return ended("hang", f"longer than {LONGEST_S:g} s")
    if done.crash or shown.crash:
        return ended("crash", done.crash or shown.crash)
    if done.is_refused:
        return ended("refused", done.err.strip()[:200])
    good, found = _good(original, folder), json.loads(done.out)
    warmer = list(_warmer(good, found, original))
    if not warmer:
        return ended("same")
    silent = [line for night, _, line in warmer if not _is_said(night, good, found)]
    most_c = max(by_c for _, by_c, _ in warmer)
    words = "; ".join(silent or [line for _, _, line in warmer][:2])
    return ended("warmer" if silent else "said", words, most_c)


def tonight(
    original: Original, body: str, folder: Path, *, as_json: bool = True
) -> Done:
    """Return what the command makes of a document in a file."""
    config, forecast = folder / "orchard.toml", folder / "forecast.json"
    config.write_text(original.config, encoding="utf-8")
    forecast.write_bytes(body.encode("utf-8", "surrogatepass"))
    command = ["frostalert", "tonight", "--config", str(config)]
    command += ["--forecast", str(forecast), "--now", original.now.isoformat()]
    command += ["--json"] if as_json else []
    out, err = io.StringIO(), io.StringIO()
    with (
        mock.patch.object(sys, "argv", command),
        redirect_stdout(out),
        redirect_stderr(err),
    ):
        try:
            main()
        except SystemExit as ended:
            code = ended.code if isinstance(ended.code, int) else 0
            is_right = code in (0, _REFUSED)
            crash = "" if is_right else f"exit {code}: {err.getvalue()}"
            return Done(out.getvalue(), err.getvalue(), code == _REFUSED, crash)
        except Exception:  # noqa: BLE001 - whatever it is, it is what is looked for
            return Done("", "", is_refused=False, crash=traceback.format_exc(limit=-3))
    return Done(out.getvalue(), err.getvalue())


@cache
def _good(original: Original, folder: Path) -> dict[str, Any]:
    """Return what the command says of the document as it was."""
    done = tonight(original, original.body, folder)
    assert not done.is_refused, done.err
    assert not done.crash, done.crash
    document: dict[str, Any] = json.loads(done.out)
    return document


@contextmanager
def _within(seconds: float) -> Iterator[None]:
    """Break off what takes longer."""

    def ring(*_: object) -> None:
        raise Hung

    before = signal.signal(signal.SIGALRM, ring)
    others, _ = signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        # Whoever runs the cases may have an alarm of its own.
        signal.setitimer(signal.ITIMER_REAL, others)
        signal.signal(signal.SIGALRM, before)


def _warmer(
    good: dict[str, Any], found: dict[str, Any], original: Original
) -> Iterator[tuple[str, float, str]]:
    """Give the nights at hand that are warmer now, by how much, and a line for it."""
    nights = {night["night"]: night for night in found["nights"]}
    for night in good["nights"]:
        name = night["night"]
        if not _is_at_hand(name, original):
            continue
        if name not in nights:
            yield name, 0.0, f"{name} is not spoken of"
            continue
        now = _lows(nights[name])
        for low, value in _lows(night).items():
            by_c = now.get(low, math.nan) - value
            # A low that is not told any more counts, until its reason is found.
            if not by_c <= TOLERANCE_C:
                yield name, by_c, f"{name} {low}: {value} -> {now.get(low)}"


def _is_at_hand(night: str, original: Original) -> bool:
    """Return whether a night begins within the time in which it must be judged."""
    zone = next(line for line in original.config.splitlines() if "time_zone" in line)
    noon = datetime.combine(
        date.fromisoformat(night), time(12), tzinfo=ZoneInfo(zone.split('"')[1])
    )
    return noon - original.now <= JUDGED_WITHIN


def _lows(night: dict[str, Any]) -> dict[str, float]:
    """Return every low of a night that is told."""
    found = {"low_c": night["low_c"]}
    for block in night["blocks"]:
        found |= {f"{block['block']} {name}": block[name] for name in _LOWS}
    return {name: value for name, value in found.items() if value is not None}


def _is_said(night: str, good: dict[str, Any], found: dict[str, Any]) -> bool:
    """Return whether a reader is told that something is wrong with that night."""
    if set(_notes(found)) - set(_notes(good)):
        return True
    names = [record["night"] for record in found["nights"]]
    place = names.index(night) if night in names else len(names)
    # The noon that closes a night opens the next, which speaks of it.
    return any(map(_lacks_hours, found["nights"][place : place + 2]))


def _lacks_hours(night: dict[str, Any]) -> bool:
    """Return whether a reader is told that hours of a night are missing."""
    reasons = [night["reason"], *(block["reason"] for block in night["blocks"])]
    is_lacking = any(words in reason for words in _LACKING for reason in reasons)
    return night["tier"] in _UNJUDGED or is_lacking


def _notes(document: dict[str, Any]) -> list[str]:
    """Return everything that is remarked on a forecast."""
    return [*document["source"]["notes"], *document["notes"]]
