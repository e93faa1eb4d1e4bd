"""Three short seasons: too long to keep in words, so kept as hashes, day by day."""

import json
from collections.abc import Callable
from functools import partial
from pathlib import Path

from tests.golden.house import ZONE, empty_folder
from tests.golden.record import digest, words_of
from tests.season.season import run_season
from tests.season.world import World

_NIGHTS = 14
Files = dict[str, str]


def season(seed: int, *, has_equipment: bool = False, is_full: bool = False) -> Files:
    """A season's score and hashes of each day's messages; in full with the words."""
    heard: list[World] = []
    with empty_folder():
        found = run_season(
            seed,
            nights=_NIGHTS,
            has_equipment=has_equipment,
            folder=Path("season"),
            on_end=heard.append,
        )
    days: dict[str, list[str]] = {}
    for delivery in heard[0].delivered:
        local = delivery.at_utc.astimezone(ZONE)
        words = f"{local}{' again' * delivery.is_repeat}\n{words_of(delivery.message)}"
        days.setdefault(local.date().isoformat(), []).append(words)
    everything = "\n".join(words for told in days.values() for words in told)
    content = {
        "score": dict(found.rows()),
        "all": digest(everything),
        "days": {day: digest("\n".join(told)) for day, told in days.items()},
    }
    files = {"season.json": json.dumps(content) + "\n"}
    return files | {"words.txt": everything} if is_full else files


SEASONS: dict[str, Callable[..., Files]] = {
    "season-1": partial(season, 301),
    "season-2": partial(season, 302),
    "season-3-equipped": partial(season, 303, has_equipment=True),
}
