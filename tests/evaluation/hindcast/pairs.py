"""Read nights with what two services had forecast and what was analysed afterwards."""

import csv
import gzip
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from frostalert.model.forecast import FloatArray

SOURCES = ("Open-Meteo", "NWS")
_COLUMNS = ("open_meteo_low_f", "nws_low_f")
_TRUTH = "analysed_low_f"

Dates = NDArray[np.datetime64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """One station's nights at one lead, in order.

    `night` is the evening's date. The forecast of a lead of one day was made in the
    small hours of that date, that of three days two dates earlier. Lows have the shape
    (sources, nights); one that is missing is NaN. [degC]
    """

    station: str
    lead_days: int
    night: Dates
    lows_c: FloatArray
    analysed_c: FloatArray


def read_series(path: Path) -> list[Series]:
    """Return all series of a file of pairs, which may be compressed (.gz).

    Its columns: station, night, lead_days, open_meteo_low_f, nws_low_f and
    analysed_low_f [degF]. A night without an analysed low teaches and proves nothing.
    """
    opened = gzip.open if path.suffix == ".gz" else open
    with opened(path, "rt", encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row[_TRUTH]]
    keys = sorted({(row["station"], int(row["lead_days"])) for row in rows})
    return [_series(rows, station, lead) for station, lead in keys]


def _series(rows: list[dict[str, str]], station: str, lead_days: int) -> Series:
    key = (station, str(lead_days))
    own = [row for row in rows if (row["station"], row["lead_days"]) == key]
    own.sort(key=lambda row: row["night"])
    return Series(
        station=station,
        lead_days=lead_days,
        night=np.array([row["night"] for row in own], dtype="datetime64[D]"),
        lows_c=np.array([[_celsius(row[name]) for row in own] for name in _COLUMNS]),
        analysed_c=np.array([_celsius(row[_TRUTH]) for row in own]),
    )


def _celsius(text: str) -> float:
    return (float(text) - 32.0) / 1.8 if text else float("nan")
