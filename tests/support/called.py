"""Whether hands are called for one block's night, by its finished record."""

from typing import NamedTuple

import numpy as np

from frostalert.model.assessment import BlockNight
from frostalert.model.forecast import FloatArray
from frostalert.model.site import Block, Rules
from frostalert.risk.hands import Odds, hands_for, stakes_of, start_reading_c


class Called(NamedTuple):
    """What is said of one block."""

    are_called: bool
    reason: str


def hands_of(record: BlockNight, block: Block, rules: Rules) -> Called:
    """Return whether hands are called, as for the only block."""
    threshold, bud = record.stage.threshold, record.bud
    assert threshold is not None
    assert bud is not None
    odds = Odds(
        night_probability=_one(record.night_probability),
        night_low_c=_one(bud.night_low_c),
        low_sigma_c=_one(record.low_sigma_c),
        t10_c=_one(threshold.t10_c),
        t90_c=_one(threshold.t90_c),
        left_before_pct=_one(record.left_before_pct),
        needed_pct=_one(block.crop.needed_pct),
        expected_kill_pct=_one(record.expected_kill_pct),
        crop_loss_pct=_one(record.crop_loss_pct),
    )
    found = hands_for(odds, stakes_of([block], rules))
    return Called(bool(found.are_called[0]), found.reason(0))


def reading_to_start(record: BlockNight) -> float:
    """Return what the block's air reads when water or heat must start. [degC]"""
    threshold, bud = record.stage.threshold, record.bud
    assert threshold is not None
    assert bud is not None
    found = start_reading_c(
        _one(threshold.alarm_c),
        _one(bud.low_c),
        _one(record.site_low_c),
        _one(record.start_air_c),
    )
    return float(found[0])


def _one(value: float | None) -> FloatArray:
    """Return a column of one item."""
    return np.array([np.nan if value is None else value])
