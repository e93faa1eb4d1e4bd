"""`frostalert past`: how often it would have called, and how often rightly."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

import typer

from frostalert.archives.asking import Asking
from frostalert.archives.gather import archives_of, gather
from frostalert.archives.stage_file import load_stages
from frostalert.cli.asked_file import goes_to_output, refuse_beside, write_asked
from frostalert.cli.options import (
    ConfigOption,
    JsonOption,
    LastNightOption,
    closing_store,
    counted_by,
    find_config,
    parse_night,
)
from frostalert.cli.progress import progress_line
from frostalert.cli.say import say, say_json
from frostalert.clock import SystemClock
from frostalert.config.load import load_settings
from frostalert.config.state_folder import state_directory
from frostalert.errors import StoreBusyError, UsageError
from frostalert.forecast.asked import build_session
from frostalert.messages.past_words import picture_words, screen, short_lines
from frostalert.messages.wording import Wording
from frostalert.model.past import PastFacts, PastSprings, SpringSpan
from frostalert.model.past_record import PastRecord
from frostalert.model.settings import Settings
from frostalert.model.site import Site, Units
from frostalert.model.warmth import Sighting
from frostalert.past.answer import past_springs, tally
from frostalert.past.document import all_nights, past_document
from frostalert.past.spans import last_springs, springs_between
from frostalert.physics.nights import last_night_over
from frostalert.report.past_picture import draw_past
from frostalert.risk.learning import VERSION
from frostalert.store.lock import StateLock
from frostalert.store.open import make_state_directory, open_store
from frostalert.store.state import StateStore

_SPRINGS = 3


def past(
    springs: Annotated[
        int | None,
        counted_by("--springs", "How many springs, the last ones; 3."),
    ] = None,
    start: Annotated[
        str | None,
        typer.Option(
            "--from", metavar="DATE", help="First night instead.", show_default=False
        ),
    ] = None,
    end: LastNightOption = None,
    crop_stages: Annotated[
        Path | None,
        typer.Option(
            "--crop-stages",
            metavar="FILE",
            help="Your own dates: CSV with the columns block,stage,seen.",
            show_default=False,
        ),
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option(
            "--picture",
            metavar="FILE",
            help="Write the picture (PNG); - prints it alone.",
            show_default=False,
        ),
    ] = None,
    config: ConfigOption = None,
    *,
    as_json: JsonOption = False,
) -> None:
    """Say how often it would have called in past springs, and how often rightly.

    It asks archives for what was forecast one to three days before, and compares that
    with what came: the thermometer's file under [past], else the nearest station. What
    it finds teaches the service. Nothing is sent.
    """
    refuse_beside("--picture", picture, json=as_json)
    settings = load_settings(find_config(config), needs_secrets=False)
    now = SystemClock().now_utc()
    spans = _spans(settings, springs, start, end, now)
    noted = () if crop_stages is None else load_stages(crop_stages, settings.farm)
    with _state(settings) as store:
        facts = _gathered(settings, store, spans, noted, now)
        with progress_line("playing the springs") as progress:
            answer, pairs = past_springs(settings.farm, facts, on_progress=progress)
        store.keep_archive_pairs(
            list(pairs), VERSION, [(span.first, span.last) for span in spans]
        )
        drawn = _kept(store, answer, settings.farm.site, now)
    if picture is not None:
        write_asked("--picture", picture, drawn)
    if goes_to_output(picture):
        return
    if as_json:
        say_json(**past_document(answer))
        return
    say(_screen(answer, settings.farm.site, now))


def _spans(
    settings: Settings,
    springs: int | None,
    start: str | None,
    end: str | None,
    now: datetime,
) -> list[SpringSpan]:
    """Return the springs that are meant.

    Raises
    ------
    UsageError
        If that is none.
    """
    site = settings.farm.site
    over = last_night_over(
        now, ZoneInfo(site.time_zone), (site.latitude, site.longitude)
    )
    first, last = parse_night(start, "--from"), parse_night(end, "--to")
    if first is None and last is None:
        return last_springs(
            _SPRINGS if springs is None else springs, over, is_south=site.is_south
        )
    if springs is not None or first is None:
        message = "give --springs, or --from and --to"
        raise UsageError(message)
    return springs_between(first, min(last or over, over), is_south=site.is_south)


@contextmanager
def _state(settings: Settings) -> Iterator[StateStore]:
    """Give the state, made if there is none yet: this may be the first day."""
    directory = make_state_directory(state_directory(settings.state_directory))
    try:
        with StateLock(directory):
            open_store(directory).database.close()
    except StoreBusyError:
        # The service runs, and has brought it to the present form.
        pass
    with closing_store(settings) as store:
        yield store


def _gathered(
    settings: Settings,
    store: StateStore,
    spans: list[SpringSpan],
    noted: tuple[Sighting, ...],
    now: datetime,
) -> PastFacts:
    """Return what archives and the user tell of the springs."""
    archives = archives_of(settings, build_session(settings), spans, now)
    seen = (*store.sightings(), *noted)
    with progress_line("asking the archives") as progress:
        asking = Asking(
            shelf=store,
            now_utc=now,
            total=archives.total,
            needs=archives.needs,
            on_progress=progress,
        )
        return gather(archives, asking, _of_springs(seen, spans))


def _of_springs(
    seen: tuple[Sighting, ...], spans: list[SpringSpan]
) -> tuple[Sighting, ...]:
    """Return what was seen in the years of the springs, each once."""
    years = {span.year for span in spans}
    return tuple({item: None for item in seen if item.seen.year in years})


def _kept(store: StateStore, answer: PastSprings, site: Site, now: datetime) -> bytes:
    """Keep lines and picture for page and weekly mail; return the picture."""
    counted = [(s, tally(nights)) for s, nights in answer.present.springs.items()]
    drawn = draw_past(answer.present.springs, is_fahrenheit=site.units is Units.US)
    record = PastRecord(
        made_utc=now,
        lines=tuple(short_lines(answer, counted)),
        picture_words=picture_words(counted),
        png=drawn,
    )
    store.keep_past(record)
    return drawn


def _screen(answer: PastSprings, site: Site, now: datetime) -> str:
    """Return the answer for a terminal."""
    return screen(
        answer,
        [(item, tally(all_nights(item))) for item in answer.settings],
        [(span, tally(nights)) for span, nights in answer.present.springs.items()],
        Wording(site, now),
    )
