"""One case from its seed to the list of what does not agree."""

import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from tests.agreement import words
from tests.agreement.cases import (
    BEGUN_BEFORE,
    SENSOR,
    Case,
    Reads,
    Trouble,
    draw_case,
)
from tests.agreement.mouths import (
    ALWAYS,
    ASK,
    SHOWS,
    Asked,
    command,
    queued,
)
from tests.agreement.place import (
    Place,
    Servers,
    keep_state,
    make_place,
    reading_text,
    running_service,
)
from tests.agreement.record import (
    AT_RISK,
    CHANCE,
    ERROR,
    LOW,
    MEMBERS,
    SPOKEN,
    STARTS,
    TIER,
    Either,
    Key,
    MouthError,
    Record,
    Some,
    Span,
    agree,
    numbers_of,
    plan_of,
)
from tests.agreement.seams import DEFECTS, Defect, Watched, replaced, watching

_REAL, _REAL_PROCESS_EVERY = "tonight --json", 25
_WITH_MAIL = ("once", "mail")
_READ_BEFORE = timedelta(minutes=20)
_SOON = timedelta(minutes=5)
IN_SERVICE = frozenset({"page", "page data", "mail", "text"})
"""The mouths that speak while the service decides."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One quantity that one mouth shows otherwise than the service has it."""

    seed: int
    mouth: str
    quantity: str
    where: str
    expected: str
    shown: str

    def __str__(self) -> str:
        """Say it in one line."""
        return (
            f"case {self.seed}: {self.mouth}, {self.quantity} {self.where}: "
            f"service {self.expected}, shown {self.shown}"
        )


@dataclass
class Played:
    """What became of a case.

    Attributes
    ----------
    shares : set of str
        What it is an example of.
    compared : set of (str, str)
        Mouths and quantities that were compared.
    planted : dict of str to list of Difference
        What a mouth shows otherwise when a correction is dropped in it, by term.
    """

    seed: int
    shares: set[str] = field(default_factory=set)
    compared: set[tuple[str, str]] = field(default_factory=set)
    differences: list[Difference] = field(default_factory=list)
    planted: dict[str, list[Difference]] = field(default_factory=dict)


