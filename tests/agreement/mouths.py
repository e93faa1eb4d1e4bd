"""Every mouth of the program, asked through its own entry, and what each shows."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from typer.testing import CliRunner

from frostalert.cli.main import app
from frostalert.model.notice import Message
from frostalert.store.open import opened_beside
from frostalert.store.state import StateStore
from tests.agreement import words
from tests.agreement.cases import BEGUN_BEFORE, ZONE, Case
from tests.agreement.place import Place, copy_state
from tests.agreement.record import (
    AT_RISK,
    CHANCE,
    ERROR,
    LOW,
    NUMBERS,
    PLANNED,
    QUANTITIES,
    REFUSED,
    SPOKEN,
    STARTS,
    TIER,
    MouthError,
    Record,
    Some,
    Span,
    numbers_of,
    plan_of,
)
from tests.support.mails import all_numbers

SHOWS: dict[str, tuple[str, ...]] = {
    "tonight --json": QUANTITIES,
    "tonight": NUMBERS,
    "plan --json": PLANNED,
    "plan": PLANNED,
    "explain": (LOW, ERROR, CHANCE, TIER),
    "page": (*NUMBERS, STARTS, REFUSED),
    "page data": NUMBERS,
    "once": QUANTITIES,
    "mail": QUANTITIES,
    "text": (LOW, ERROR, CHANCE, TIER, STARTS),
    "replay": (TIER, STARTS),
}
"""Which quantities each mouth shows; the service is what all are compared with.

`low` is a block's air after every correction, `members` are the lows by every source,
`error` and `chance` are a block's, `tier` is the night's and the block's. The page, the
tables and the text give some of them for the worst block alone. The text shows part of
the starts; `replay` shows whether any was called.
"""
_WARNINGS = ("outlook", "prepare", "act")
_STEPS = {
    "air among the plants": LOW,
    "error of the low": ERROR,
    "chance of reaching the alarm temperature": CHANCE,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the mouths are asked about: a place, and the nights that count."""

    place: Place
    nights: tuple[str, ...]
    blocks: tuple[str, ...]
    before: frozenset[str]
    """Keys of the messages that were queued before the minute that counts."""


def command(place: Place, *arguments: str, config: str = "") -> str:
    """Return what a command prints on the place's state."""
    found = config or str(place.config)
    result = CliRunner().invoke(app, [*arguments, "--config", found])
    has_failed = result.exception is not None and not isinstance(
        result.exception, SystemExit
    )
    if has_failed or not result.stdout.strip():
        said = result.exception or result.stderr or "nothing was printed"
        problem = f"{' '.join(arguments)}: {said}"
        raise MouthError(problem)
    return result.stdout


def _tonight_json(asked: Asked) -> Record:
    """Ask `tonight --json`."""
    document = json.loads(command(asked.place, "tonight", "--json"))
    record = numbers_of(document["nights"], is_exact=False)
    for night in document["nights"]:
        if not any(block["tier"] in AT_RISK for block in night["blocks"]):
            record |= plan_of(night["night"], None)
    plan = document["plan"]
    return record | plan_of(plan["night"] if plan else asked.nights[-1], plan)


def _tonight(asked: Asked) -> Record:
    """Ask `tonight`."""
    return words.terminal(command(asked.place, "tonight"), asked.place.case)


def _plan_json(asked: Asked) -> Record:
    """Ask `plan --json` about each night."""
    record: Record = {}
    for night in asked.nights:
        printed = command(asked.place, "plan", "--json", "--night", night)
        record |= plan_of(night, json.loads(printed)["plan"])
    return record


def _plan(asked: Asked) -> Record:
    """Ask `plan` about each night."""
    record: Record = {}
    for night in asked.nights:
        printed = command(asked.place, "plan", "--night", night)
        record |= words.plan_in(printed, asked.place.case, night)
    return record


def _explain(asked: Asked) -> Record:
    """Ask `explain` about each block."""
    record: Record = {}
    for night in asked.nights:
        for block in asked.blocks:
            record |= _explained(asked.place, night, block)
    return record


