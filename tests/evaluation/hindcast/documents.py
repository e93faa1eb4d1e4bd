"""The whole program on recorded answers: from the parser to what would have been said.

An archive holds answers of Open-Meteo, one an afternoon, named by their local hour
(`2024-03-30_1500.json`); a file of official lows says what came. Older answers have
other names and units: those alone are changed before the parser reads them.
"""

import json
import tarfile
from collections.abc import Callable, Iterable, Iterator
from csv import DictReader
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from frostalert.agronomy.kill import reach_probability
from frostalert.forecast.open_meteo import parse_forecast
from frostalert.model.assessment import NightAssessment, NightKind, Tier
from frostalert.model.forecast import ForecastRun
from frostalert.model.learned import ForecastObservation
from frostalert.model.nights import Facts, Nights
from frostalert.model.site import Farm
from frostalert.risk.assess import assess_all
from frostalert.risk.source_bias import lead_class
from tests.evaluation.hindcast.tables import Line
from tests.support.holdings import SITE, make_block, make_holding

ZONE = ZoneInfo("America/New_York")
MOST_AHEAD = 3
LIMITS_C = (0.0, -2.2)
CROP, STAGE = "apple", "full bloom"
"""What is told of is a block of this, which a tenth is killed of at -2.2 degC."""
_F = 5.0 / 9.0
_NEW_NAMES = {
    "relativehumidity_2m": "relative_humidity_2m",
    "dewpoint_2m": "dew_point_2m",
    "cloudcover": "cloud_cover",
    "windspeed_10m": "wind_speed_10m",
    "winddirection_10m": "wind_direction_10m",
}
_TO_PRESENT: dict[str, tuple[str, Callable[[float], float]]] = {
    "°F": ("°C", lambda value: (value - 32.0) * _F),
    "mp/h": ("m/s", lambda value: value * 0.44704),
    "inch": ("mm", lambda value: value * 25.4),
}


@dataclass(frozen=True, slots=True)
class Told:
    """One night as it was judged some nights ahead, and what came."""

    night: date
    ahead: int
    source_c: float
    low_c: float
    sigma_c: float
    tier: Tier
    calls_hands: bool
    came_c: float


def as_served_today(document: dict[str, object]) -> str:
    """Return an older answer with the names and units of today, and no other change."""
    hourly, units = document["hourly"], document["hourly_units"]
    assert isinstance(hourly, dict)
    assert isinstance(units, dict)
    made: dict[str, list[object]] = {}
    named: dict[str, str] = {}
    for name, values in hourly.items():
        new, old_unit = _NEW_NAMES.get(name, str(name)), str(units[name])
        named[new], made[new] = old_unit, list(values)
        if old_unit in _TO_PRESENT:
            named[new], change = _TO_PRESENT[old_unit]
            made[new] = [
                None if value is None else round(change(value), 3) for value in values
            ]
    return json.dumps({**document, "hourly": made, "hourly_units": named})


def read_archive(path: Path) -> Iterator[ForecastRun]:
    """Give the forecasts of an archive, the oldest first."""
    with tarfile.open(path) as archive:
        for name in sorted(archive.getnames()):
            member = archive.extractfile(name)
            if member is None or not name.endswith(".json"):
                continue
            local = datetime.strptime(Path(name).stem, "%Y-%m-%d_%H%M")  # noqa: DTZ007
            made = local.replace(tzinfo=ZONE).astimezone(UTC)
            yield parse_forecast(as_served_today(json.load(member)), made)


def read_observed(path: Path) -> dict[date, float]:
    """Return each night's official low, by its evening's date. [degC]

    A day's low that came after noon belongs to the next night: it says nothing of the
    morning's.
    """
    lows = {}
    with path.open(encoding="utf-8") as file:
        for row in DictReader(file):
            if row["local_standard_time"].endswith("A"):
                night = date.fromisoformat(row["day"]) - timedelta(days=1)
                lows[night] = (float(row["low_f"]) - 32.0) * _F
    return lows


