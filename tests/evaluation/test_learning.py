"""Learning makes the chances that are told come true more nearly as often as told."""

import pytest

from tests.evaluation.learning import Told, brier, later_half, reliability


@pytest.fixture(scope="module")
def told() -> list[Told]:
    return later_half()


def test_the_brier_score_falls(told: list[Told]) -> None:
    before, after = brier(told)
    assert after < 0.85 * before


def test_what_is_told_happens_about_as_often(told: list[Told]) -> None:
    middles = (5.0, 15.0, 30.0, 50.0, 70.0, 90.0)
    for middle, (name, count, happened) in zip(
        middles, reliability(told, is_learned=True), strict=True
    ):
        assert count > 100
        assert happened == pytest.approx(middle, abs=9.0), name
    worst = max(
        abs(happened - middle)
        for middle, (_, _, happened) in zip(
            middles, reliability(told, is_learned=False), strict=True
        )
    )
    assert worst > 9.0  # before, the chances were told too mildly