def _explained(place: Place, night: str, block: str) -> Record:
    """Ask `explain` about a block's night; without numbers it shows none."""
    try:
        printed = command(place, "explain", block, "--json", "--night", night)
    except MouthError as error:
        if "has no numbers" in str(error):
            return {(night, block, LOW): None}
        raise
    document = json.loads(printed)
    record: Record = {(night, block, TIER): document["tier"]}
    for step in document["steps"]:
        quantity = _STEPS.get(step["name"])
        if quantity is not None:
            share = 100.0 if quantity == CHANCE else 1.0
            value = step["value"] / share
            record[night, block, quantity] = Span(value, value)
    return record


def _page(asked: Asked) -> Record:
    """Read the page that the service wrote."""
    html = (asked.place.page / "index.html").read_text()
    return words.page(html, asked.place.case)


def _page_data(asked: Asked) -> Record:
    """Read the data that the service wrote beside its page."""
    document = json.loads((asked.place.page / "status.json").read_text())
    return numbers_of(document["nights"], is_exact=False)


def queued(store: StateStore) -> frozenset[str]:
    """Return the keys of all messages in the queue."""
    return frozenset(row.message.key for row in store.last_messages(1000))


def _messages(
    asked: Asked, store: StateStore, channel: str, read: Callable[[Any, str], Record]
) -> Record:
    """Read the new warnings on a channel, one of each night and subject."""
    record: Record = {}
    announced: set[tuple[str, str]] = set()
    for row in store.last_messages(1000):
        message = row.message
        kind = message.subject_kind.value
        is_old = message.key in asked.before or message.night is None
        if is_old or message.channel.value != channel:
            continue
        night = str(message.night)
        if (night, kind) in announced:
            continue
        announced.add((night, kind))
        if kind in _WARNINGS:
            record |= read(message, kind)
    if announced:
        record["", SPOKEN, TIER] = Some(frozenset(announced))
    return record


def _mail_in(asked: Asked, store: StateStore) -> Record:
    """Read the new mail of a queue."""
    case = asked.place.case
    return _messages(
        asked,
        store,
        "email",
        lambda m, kind: _mail_record(m, case, kind),
    )


def _mail_record(message: Message, case: Case, kind: str) -> Record:
    """Read a warning's mail: the short part, and the page with all numbers."""
    night = str(message.night)
    page = words.mail(all_numbers(message), case, night, kind)
    return words.letter(message.text, page, case, night)


def _mail(asked: Asked) -> Record:
    """Read the mail that the service queued."""
    with opened_beside(asked.place.state) as store:
        return _mail_in(asked, store)


def _text(asked: Asked) -> Record:
    """Read the text messages that the service queued."""
    with opened_beside(asked.place.state) as store:
        return _messages(
            asked,
            store,
            "sms",
            lambda m, _: words.text_message(m.text, str(m.night)),
        )


def _once(asked: Asked) -> Record:
    """Run `once`, live, on a copy of the state; read what it prints and its mail."""
    folder = copy_state(asked.place)
    printed = command(asked.place, "once", config=str(folder / "frostalert.toml"))
    with opened_beside(folder / "state") as store:
        record = _mail_in(asked, store)
    return record | words.printed_by_once(printed, asked.place.case)


def _replay(asked: Asked) -> Record:
    """Ask `replay` for the nights since the service began."""
    place = asked.place
    begun = (place.case.earlier_utc or place.now_utc) - BEGUN_BEFORE
    first = min(_night_of(begun), _night_of(place.now_utc))
    with place.at(place.now_utc + timedelta(seconds=1)):
        printed = command(
            place,
            "replay",
            "--json",
            "--from",
            first.isoformat(),
            "--to",
            _night_of(place.now_utc).isoformat(),
        )
    return words.told(
        (item["night"], item["say"], item["why"])
        for item in json.loads(printed)["said"]
    )


def _night_of(moment: datetime) -> date:
    """Return the night that a moment belongs to."""
    return (moment.astimezone(ZONE) - timedelta(hours=12)).date()


ASK: dict[str, Callable[[Asked], Record]] = {
    "tonight --json": _tonight_json,
    "tonight": _tonight,
    "plan --json": _plan_json,
    "plan": _plan,
    "explain": _explain,
    "page": _page,
    "page data": _page_data,
    "once": _once,
    "mail": _mail,
    "text": _text,
    "replay": _replay,
}
assert ASK.keys() == SHOWS.keys()
ALWAYS = frozenset(SHOWS) - {"once", "mail", "text", "replay"}
"""The mouths that show every quantity of theirs whatever the night is like."""