def play(runs: Iterable[ForecastRun], came: dict[date, float]) -> list[Told]:
    """Judge each afternoon by what was known then; return every night with its outcome.

    The official low is the thermometer that the site learns from, night by night.
    """
    told: list[Told] = []
    pairs: list[ForecastObservation] = []
    waiting: list[tuple[date, int, NightKind, str, float]] = []
    for run in runs:
        today = run.updated_utc.astimezone(ZONE).date()
        pairs += [
            ForecastObservation(
                night=night,
                source=source,
                lead=lead_class(ahead),
                kind=kind,
                forecast_low_c=low,
                observed_low_c=came[night],
            )
            for night, ahead, kind, source, low in waiting
            if night < today and night in came
        ]
        waiting = [item for item in waiting if item[0] >= today]
        nights = assess_all(
            _farm(run), Facts(runs=(run,), pairs=tuple(pairs)), run.updated_utc
        )
        for ahead, night in enumerate(nights.assessment.nights[:MOST_AHEAD]):
            found = _told(nights, night, ahead, came)
            if night.kind is not None and night.low_c is not None:
                waiting.append(
                    (night.night, ahead, night.kind, run.source, night.low_c)
                )
            told += [found] if found is not None else []
    return told


def _farm(run: ForecastRun) -> Farm:
    """Return a site at the forecast's place with one block, looked at that day."""
    assert run.latitude is not None
    assert run.longitude is not None
    site = replace(
        SITE,
        latitude=run.latitude,
        longitude=run.longitude,
        elevation_m=run.elevation_m or 0.0,
        time_zone=ZONE.key,
    )
    seen = run.updated_utc.astimezone(ZONE).date()
    return make_holding(make_block("B", CROP, STAGE, seen=seen), site=site)


def _told(
    nights: Nights, night: NightAssessment, ahead: int, came: dict[date, float]
) -> Told | None:
    """Return what was told of one night; None where its outcome is not known."""
    low, block = night.site_low, night.blocks[0]
    if (
        night.night not in came
        or low is None
        or low.low_c is None
        or night.low_c is None
    ):
        return None
    return Told(
        night=night.night,
        ahead=ahead,
        source_c=night.low_c,
        low_c=low.low_c,
        sigma_c=float(np.hypot(low.sigma_c, low.site_sigma_c)),
        tier=night.tier,
        calls_hands=block.calls_hands,
        came_c=came[night.night],
    )


def lines(told: list[Told]) -> Iterator[Line]:
    """Give the figures of each lead."""
    yield "truth", "official daily lows of a station, warmer than its cell by habit"
    for ahead in range(MOST_AHEAD):
        own = [item for item in told if item.ahead == ahead]
        if not own:
            continue
        start = f"{ahead} nights ahead, "
        came = np.array([item.came_c for item in own])
        source = np.array([item.source_c for item in own])
        low = np.array([item.low_c for item in own])
        sigma = np.array([item.sigma_c for item in own])
        yield f"{start}nights", str(len(own))
        for name, values in (("source", source), ("ours", low)):
            error = values - came
            yield f"{start}bias of {name} [degC]", f"{error.mean():.2f}"
            rmse = float(np.sqrt((error**2).mean()))
            yield f"{start}RMSE of {name} [degC]", f"{rmse:.2f}"
        for limit in LIMITS_C:
            is_cold = came <= limit
            chance = reach_probability(low, sigma, limit)
            brier = float(((chance - is_cold) ** 2).mean())
            usual = float(is_cold.mean() * (1.0 - is_cold.mean()))
            yield f"{start}nights at or below {limit:g} degC", str(int(is_cold.sum()))
            yield (
                f"{start}Brier score at {limit:g} degC (climatology)",
                f"{brier:.4f} ({usual:.4f})",
            )
        yield from _calls(start, own)


def _calls(start: str, own: list[Told]) -> Iterator[Line]:
    """Give hits, misses and false calls of both steps, by the air that came."""
    is_cold = np.array([item.came_c <= LIMITS_C[1] for item in own])
    for name, is_called in (
        ("get ready", np.array([item.tier.rank > 0 for item in own])),
        ("hands", np.array([item.calls_hands and item.tier.rank > 0 for item in own])),
    ):
        hits = int((is_cold & is_called).sum())
        yield (
            f"{start}{name}, times called, needed, missed",
            f"{int(is_called.sum())}, {hits}, {int(is_cold.sum()) - hits}",
        )
