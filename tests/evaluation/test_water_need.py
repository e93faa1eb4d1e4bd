"""The demand for water is never below what was read, and grows with cold and wind."""

import pytest

from tests.evaluation.water_need import LOWS_C, WINDS_MPS, main, need_of, ratios


def test_the_demand_is_one_to_one_and_a_half_times_what_was_read() -> None:
    for _, _, least, most, _ in ratios():
        assert least >= 1.0
        assert most <= 1.5


@pytest.mark.parametrize("wind_mps", WINDS_MPS)
def test_a_colder_night_never_takes_less(wind_mps: float) -> None:
    demands = [need_of(low_c, wind_mps).demand for low_c in LOWS_C]
    known = [demand for demand in demands if demand is not None]
    assert known == sorted(known)
    # Once it is beyond what is published it stays beyond.
    assert demands[: len(known)] == known


@pytest.mark.parametrize("low_c", LOWS_C)
def test_more_wind_never_takes_less(low_c: float) -> None:
    demands = [need_of(low_c, wind_mps).demand for wind_mps in WINDS_MPS]
    known = [demand for demand in demands if demand is not None]
    assert known == sorted(known)


def test_the_command_prints_each_figure_with_its_source(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main() == 0
    printed = capsys.readouterr().out
    assert "R. Evans, USDA-ARS" in printed
    assert "Gerber and Martsolf" in printed
    assert "(aim 1.0 to 1.5)" in printed
