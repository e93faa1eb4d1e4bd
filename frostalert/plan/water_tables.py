"""Published rates for water over plants, to stand beside our own heat balance."""

from dataclasses import dataclass

_MM_PER_IN = 25.4
_MPS_PER_MPH = 0.44704
_WIND_UP_TO_MPH = (1.0, 4.0, 8.0)
# lowest air [degF] -> in/h at the winds above
_RATES_IN_PER_H = (
    (27.0, (0.10, 0.10, 0.10)),
    (26.0, (0.10, 0.10, 0.14)),
    (24.0, (0.10, 0.16, 0.30)),
    (22.0, (0.12, 0.24, 0.50)),
    (20.0, (0.16, 0.30, 0.60)),
    (18.0, (0.20, 0.40, 0.70)),
    (15.0, (0.26, 0.50, 0.90)),
)
BY_WIND = (
    "table of rates by lowest air and wind after Gerber and Martsolf, UF Circular 287 "
    "(from memory)"
)
_GENERAL_FROM_F, _GENERAL_MM_PER_H = 26.0, 4.5
OVER_TREE = (
    "rule of 70 to 80 gpm an acre down to about 24 F (R. Evans, USDA-ARS, in Good "
    "Fruit Grower)"
)


CALIBRATED_TO_PRACTICE = 0.55
"""Share of the heat balance that published practice gives, by which ours is taken. [1]

The whole balance (gusts of a wind tunnel's heat times 1.4, seven drops in ten caught)
asks for 8.4 mm/h at -4.4 degC near calm, where 3.9 to 4.5 mm/h are published [2 of
`published_rate`]. This share of it is 1.0 to 1.2 times those figures:
`python -m tests.evaluation.water_need`. Common practice, no source for the share.
"""


@dataclass(frozen=True, slots=True)
class TableRate:
    """A rate that a table asks for; None where it ends. [mm/h]"""

    mm_per_h: float | None
    source: str


def published_rate(air_low_c: float, wind_2m_mps: float) -> TableRate:
    """Return the highest of the published rates for a low and a wind.

    Parameters
    ----------
    air_low_c : float
        Lowest air among the plants. [degC]
    wind_2m_mps : float
        Wind among them. [m/s]

    Returns
    -------
    TableRate
        The next colder row and the next windier column count; no rate below or
        beyond the last.

    References
    ----------
    .. [1] Gerber and Martsolf, Sprinkling for frost and cold protection, University of
       Florida Circular 287 (three columns, from memory).
    .. [2] R. Evans, USDA-ARS, quoted in Good Fruit Grower, "Frost control options".

    Examples
    --------
    >>> round(published_rate(-4.4, 1.5).mm_per_h, 1)
    4.5
    >>> published_rate(-4.4, 5.0).mm_per_h is None
    True
    """
    low_f = air_low_c * 1.8 + 32.0
    wind_mph = wind_2m_mps / _MPS_PER_MPH
    column = next((n for n, top in enumerate(_WIND_UP_TO_MPH) if wind_mph <= top), None)
    row = next(
        (rates for row_f, rates in _RATES_IN_PER_H if low_f >= row_f - 0.2), None
    )
    if column is None or row is None:
        return TableRate(None, BY_WIND)
    by_wind = TableRate(row[column] * _MM_PER_IN, BY_WIND)
    # Below 24 degF at least what 24 degF takes: a colder night never takes less.
    if low_f < _GENERAL_FROM_F and row[column] * _MM_PER_IN < _GENERAL_MM_PER_H:
        return TableRate(_GENERAL_MM_PER_H, OVER_TREE)
    return by_wind
