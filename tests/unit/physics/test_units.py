"""Quantities with units: what is read, and what is refused with which words."""

import pytest

from frostalert.errors import QuantityError
from frostalert.physics import units
from frostalert.physics.units import converted_by_pint, parse_quantity


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("27 degF", "temperature", -2.7778),
        ("27F", "temperature", -2.7778),
        ("27 °F", "temperature", -2.7778),
        ("-2 degC", "temperature", -2.0),
        ("-2 degF", "temperature_difference", -1.1111),
        ("-2 K", "temperature_difference", -2.0),
        ("9 ft", "length", 2.7432),
        ("6 in", "length", 0.1524),
        ("0.3 acre", "area", 1214.06),
        ("45 min", "duration", 2700.0),
        ("1800 gph", "flow", 6813.74),
    ],
)
def test_quantities_are_read(text: str, kind: str, value: float) -> None:
    assert parse_quantity(text, kind) == pytest.approx(value, rel=1e-4)


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        (-2, "temperature_difference", 'write "-2 degF" or "-2 degC"'),
        ("-2", "temperature", 'write "-2 degF" or "-2 degC"'),
        ("3 m", "temperature", '"m" is not a unit of temperature'),
        ("3 K", "temperature", '"K" is not a unit of temperature'),
        ("3 furlong", "length", '"furlong" is not a unit of length; known are m, cm'),
        ("6,000 gal", "volume", 'write "6000 gal" if it stands for thousands'),
        ("2,5 m", "length", 'write it with a point: "2.5 m"'),
        ("38.886, -77.094", "length", "is not a unit of length"),
        ("cold", "temperature", "is not a temperature"),
        (True, "length", "is not a length"),
        ("", "duration", "is not a duration"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_the_remedy(
    text: object, kind: str, words: str
) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, kind)
    assert words in str(caught.value)


@pytest.mark.parametrize("kind", units._KINDS)
@pytest.mark.parametrize("number", ["-40", "0", "0.3", "27", "6000"])
def test_every_spelling_is_worth_what_pint_makes_of_it(kind: str, number: str) -> None:
    known = units._KINDS[kind]
    for spelling, unit in known.spellings.items():
        by_pint = converted_by_pint(float(number), unit, known.target)
        found = parse_quantity(f"{number} {spelling}", kind)
        assert found == pytest.approx(by_pint, rel=1e-13, abs=1e-12)


def test_no_factor_stands_without_a_spelling() -> None:
    named = {unit for kind in units._KINDS.values() for unit in kind.spellings.values()}
    assert set(units._FACTORS) <= named
