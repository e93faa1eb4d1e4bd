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
from tests.support.kept import keepers

SEED, NIGHTS = 105, 3
MOST_HIT = {
    "frostalert.risk.site_hours._site_hours",
    "frostalert.risk.block_hours._block_hours",
    "frostalert.risk.measure._measured",
    "frostalert.risk.coverage._known_hours",
}
"""What a look at an unchanged forecast must find made."""


def _play(folder: Path) -> tuple[Score, list[Delivery]]:
    """Return the figures of a short season with plans, and all that arrived.

    Without the random marks of mails.
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
        is_plain=True,
        folder=folder / "state",
        on_end=note,
    )
    return found, arrived


def test_a_season_is_the_same_without_what_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A second season finds what the first one left: that must not matter either.
    _play(tmp_path)
    with_it = _play(tmp_path)
    # The formulas of `physics` keep results of plain numbers.
    kept = [
        (module, name, value)
        for module, name, value in keepers()
        if not value.__module__.startswith("frostalert.physics")
    ]
    names = {f"{value.__module__}.{value.__name__}" for _, _, value in kept}
    assert names >= MOST_HIT
    for module, name, value in kept:
        monkeypatch.setattr(module, name, value.__wrapped__)
    without = _play(tmp_path)
    assert with_it[1]
    assert without == with_it


def test_looks_at_an_unchanged_forecast_derive_nothing_again(tmp_path: Path) -> None:
    kept: dict[str, Callable[..., Any]] = {
        f"{value.__module__}.{value.__name__}": value for _, _, value in keepers()
    }
    for name in MOST_HIT:
        kept[name].cache_clear()  # type: ignore[attr-defined]
    _play(tmp_path)
    for name in MOST_HIT:
        found = kept[name].cache_info()  # type: ignore[attr-defined]
        assert found.hits > found.misses, name


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
