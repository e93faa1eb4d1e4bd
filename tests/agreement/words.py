"""Reads what people read: terminal, page, mail and text, back into a record."""

import re
from collections.abc import Iterable
from datetime import datetime
from html import unescape

from tests.agreement.cases import Case
from tests.agreement.record import (
    CHANCE,
    CHOSEN,
    ERROR,
    HEAD,
    LOW,
    MEMBERS,
    REFUSED,
    SPOKEN,
    STARTS,
    TIER,
    TOLD,
    MouthError,
    Record,
    Some,
    Span,
)

_CALLS = {"the hour of a start has come", "it became more urgent"}
_TEMPERATURE = r"-?\d+(?:\.\d)? [FC]"
_CHANCE = r"under 1 %|over 99 %|\d+ %|<1%|>99%|\d+%"
_MONTH = r"(?:Jan|Feb|Mar|Apr|May|Jun)"
_NIGHT = rf"(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) (?:\d+ {_MONTH}|{_MONTH} \d+)"
_HOUR = r"\d{1,2}:\d\d(?: ?[ap]m)?"
_TIERS = {
    "risk too low to warn": "none",
    "frost risk unknown": "cannot-judge",
    "not covered yet": "not-covered-yet",
    "frost possible": "outlook",
    "get ready": "prepare",
    "act now": "act",
}
_SPOKEN = _TIERS | {"no frost after all": "withdrawn", "the cold is over": "stand-down"}
_TIER = "|".join(_TIERS)


def temperature(text: str) -> Span | None:
    """Return what air a shown temperature may stand for. [degC] None if none is."""
    if text in {"-", "unknown"}:
        return None
    number, unit = text.split()
    step = 0.05 if "." in number else 0.5
    ends = (float(number) - step, float(number) + step)
    if unit == "F":
        ends = ((ends[0] - 32.0) / 1.8, (ends[1] - 32.0) / 1.8)
    return Span(*ends)


def difference(text: str) -> Span:
    """Return what difference a shown one may stand for. [degC]"""
    number, unit = text.split()
    step = 0.05 if "." in number else 0.5
    scale = 1.8 if unit == "F" else 1.0
    return Span((float(number) - step) / scale, (float(number) + step) / scale)


def chance(text: str) -> Span | None:
    """Return what chance a shown one may stand for. None where none is told."""
    if text in {"-", "unknown"}:
        return None
    percent = float(re.sub(r"[^\d.]", "", text))
    if text.startswith(("under", "<")):
        return Span(0.0, 0.01)
    if text.startswith(("over", ">")):
        return Span(0.99, 1.0)
    return Span((percent - 0.5) / 100.0, (percent + 0.5) / 100.0)


def date_of(text: str, case: Case) -> str:
    """Return the date of a night that is named by its day."""
    found = re.search(_NIGHT, text)
    if found is None:
        problem = f"no night is named in {text!r}"
        raise MouthError(problem)
    form = "%a %d %b %Y" if found[0].split()[1].isdigit() else "%a %b %d %Y"
    day = datetime.strptime(f"{found[0]} {case.night.year}", form)  # noqa: DTZ007 - a date alone
    return day.date().isoformat()


def hour_of(text: str) -> str:
    """Return an hour as the 24-hour clock has it, however it was shown."""
    if text[-1] != "m":
        return text
    shown = datetime.strptime(text.replace(" ", ""), "%I:%M%p")  # noqa: DTZ007 - an hour alone
    return f"{shown:%H:%M}"


def one_line(text: str) -> str:
    """Return a text without its line breaks."""
    return " ".join(text.split())


def members(text: str) -> dict[str, Span | None]:
    """Return the lows by every source that a text names."""
    found = re.search(
        rf"Low by each forecast: this one ({_TEMPERATURE}), "
        rf"(.+?) ({_TEMPERATURE}); judged by",
        one_line(text),
    )
    if found is None:
        return {}
    return {"own": temperature(found[1]), found[2]: temperature(found[3])}


def plan_in(text: str, case: Case, night: str, *, has_hours: bool = True) -> Record:
    """Return what a plan in words starts, chooses and refuses."""
    flat = one_line(text)
    pairs = [(p.equipment, p.name) for p in case.blocks if p.equipment is not None]
    starts, chosen, refused = set(), set(), set()
    for equipment, block in pairs:
        for hour in re.findall(
            rf"{equipment}(?: x \d+)?: start in {block}, running by ({_HOUR})", flat
        ):
            starts.add((equipment, block, hour_of(hour)))
        choice = re.search(
            rf"\* {block}: {equipment}(?: \([^)]*\))?(?:, \d+ of them)?: ([a-z ]+)",
            flat,
        )
        if choice is not None and not choice[1].startswith("not worked out"):
            chosen.add((equipment, block))
        if re.search(rf"- {equipment} in {block}: (?![a-z ]+, not chosen)[a-z]", flat):
            refused.add((equipment, block))
    record: Record = {
        (night, "", CHOSEN): frozenset(chosen),
        (night, "", REFUSED): frozenset(refused),
    }
    if has_hours:
        record[night, "", STARTS] = frozenset(starts)
    return record