def play(
    seed: int,
    servers: Servers,
    *,
    mouths: Iterable[str] = tuple(SHOWS),
    terms: Iterable[str] = (),
) -> Played:
    """Return what does not agree in a case.

    Parameters
    ----------
    seed : int
        Of the case.
    servers : Servers
        What the program asks and sends to.
    mouths : iterable of str
        The mouths to ask.
    terms : iterable of str
        Corrections; each is dropped in its mouth, which is asked once more.
    """
    case = draw_case(seed)
    asked_after = [term for term in terms if DEFECTS[term].mouth not in IN_SERVICE]
    with _played(case, servers) as scene:
        played = Played(seed=seed, shares=_shares(scene))
        for mouth in mouths:
            found = _ask(mouth, scene)
            played.compared |= found.compared
            played.differences += found.differences
        for term in asked_after:
            defect = DEFECTS[term]
            with replaced(defect.seam, defect.make):
                played.planted[term] = _ask(defect.mouth, scene).differences
        if seed % _REAL_PROCESS_EVERY == 0 and _REAL in mouths:
            _ask_a_real_process(scene, played)
    for term in set(terms) - set(asked_after):
        # What speaks while the service decides must be heard again from there on.
        with _played(case, servers, DEFECTS[term]) as scene:
            played.planted[term] = _ask(DEFECTS[term].mouth, scene).differences
    return played


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A case that was lived through to the minute that counts."""

    asked: Asked
    watched: Watched
    reference: Record


@contextmanager
def _played(
    case: Case, servers: Servers, defect: Defect | None = None
) -> Iterator[Scene]:
    """Give a case whose service has just decided; its clock stands still."""
    folder = Path(tempfile.mkdtemp(prefix="agreement-"))
    try:
        place = make_place(case, folder, servers)
        with watching() as watched:
            _live_up_to_now(place, watched)
            _read_thermometer(place)
            keep_state(place)
            watched.spoken_before = len(watched.announced)
            before = _decide(place, defect)
        asked = Asked(
            place=place,
            nights=_nights(watched),
            blocks=tuple(block.name for block in case.blocks),
            before=before,
        )
        with place.at(place.now_utc):
            yield Scene(asked=asked, watched=watched, reference=_reference(watched))
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _decide(place: Place, defect: Defect | None) -> frozenset[str]:
    """Let the service decide in the minute that counts; return what was queued."""
    planted = replaced(defect.seam, defect.make) if defect else nullcontext()
    with place.at(place.now_utc), running_service(place) as (service, store), planted:
        before = queued(store)
        service.fetch()
    return before


def _live_up_to_now(place: Place, watched: Watched) -> None:
    """Let the service look before, people answer, and the minute that counts come."""
    case = place.case
    if case.earlier_utc is None:
        return
    place.servers.is_early = True
    moments = [case.earlier_utc]
    last_look_utc = case.earlier_utc
    if case.trouble is not Trouble.SECOND_OLD:
        moments.insert(0, case.earlier_utc - BEGUN_BEFORE)
    for moment in moments:
        with place.at(moment), running_service(place) as (service, _):
            service.fetch()
            if case.warm_days is not None:
                service.note_warmth()
            if case.can_be_replayed:
                until = case.earlier_utc if moment < case.earlier_utc else case.now_utc
                last_look_utc = _look_until(place, service, watched, moment, until)
    place.now_utc = _minute_that_counts(case, watched, last_look_utc)
    if case.can_be_replayed and place.now_utc > case.now_utc:
        # Nothing may be slept through that a replay would show.
        with place.at(last_look_utc), running_service(place) as (service, _):
            service.fetch()
            _look_until(place, service, watched, last_look_utc, place.now_utc)
    place.servers.is_early = False
    if case.is_answered:
        with place.at(case.earlier_utc + _SOON):
            _answer(place)


def _look_until(
    place: Place, service: Any, watched: Watched, moment: datetime, until: datetime
) -> datetime:
    """Let the service look again whenever it planned to; return when it did last."""
    while watched.next_look_utc is not None:
        planned = max(watched.next_look_utc, moment + _SOON)
        if planned >= until:
            break
        moment = planned
        with place.at(moment):
            service.look()
    return moment


def _minute_that_counts(
    case: Case, watched: Watched, last_look_utc: datetime
) -> datetime:
    """Return the minute that counts: just before a start where the case wants that."""
    if case.start_lead is None or case.earlier_utc is None:
        return case.now_utc
    plan = watched.plans.get(case.night.isoformat())
    starts = [
        datetime.fromisoformat(task["start_utc"])
        for task in (plan["tasks"] if plan else ())
        if task["kind"] == "start"
    ]
    moment = min(starts, default=case.now_utc) - case.start_lead
    return moment if moment > last_look_utc + 2 * _SOON else case.now_utc


def _answer(place: Place) -> None:
    """Let somebody say that they act, if they were asked."""
    command(place, "ack", "--by", "Ines")


def _read_thermometer(place: Place) -> None:
    """Let a thermometer be read, if the case has it."""
    if place.case.reads is Reads.NOTHING:
        return
    moment = place.now_utc - _READ_BEFORE
    with place.at(moment):
        command(place, "reading", SENSOR, reading_text(place.case, moment))


def _reference(watched: Watched) -> Record:
    """Return what the service has, as exactly as it is known."""
    record = numbers_of(watched.nights, is_exact=True)
    for night in watched.nights:
        date = night["night"]
        plan = watched.plans.get(date)
        if plan is not None or not _is_at_risk(night):
            record |= plan_of(date, plan)
            hours = frozenset(hour for *_, hour in record[date, "", STARTS])
            record[date, "@hours", STARTS] = hours
    announced = watched.announced[watched.spoken_before :]
    record["", SPOKEN, TIER] = frozenset((night, kind) for night, kind, _ in announced)
    return record | words.told(watched.announced)


def _is_at_risk(night: dict[str, Any]) -> bool:
    """Return whether a block of a night is at risk."""
    return any(block["tier"] in AT_RISK for block in night["blocks"])


def _nights(watched: Watched) -> tuple[str, ...]:
    """Return the present night, and the first at risk if that is another."""
    risky = [item["night"] for item in watched.nights if _is_at_risk(item)]
    return tuple(dict.fromkeys([watched.nights[0]["night"], *risky[:1]]))


def _ask(mouth: str, scene: Scene) -> Played:
    """Return what one mouth shows otherwise than the service has it."""
    case = scene.asked.place.case
    played = Played(seed=case.seed)
    if mouth == "replay" and not case.can_be_replayed:
        return played
    try:
        record = ASK[mouth](scene.asked)
    except MouthError as error:
        record = {("", SPOKEN, TIER): f"nothing: {error}"}
    for quantity in SHOWS[mouth]:
        found = _compared(mouth, quantity, scene, record)
        if found is None:
            continue
        key, expected, shown = found
        played.compared.add((mouth, quantity))
        if shown is not _AGREES:
            difference = Difference(
                seed=case.seed,
                mouth=mouth,
                quantity=quantity,
                where=" ".join(part for part in key[:2] if part),
                expected=_brief(expected),
                shown=_brief(shown),
            )
            played.differences.append(difference)
    return played


_AGREES = object()


def _compared(
    mouth: str, quantity: str, scene: Scene, record: Record
) -> tuple[Key, Any, Any] | None:
    """Return the first difference of a quantity, or one key that agrees.

    None if there is nothing to compare: what a mouth never shows on such a night.
    """
    reference = scene.reference
    common = [key for key in record if key[2] == quantity and key in reference]
    for key in common:
        if not agree(quantity, reference[key], record[key]):
            return key, reference[key], record[key]
    if common:
        return common[0], None, _AGREES
    nights = set(scene.asked.nights[:1])
    if mouth not in ALWAYS:
        # A warning's mail always names them; what else stands in it is as it may be.
        is_wanted = mouth in _WITH_MAIL and quantity in (LOW, ERROR, CHANCE)
        nights = {key[0] for key in record if key[2] == MEMBERS and is_wanted}
    for key, expected in reference.items():
        is_there = key[0] in nights and key[2] == quantity and "@" not in key[1]
        if is_there and expected is not None:
            return key, expected, "nothing"
    return None


def _brief(value: Any) -> str:
    """Return a value in few words."""
    if isinstance(value, float):
        return f"{value:.4f}"
    if isinstance(value, Span):
        return f"{value.low:.4f} to {value.high:.4f}"
    if isinstance(value, Either):
        return " or ".join(map(_brief, value.values))
    if isinstance(value, Some):
        return f"some of {_brief(value.items)}"
    if isinstance(value, frozenset):
        return str(sorted(value, key=str))
    return str(value)


def _ask_a_real_process(scene: Scene, played: Played) -> None:
    """Compare what a command prints in a process of its own."""
    place = scene.asked.place
    moment = place.now_utc.isoformat()
    script = (
        "import sys, time_machine; from frostalert.cli.main import main; "
        f"time_machine.travel({moment!r}, tick=False).start(); main()"
    )
    arguments = ("tonight", "--json", "--config", str(place.config))
    done = subprocess.run(
        [sys.executable, "-c", script, *arguments],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    inside = command(place, "tonight", "--json")
    played.compared.add(("tonight --json", "process"))
    if done.stdout != inside:
        played.differences.append(
            Difference(
                seed=played.seed,
                mouth="tonight --json",
                quantity="process",
                where="",
                expected="the same as in this process",
                shown=(done.stdout or done.stderr)[-80:],
            )
        )


def _shares(scene: Scene) -> set[str]:
    """Return what a case is an example of."""
    watched, place = scene.watched, scene.asked.place
    case, now, tonight = place.case, place.now_utc, watched.nights[0]
    found = {
        "prepare or above": any(
            night["tier"] in ("prepare", "act") for night in watched.nights
        ),
        "a start due": bool(watched.due),
        "night begun": _is_past(tonight["sunset_utc"], now)
        and not _is_past(tonight["sunrise_utc"], now),
        "two sources counted": bool(tonight["other_lows"]),
        "a source stale or missing": case.trouble
        not in (Trouble.NONE, Trouble.ONE_SOURCE),
        "learned nights": bool(case.pairs),
        "a cold reading": case.reads is Reads.COLD,
        "a warm reading": case.reads is Reads.WARM,
        "warmth known": case.warm_days is not None,
        "equipment": any(block.equipment for block in case.blocks),
        "an answer given": case.is_answered,
        "replay compared": case.can_be_replayed,
    }
    return {name for name, holds in found.items() if holds}


def _is_past(moment: str | None, now: datetime) -> bool:
    """Return whether a moment of a document is over."""
    return moment is not None and datetime.fromisoformat(moment) <= now
