"""What each quantity of the configuration may be, up to the limits that it names."""

from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from frostalert.config import quantities as q

LIMITS = [
    (q.Volume, "0 L", "100000 m3", "101000 m3"),
    (q.Flow, "0 L/h", "10000 m3/h", "10100 m3/h"),
    (q.Power, "0 kW", "1000 kW", "1001 kW"),
    (q.ClothWeight, "0 g/m2", "500 g/m2", "501 g/m2"),
    (q.CrownWidth, "0 m", "30 m", "30.1 m"),
    (q.CoverSkin, "0 m2", "1000 m2", "1001 m2"),
    (q.Gain, "0 degF", "18 degF", "18.1 degF"),
    (q.Elevation, "-450 m", "5000 m", "5001 m"),
    (q.PlantHeight, "0 m", "20 m", "20.1 m"),
    (q.Area, "0.1 m2", "5000 ha", "5001 ha"),
    (q.ColdSpot, "-12 degC", "8 degC", "8.1 degC"),
    (q.CultivarOffset, "-10.8 degF", "7.2 degF", "7.3 degF"),
    (q.DayHigh, "50 degF", "104 degF", "105 degF"),
    (q.Step, "0.25 degC", "8 degC", "8.1 degC"),
    (q.ErrorSize, "0 degF", "14 degF", "14.5 degF"),
    (q.Hours, "0 min", "24 h", "25 h"),
    (q.FetchInterval, "10 min", "6 h", "6.1 h"),
]
BELOW = [
    (q.Elevation, "-451 m"),
    (q.Area, "0.09 m2"),
    (q.ColdSpot, "-12.1 degC"),
    (q.CultivarOffset, "-10.9 degF"),
    (q.DayHigh, "49 degF"),
    (q.Step, "0.2 degC"),
    (q.FetchInterval, "9 min"),
]


@pytest.mark.parametrize(("kind", "least", "most", "more"), LIMITS)
def test_a_quantity_holds_up_to_the_limit_that_it_names(
    kind: Any, least: str, most: str, more: str
) -> None:
    reader = TypeAdapter(kind)
    for text in (least, most):
        reader.validate_python(text)
    with pytest.raises(ValidationError, match="cannot be right here"):
        reader.validate_python(more)


@pytest.mark.parametrize(("kind", "less"), BELOW)
def test_a_quantity_holds_down_to_the_limit_that_it_names(kind: Any, less: str) -> None:
    with pytest.raises(ValidationError, match="cannot be right here"):
        TypeAdapter(kind).validate_python(less)


def test_every_quantity_with_limits_is_tried() -> None:
    tried = {id(row[0]) for row in LIMITS}
    unlimited = {"FuelAmount", "FuelRate", "LocalTime"}
    named = {
        name
        for name, kind in vars(q).items()
        if hasattr(kind, "__metadata__") and id(kind) not in tried
    }
    assert named == unlimited