def terminal(text: str, case: Case) -> Record:
    """Return what `tonight` prints."""
    record: Record = {}
    lines = text.splitlines()
    heads = [
        n
        for n, line in enumerate(lines)
        if re.match(rf"(tonight, |overnight |tomorrow night, )?{_NIGHT}.*?: ", line)
        and re.search(rf": ({_TIER})\.", line)
    ]
    table = next((n for n, line in enumerate(lines) if line.startswith("Night ")), 0)
    for place, start in enumerate(heads):
        end = heads[place + 1] if place + 1 < len(heads) else table or len(lines)
        record |= _terminal_night(lines[start:end], case)
    for line in lines[table + 1 :] if table else ():
        record |= _coming_line(line, case)
    return record


def _terminal_night(lines: list[str], case: Case) -> Record:
    """Return one night of `tonight`, block by block."""
    night, flat = date_of(lines[0], case), one_line(" ".join(lines))
    tier = re.search(rf": ({_TIER})\.", flat)
    record: Record = {(night, "", MEMBERS): members(flat)}
    if tier is not None:
        record[night, "", TIER] = _TIERS.get(tier[1], tier[1])
    record |= _give_or_take(flat, night)
    for line in lines:
        name = next((p.name for p in case.blocks if line.startswith(f"{p.name} ")), "")
        cells = re.findall(rf"{_TEMPERATURE}|(?<= )-(?= )", line)
        risk = re.search(rf"({_CHANCE}|-)$", line.rstrip())
        if name and len(cells) >= 4 and risk is not None:
            record[night, name, LOW] = temperature(cells[0])
            record[night, name, CHANCE] = chance(risk[1])
    return record


def _coming_line(line: str, case: Case) -> Record:
    """Return one line of the table of coming nights."""
    found = re.match(
        rf"({_NIGHT})\s+({_TIER})\s+({_TEMPERATURE}|-)\s+({_TEMPERATURE}|-)\s+"
        rf"({_CHANCE}|-)",
        line,
    )
    if found is None:
        return {}
    return _night_row(date_of(line, case), found[2], found[3], found[5])


def _night_row(night: str, tier: str, air: str, risk: str) -> Record:
    """Return the row of a night in a table."""
    record: Record = {(night, "", TIER): _TIERS.get(tier, tier)}
    if air != "-":
        record[night, HEAD, LOW] = temperature(air)
        record[night, HEAD, CHANCE] = chance(risk)
    return record


def _give_or_take(flat: str, night: str) -> Record:
    """Return the error that stands at the head of a night."""
    found = re.search(rf"[Gg]ive or take ({_TEMPERATURE})", flat)
    return {} if found is None else {(night, HEAD, ERROR): difference(found[1])}


def page(html: str, case: Case) -> Record:
    """Return what the status page shows."""
    title = _plain(html.partition("<h1>")[2].partition("</h1>")[0])
    night, flat = date_of(title, case), one_line(_plain(html))
    record: Record = {(night, "", MEMBERS): members(flat)}
    record |= _give_or_take(flat, night)
    listed = plan_in(flat, case, night)
    record[night, "", STARTS] = listed[night, "", STARTS]
    record[night, "", REFUSED] = frozenset(_refused(html))
    for tier, row in _rows(html, "nights"):
        name = date_of(row[0], case)
        record[name, "", TIER] = tier
        if len(row) > 2 and row[2] != "-":
            record[name, HEAD, LOW] = temperature(row[2])
            record[name, HEAD, CHANCE] = chance(row[3])
    for tier, row in _rows(html, "blocks"):
        record[night, row[0], TIER] = tier
        if len(row) > 2:
            record[night, row[0], LOW] = temperature(row[1])
            record[night, row[0], CHANCE] = chance(row[2])
    return record


def _refused(html: str) -> Iterable[tuple[str, str]]:
    """Yield what the page says not to use, and in which blocks."""
    part = html.partition("<h3>Not tonight</h3>")[2].partition("</ul>")[0]
    for item in re.findall(r"<li>(.*?)</li>", part, re.DOTALL):
        words = one_line(_plain(item))
        equipment = words.partition(" : ")[0].partition(": ")[0]
        for block in words.rpartition(" In ")[2].rstrip(".").split(", "):
            yield equipment, block


