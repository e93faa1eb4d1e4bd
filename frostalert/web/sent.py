"""What people send from their page: a tick, a reading, a look at a block."""

from collections.abc import Mapping
from contextlib import suppress
from datetime import datetime

from frostalert.cycle.readings import doubted_c, parse_reading, take_in
from frostalert.errors import UsageError
from frostalert.messages.reading_words import question_lines, taken_back_words
from frostalert.model.job_sheet import Tick
from frostalert.model.reading import Reading
from frostalert.web.block_list import BackwardsError, Blocks
from frostalert.web.personal import Notes, Visit

JOBS, READING, ALL_BLOCKS = "jobs", "reading", "blocks"


def tick_job(visit: Visit, form: Mapping[str, str]) -> Notes:
    """Keep that a job is done, or that it is not; return what is said of it."""
    sheet = visit.desk.phone.job_sheet()
    named = (form.get("night", ""), form.get("job", ""))
    job = next(
        (
            job
            for job in (sheet.jobs if sheet is not None else ())
            if (job.night.isoformat(), job.key) == named
            and job.is_for(visit.ticket.person)
        ),
        None,
    )
    if job is None:
        return Notes(
            place=JOBS, lines=("The plan has changed: that job is not in it now.",)
        )
    if form.get("undo"):
        visit.desk.phone.untick(job.night, job.key)
        return Notes(place=JOBS, lines=(f"Not done yet: {job.words}",))
    visit.desk.phone.tick(
        Tick(
            night=job.night,
            job=job.key,
            person=visit.ticket.person,
            done_utc=visit.now_utc,
        )
    )
    return Notes(place=JOBS, lines=(f"Done: {job.words}",))


def read_by_hand(visit: Visit, form: Mapping[str, str]) -> Notes:
    """Keep what a person reads, asked back where nobody would expect it."""
    sensor, value = form.get("sensor", ""), form.get("value", "")
    typed = {"sensor": sensor, "value": value}
    if sensor not in {item.name for item in visit.farm.sensors}:
        return Notes(place=READING, lines=("Choose a thermometer.",), typed=typed)
    if form.get("back"):
        return _take_back(visit, sensor, form["back"])
    try:
        item = parse_reading(sensor, value, visit.now_utc)
    except UsageError as error:
        return Notes(place=READING, lines=(f"Not kept: {error}.",), typed=typed)
    doubted_by_c = doubted_c(item, visit.desk.readings)
    doubt: tuple[str, ...] = ()
    if doubted_by_c is not None:
        doubt = tuple(question_lines(doubted_by_c, visit.wording))
    if doubt and not form.get("sure"):
        return Notes(
            place=READING,
            lines=(f"{sensor}: {value}?", doubt[0], "Nothing was kept yet."),
            ask={**typed, "sure": "yes"},
            button=f"It does read {value}: keep it",
            typed=typed,
        )
    return _keep(visit, item, value, doubt)


def _keep(visit: Visit, item: Reading, value: str, doubt: tuple[str, ...]) -> Notes:
    """Keep a reading; return what is said of it."""
    sensor, book = item.sensor, visit.desk.readings
    taken = take_in([item], visit.farm, book, visit.now_utc)
    if not taken:
        return Notes(
            place=READING, lines=("A reading of that moment was kept before.",)
        )
    words = f"{sensor}: {value} at {visit.wording.moment(item.at_utc)}. Kept"
    problem = taken[0].problem
    if problem is not None:
        return Notes(place=READING, lines=(f"{words}, not believed: {problem}.",))
    return Notes(
        place=READING,
        lines=(f"{words}, not confirmed.", *doubt) if doubt else (f"{words}.",),
        ask={"sensor": sensor, "back": item.at_utc.isoformat()},
        button="It was a slip: take it back",
    )


def see_block(visit: Visit, form: Mapping[str, str]) -> Notes:
    """Keep what a person saw in a block, or in all of them."""
    phone, person = visit.desk.phone, visit.ticket.person
    blocks = Blocks.known(visit.farm, phone, visit.wording, phone.job_sheet())
    if form.get("all"):
        kept = blocks.see_all_as_before(person)
        lines = tuple(f"{name}: {words}" for name, words in kept.items())
        return Notes(
            place=ALL_BLOCKS, lines=lines or ("Every block was seen today already.",)
        )
    name, stage = form.get("block", ""), form.get("stage", "")
    if form.get("back") and blocks.has(name):
        return Notes(place=name, lines=(blocks.take_back(name),))
    try:
        words = blocks.see(name, stage, person, is_sure=bool(form.get("sure")))
    except UsageError as error:
        return Notes(place=ALL_BLOCKS, lines=(f"Not kept: {error}.",))
    except BackwardsError as error:
        return Notes(
            place=name,
            lines=(f"{error} Nothing was kept yet.",),
            ask={"block": name, "stage": stage, "sure": "yes"},
            button=f"It is {stage} all the same",
        )
    return Notes(place=name, lines=(words,))


def _take_back(visit: Visit, sensor: str, moment: str) -> Notes:
    """Take back the reading of a moment."""
    gone = None
    with suppress(ValueError):
        gone = visit.desk.phone.take_back(sensor, datetime.fromisoformat(moment))
    if gone is None:
        return Notes(place=READING, lines=("There is no such reading to take back.",))
    words = f"{sensor}: {taken_back_words(gone, visit.wording)}"
    return Notes(place=READING, lines=(words,))
