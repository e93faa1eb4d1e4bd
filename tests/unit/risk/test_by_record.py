"""Judged all at once, by column, as each block's night is by a record of its own."""

from unittest.mock import patch

import pytest

from frostalert.model.assessment import Tier
from frostalert.risk import hands, tiers
from tests.by_record.looks import draw_look
from tests.by_record.nights import differences, program_of

LOOKS = range(60)
"""`python -m tests.by_record` judges 750, which is 20,000 blocks' nights."""


def test_what_is_judged_by_column_is_what_is_judged_by_record() -> None:
    seen: set[Tier] = set()
    nights = 0
    for seed in LOOKS:
        found = program_of(draw_look(seed))
        assert differences(found) == [], seed
        for night in found.assessment.nights:
            seen |= {block.tier for block in night.blocks}
            nights += len(night.blocks)
    assert seen == set(Tier)
    assert nights > 1500


@pytest.mark.parametrize(
    ("module", "name", "value"),
    [
        (hands, "LEAST_PROBABILITY", 0.2),
        (hands, "MOST_CROP_LOSS_PCT", 15.0),
        (hands, "THERMOMETER_PROBABILITY", 0.5),
        (tiers, "FROST_TENDER_C", 0.0),
    ],
)
def test_a_rule_that_is_changed_is_found(
    module: object, name: str, value: float
) -> None:
    with patch.object(module, name, value):
        found = (differences(program_of(draw_look(seed))) for seed in LOOKS)
        assert any(found)