def _rows(html: str, table: str) -> Iterable[tuple[str, list[str]]]:
    """Yield the tier and the cells of a table of the page, row by row."""
    part = html.partition(f'<h2 id="{table}">')[2].partition("</table>")[0]
    for tier, row in re.findall(
        r'<tr class="tier-([\w-]+)">(.*?)</tr>', part, re.DOTALL
    ):
        cells = re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.DOTALL)
        yield tier, [_plain(cell) for cell in cells]


def _plain(html: str) -> str:
    """Return a piece of a page without its tags."""
    return unescape(re.sub(r"<[^>]+>", " ", html)).strip()


def mail(text: str, case: Case, night: str, kind: str) -> Record:
    """Return what a warning's mail shows of its night."""
    flat = one_line(text)
    record: Record = {(night, "", MEMBERS): members(flat)}
    air = re.search(rf"air down to ({_TEMPERATURE})", flat)
    worst = re.search(rf"Worst: [^,]+, chance ({_CHANCE})\.", flat)
    if air is not None:
        record[night, HEAD, LOW] = temperature(air[1])
    if worst is not None:
        record[night, HEAD, CHANCE] = chance(worst[1])
    for part in flat.split(" * "):
        name = next((p.name for p in case.blocks if part.startswith(f"{p.name} (")), "")
        found = re.search(
            rf"Air ({_TEMPERATURE}), wet bulb.*?Chance of harm ({_CHANCE})\.", part
        )
        alone = re.search(rf"Air ({_TEMPERATURE}), nothing else is known\.", part)
        if name and found is not None:
            record[night, name, LOW] = temperature(found[1])
            record[night, name, CHANCE] = chance(found[2])
        elif name and alone is not None:
            record[night, name, LOW] = temperature(alone[1])
    record |= _give_or_take(flat, night)
    return record | plan_in(text, case, night, has_hours=kind != "outlook")


def letter(text: str, page: Record, case: Case, night: str) -> Record:
    """Return what the short mail shows, which must be what its page shows.

    Where the two differ, both stand there, and agree with nothing.
    """
    flat = one_line(text)
    shown: Record = {}
    air = re.search(rf"in the forecast, ({_TEMPERATURE}) in ", flat)
    if air is not None:
        shown[night, HEAD, LOW] = temperature(air[1])
    for plant in case.blocks:
        row = re.search(
            rf"{re.escape(plant.name)} \([^)]*\): ({_TEMPERATURE}), harm at "
            rf"{_TEMPERATURE}, [a-z -]+ \(({_CHANCE})\)\.",
            flat,
        )
        if row is not None:
            shown[night, plant.name, LOW] = temperature(row[1])
            shown[night, plant.name, CHANCE] = chance(row[2])
    return page | {
        key: value if page.get(key, value) == value else f"{value}, page {page[key]}"
        for key, value in shown.items()
    }


def text_message(text: str, night: str) -> Record:
    """Return what a warning's text shows of its night."""
    record: Record = {}
    found = re.search(
        rf"({_TEMPERATURE}) in [^.]+?, harm ",
        text,
    )
    if found is not None:
        record[night, HEAD, LOW] = temperature(found[1])
    error = re.search(rf"Give or take ({_TEMPERATURE})\.", text)
    if error is not None:
        record[night, HEAD, ERROR] = difference(error[1])
    odds = re.search(rf" Chance ({_CHANCE})\.", text)
    if odds is not None:
        record[night, HEAD, CHANCE] = chance(odds[1])
    hours = re.findall(rf" by ({_HOUR})(?: or at |[.,;])", text)
    if hours:
        record[night, "@hours", STARTS] = Some(frozenset(map(hour_of, hours)))
    return record


def printed_by_once(text: str, case: Case) -> Record:
    """Return what `once` prints: each night's tier, and what was said."""
    flat = one_line(text)
    record: Record = {}
    # A night under way goes by both its days.
    named = rf"({_NIGHT}(?: to {_NIGHT})?)"
    for night, tier in re.findall(rf"{named}: ({_TIER})\. ", flat):
        record[date_of(night, case), "", TIER] = _TIERS[tier]
    said = re.findall(rf'Said "([a-z ]+)" about [a-z ,]*{named}:', flat)
    record["", SPOKEN, TIER] = frozenset(
        (date_of(night, case), _SPOKEN.get(kind, kind)) for kind, night in said
    )
    return record


def told(said: Iterable[tuple[str, str, str]]) -> Record:
    """Return what was ever told: night, subject and reason of each message.

    A start whose hour came between two looks is called for by the later one, which may
    find the night more urgent as well: then that is its reason.
    """
    items = list(said)
    return {
        ("", TOLD, TIER): frozenset((night, kind) for night, kind, _ in items),
        ("", TOLD, STARTS): frozenset(
            night for night, kind, why in items if kind == "act" and why in _CALLS
        ),
    }
