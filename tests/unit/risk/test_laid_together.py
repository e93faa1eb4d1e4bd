"""Sources laid end to end are judged as each alone would be; equal hours are one."""

from dataclasses import fields, replace
from datetime import UTC, datetime

import numpy as np
import pytest

from frostalert.forecast.nws import parse_grid
from frostalert.model.assessment import BlockNight
from frostalert.model.forecast import ForecastRun
from frostalert.model.nights import Term, TermName
from frostalert.model.site import Farm
from frostalert.risk.adverse import ADVERSE_PROBABILITY
from frostalert.risk.block_hours import derive_block_hours, first_part, organ_of
from frostalert.risk.site_hours import prepare_site_hours, rain_wet
from frostalert.risk.terms import corrected
from tests.support.grids import frosty_hours, grid_text
from tests.support.holdings import SITE, make_block, make_holding
from tests.support.judged import assess

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)
EVENING = datetime(2026, 4, 13, 6, tzinfo=UTC)
BLOCKS = (
    make_block("Bare"),
    make_block("Cold", cold_spot_delta_c=-2.0),
    make_block("Watered", methods=("micro-sprinklers",)),
)


def run_of(seed: int, source: str, hours: int, warmer_c: float = 3.0) -> ForecastRun:
    """Return a frosty forecast that is off by some degrees, by night and by hour."""
    random = np.random.default_rng(seed)
    run = parse_grid(grid_text(air_c=frosty_hours(hours=hours)), NOW)
    off_c = random.normal(warmer_c, 2.0) + random.normal(0.0, 1.0, run.hours.count)
    air = run.hours.air_c + off_c
    dew = np.minimum(run.hours.dewpoint_c, air)
    own = replace(run.hours, air_c=air, dewpoint_c=dew)
    return replace(
        run, source=source, source_title=source, hours=own, night_minimums=()
    )


def farm_of(*sources: str) -> Farm:
    return replace(make_holding(*BLOCKS), sources=sources)


def most_adverse(starts: list[BlockNight]) -> BlockNight:
    """Return the start that counts, one by one as the rule has it."""
    likely = [item for item in starts if (item.probability or 0) >= ADVERSE_PROBABILITY]
    if likely:
        return min(likely, key=lambda item: item.running_by_utc or EVENING)
    return min(starts, key=lambda item: item.bud.low_c if item.bud else np.inf)


@pytest.mark.parametrize("warmer_c", [3.0, 9.0], ids=["frosty", "hardly cold"])
@pytest.mark.parametrize("now", [NOW, EVENING], ids=["afternoon", "in the night"])
def test_the_most_adverse_start_is_that_of_the_source_alone(
    now: datetime, warmer_c: float
) -> None:
    named = 0
    for seed in range(12):
        # Now the one reaches further ahead, now the other.
        reach = (36, 108) if seed % 2 else (108, 36)
        runs = (
            run_of(seed, "a", reach[0], warmer_c),
            run_of(100 + seed, "b", reach[1], warmer_c),
        )
        both = assess(farm_of("a", "b"), runs[0], now, others=runs[1:])
        alone = [assess(farm_of(run.source), run, now) for run in runs]
        for place, night in enumerate(both.nights):
            for row, block in enumerate(night.blocks):
                own = block.water_start_utc or block.danger_start_utc
                starts = [
                    (found.nights[place].blocks[row], run.source)
                    for found, run in zip(alone, runs, strict=True)
                    if place < len(found.nights)
                    and found.nights[place].blocks[row].bud is not None
                ]
                if own is None or not starts:
                    continue
                chosen = most_adverse([item for item, _ in starts])
                by = next(source for item, source in starts if item is chosen)
                assert chosen.running_by_utc is not None
                is_earlier = chosen.running_by_utc < own
                expected = (chosen.running_by_utc, by) if is_earlier else (None, "")
                assert (block.adverse_start_utc, block.adverse_source) == expected
                named += is_earlier
    assert named > 10


def test_sources_that_say_the_same_name_no_start_but_the_blocks_own() -> None:
    runs = run_of(5, "a", 60), run_of(5, "b", 60)
    found = assess(farm_of("a", "b"), runs[0], NOW, others=runs[1:])
    blocks = [block for night in found.nights for block in night.blocks]
    assert any(block.running_by_utc for block in blocks)
    assert {block.adverse_source for block in blocks} == {""}


def test_hours_laid_end_to_end_are_those_of_each_alone() -> None:
    farm = farm_of("a", "b")
    several = [
        prepare_site_hours(run_of(seed, "a", hours), SITE, NOW)
        for seed, hours in ((1, 60), (2, 84), (3, 48))
    ]
    organs = tuple(organ_of(farm, block, several[0]) for block in farm.blocks)
    together = derive_block_hours(several, SITE, farm.blocks, organs)
    begin = 0
    for shared in several:
        alone = derive_block_hours((shared,), SITE, farm.blocks, organs)
        end = begin + shared.run.hours.count
        for item in fields(alone):
            part = getattr(together, item.name)[:, begin:end]
            np.testing.assert_allclose(part, getattr(alone, item.name), atol=1e-7)
        if not begin:
            first = first_part(together, end)
            np.testing.assert_array_equal(first.dry_c, together.dry_c[:, :end])
        begin = end
    assert begin == together.air_c.shape[1]


def test_rain_at_the_end_of_one_source_does_not_wet_the_begin_of_the_next() -> None:
    run = run_of(1, "a", 48)
    chance = np.zeros(run.hours.count)
    chance[-3:] = 100.0
    # In saturated air nothing dries.
    humid = replace(run.hours, dewpoint_c=run.hours.air_c)
    rainy = replace(humid, precipitation_probability_pct=chance)
    dry = replace(humid, precipitation_probability_pct=np.zeros(run.hours.count))
    several = [
        prepare_site_hours(replace(run, hours=hours), SITE, NOW)
        for hours in (rainy, dry)
    ]
    wet = rain_wet(several)
    assert wet[run.hours.count - 1] == 1.0
    for part, shared in zip(np.split(wet, 2), several, strict=True):
        np.testing.assert_allclose(part, rain_wet((shared,)), atol=1e-9)
    assert wet[run.hours.count :].max() == 0.0


def test_equal_corrections_give_the_same_hours_and_others_do_not() -> None:
    shared = prepare_site_hours(run_of(4, "a", 60), SITE, NOW)

    def term(value_c: float, weight: float) -> Term:
        weights = np.full(shared.air_c.size, weight)
        return Term(
            name=TermName.LEARNED, value_c=value_c, weights=weights, origin="test"
        )

    colder = corrected(shared, [term(-1.0, 1.0)])
    assert corrected(shared, [term(-1.0, 1.0)]) is colder
    np.testing.assert_allclose(colder.air_c, shared.air_c - 1.0)
    for other in (term(-2.0, 1.0), term(-1.0, 0.5)):
        found = corrected(shared, [other])
        np.testing.assert_allclose(
            found.air_c, shared.air_c + other.value_c * other.weights
        )
    assert corrected(shared, []) is shared
