"""What is kept between looks changes nothing: seasons with it and without are one."""

from collections.abc import Callable
from dataclasses import fields, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.season.score import Score
from tests.season.season import run_season
from tests.season.weather import Season
from tests.season.world import Delivery, World
from tests.support.holdings import make_holding
from tests.support.judged import nights_of
from tests.support.kept import keepers, never_kept

SEED, NIGHTS = 105, 3
MOST_HIT = {
    "frostalert.risk.site_hours._site_hours",
    "frostalert.risk.site_hours._weather",
    "frostalert.risk.block_hours._block_hours",
    "frostalert.risk.measure._measured",
    "frostalert.risk.coverage._known_hours",
}
"""What a look at an unchanged forecast must find made."""
LEARNED = {
    "frostalert.risk.source_bias._faded",
    "frostalert.store.readings._reading",
    "frostalert.store.pairs._pair",
}
"""What it must find besides, where nights are learned from."""


def _play(folder: Path, *, is_plain: bool) -> tuple[Score, list[Delivery]]:
    """Return the figures of a short season with plans, and all that arrived.

    By one source, or by two and a thermometer, and without the random marks of mails.
    """
    arrived: list[Delivery] = []

    def note(world: World) -> None:
        arrived.extend(
            replace(item, message=replace(item.message, message_id=""))
            for item in world.delivered
        )

    found = run_season(
        SEED,
        nights=NIGHTS,
        has_equipment=True,
        is_plain=is_plain,
        folder=folder / "state",
        on_end=note,
    )
    return found, arrived


@pytest.mark.parametrize("is_plain", [True, False], ids=["plain", "two sources"])
def test_a_season_is_the_same_without_what_is_kept_and_derives_nothing_again_with_it(
    tmp_path: Path, *, is_plain: bool
) -> None:
    kept: dict[str, Callable[..., Any]] = {
        f"{value.__module__}.{value.__name__}": value for _, _, value in keepers()
    }
    # A reading, and each hour of several sources, is a look at something new.
    numbers = {"frostalert.risk.measure._measured"}
    expected = MOST_HIT if is_plain else (MOST_HIT | LEARNED) - numbers
    for name in expected:
        kept[name].cache_clear()  # type: ignore[attr-defined]
    _play(tmp_path, is_plain=is_plain)
    for name in expected:
        found = kept[name].cache_info()  # type: ignore[attr-defined]
        assert found.hits > found.misses, name
    # A second season finds what the first one left: that must not matter either.
    with_it = _play(tmp_path, is_plain=is_plain)
    with never_kept():
        left = {f"{value.__module__}.{value.__name__}" for _, _, value in keepers()}
        assert not left & (MOST_HIT | LEARNED)
        without = _play(tmp_path, is_plain=is_plain)
    assert with_it[1]
    assert without == with_it


def test_what_is_kept_cannot_be_changed() -> None:
    now = datetime(2026, 3, 1, 17, tzinfo=UTC)
    run = Season(SEED, now.date(), NIGHTS).forecast(now)
    nights = nights_of(make_holding(), run, now)
    for record in (nights.site_hours, nights.block_hours):
        arrays = [
            value
            for item in fields(record)  # type: ignore[arg-type]
            if isinstance(value := getattr(record, item.name), np.ndarray)
        ]
        assert len(arrays) >= 7
        assert not any(array.flags.writeable for array in arrays)
