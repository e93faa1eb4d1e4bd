"""What last year's pairs are worth in the first fortnight of a spring."""

from collections.abc import Iterator, Sequence
from datetime import date

from frostalert.model.forecast import ForecastRun
from frostalert.model.learned import PairOrigin
from frostalert.model.past import PastNight
from frostalert.model.warmth import Sighting
from frostalert.past.answer import brier_score, tally
from frostalert.past.runs import afternoon_run
from frostalert.past.spans import nights_of, springs_between
from frostalert.past.walk import ArchivedLow, afternoons_of, walk
from tests.evaluation.hindcast.documents import CROP, LIMITS_C, STAGE, ZONE
from tests.evaluation.past_springs.layout import played_from
from tests.evaluation.past_springs.site import archive_of, bloom_farm

NIGHTS = 14
BLOCK = "B"


def fortnight_lines(
    runs: Sequence[ForecastRun], came: dict[date, float]
) -> Iterator[str]:
    """Give Brier scores and calls with and without the pairs of the year before."""
    nights = {run.updated_utc.astimezone(ZONE).date() for run in runs}
    spans = springs_between(min(nights), max(nights), is_south=False)
    archive = archive_of(played_from(runs))
    farm = bloom_farm(runs[0])
    origin = PairOrigin.ARCHIVE
    last = spans[-1]
    lows: list[ArchivedLow] = []
    for span in spans[:-1]:
        _, learned = afternoons_of(
            farm, [archive], nights_of(span), came, origin=origin, before=lows
        )
        lows += learned
    known = [n for n in nights_of(last) if afternoon_run(archive, n, ZONE) is not None]
    first = known[:NIGHTS]
    yield (
        f"the first {NIGHTS} nights of {last.year}, {CROP} in {STAGE}; "
        f"pairs of the years before: {len(lows)}"
    )
    for name, before in (("without", []), ("with", lows)):
        afternoons, _ = afternoons_of(
            farm, [archive], first, came, origin=origin, before=before
        )
        yield f"{name} those pairs: {_line(walk(farm, afternoons, in_bloom(first)))}"


def in_bloom(nights: Sequence[date]) -> list[Sighting]:
    """Return a block that is looked at every day, and is in bloom all along."""
    return [
        Sighting(block=BLOCK, crop=CROP, stage=STAGE, seen=night) for night in nights
    ]


def _line(nights: Sequence[PastNight]) -> str:
    """Return the scores and the calls of some nights."""
    scores = ", ".join(
        f"Brier score at {limit:g} degC {brier_score(nights, limit):.4f}"
        for limit in LIMITS_C
    )
    counts = tally(nights)
    errors = [n.low_c - n.came_c for n in nights if n.low_c is not None and n.came_c]
    bias = sum(errors) / len(errors) if errors else float("nan")
    return (
        f"nights {counts.nights}, bias {bias:+.2f} degC, {scores}; ready "
        f"{counts.ready}, needed {counts.ready_needed}, missed {counts.ready_missed}; "
        f"called {counts.called}, needed {counts.called_needed}, missed "
        f"{counts.called_missed}"
    )
