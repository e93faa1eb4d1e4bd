"""What the last nights teach: forecasts and nowcasts beside readings, gains."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Protocol
from zoneinfo import ZoneInfo

from frostalert.cycle.planning import calls_of
from frostalert.model.alarm import Answer
from frostalert.model.forecast import ForecastRun
from frostalert.model.hours import NightWindow
from frostalert.model.learned import (
    ForecastObservation,
    GainNight,
    NowcastPair,
    PairOrigin,
)
from frostalert.model.notice import NightHistory
from frostalert.model.official import StationReport
from frostalert.model.reading import Reading, Sensor, SensorKind
from frostalert.model.site import Farm
from frostalert.model.start import StartState
from frostalert.physics.nights import night_of, night_sun, night_window
from frostalert.plan.gains import night_gains
from frostalert.risk.learning import VERSION, night_pair
from frostalert.risk.nowcast_error import guess_moment, nowcast_pair
from frostalert.risk.sources import choose_runs

_NIGHTS_LEARNED = 3
_EVENING = timedelta(hours=4)
_MOST_KM = 30.0
"""Beyond that a station's nights are too little like the site's to teach of its
forecast. Common practice, no source."""
_DAYS_BEFORE = (0, 1, 2)
"""How long before its evening a night's forecasts are looked at, for each lead. [d]"""


class LessonBook(Protocol):
    """What is kept of the last nights, and what they taught."""

    def readings_since(self, since_utc: datetime) -> tuple[Reading, ...]:
        """Return the readings since a moment, oldest first."""

    def station_reports_since(self, since_utc: datetime) -> tuple[StationReport, ...]:
        """Return what official stations read since a moment, oldest first."""

    def runs_at(self, moment_utc: datetime) -> list[ForecastRun]:
        """Return the newest run of each source that was there at a moment."""

    def night_histories(self, now_utc: datetime) -> dict[date, NightHistory]:
        """Return what was said about each recent night."""

    def recent_answers(self, now_utc: datetime) -> tuple[Answer, ...]:
        """Return what people answered of late."""

    def save_pairs(self, pairs: list[ForecastObservation], version: int) -> None:
        """Keep nights' forecasts beside their readings."""

    def save_nowcasts(self, pairs: list[NowcastPair]) -> None:
        """Keep nights' guesses beside the lows that came."""

    def save_gain_nights(self, nights: list[GainNight]) -> None:
        """Keep what equipment gained."""


def learn_nights(farm: Farm, book: LessonBook, now_utc: datetime) -> None:
    """Pair the last nights' forecasts and nowcasts with what the reference read.

    Without a reference of the site's own the nearest official station lends its nights:
    they teach of the sources alone.
    """
    if not _has_reference(farm):
        _learn_from_station(farm, book, now_utc)
    if not farm.sensors:
        return
    zone = ZoneInfo(farm.site.time_zone)
    pairs: list[ForecastObservation] = []
    nowcasts: list[NowcastPair] = []
    gains: list[GainNight] = []
    for back in range(1, _NIGHTS_LEARNED + 1):
        window = night_window(night_of(now_utc, zone) - timedelta(days=back), zone)
        readings = [
            item
            for item in book.readings_since(window.start_utc)
            if item.at_utc <= window.end_utc
        ]
        if readings:
            pairs += _pairs(farm, book, readings, window)
            nowcasts += _nowcasts(farm, book, readings, window)
        gains += _gains(farm, book, readings, window, now_utc)
    book.save_pairs(pairs, VERSION)
    book.save_nowcasts(nowcasts)
    book.save_gain_nights(gains)


def _has_reference(farm: Farm) -> bool:
    """Return whether the site has a thermometer that tells its air."""
    return any(
        sensor.kind is SensorKind.REFERENCE and not sensor.is_treated
        for sensor in farm.sensors
    )


def _learn_from_station(farm: Farm, book: LessonBook, now_utc: datetime) -> None:
    """Pair the last nights' forecasts with what the nearest official station read."""
    zone = ZoneInfo(farm.site.time_zone)
    pairs: list[ForecastObservation] = []
    for back in range(1, _NIGHTS_LEARNED + 1):
        window = night_window(night_of(now_utc, zone) - timedelta(days=back), zone)
        reports = [
            item
            for item in book.station_reports_since(window.start_utc)
            if item.at_utc <= window.end_utc and item.distance_km <= _MOST_KM
        ]
        if reports:
            pairs += _lent_pairs(farm, book, reports, window)
    book.save_pairs(pairs, VERSION)


def _lent_pairs(
    farm: Farm,
    book: LessonBook,
    reports: Sequence[StationReport],
    window: NightWindow,
) -> list[ForecastObservation]:
    """Return a night's pairs with the station in the place of the reference."""
    last = reports[-1]
    stand_in = Sensor(name=last.station, kind=SensorKind.REFERENCE)
    readings = [
        Reading(sensor=item.station, at_utc=item.at_utc, air_c=item.air_c)
        for item in reports
    ]
    return [
        replace(
            pair,
            origin=PairOrigin.STATION,
            station=last.station,
            distance_km=last.distance_km,
        )
        for pair in _pairs(replace(farm, sensors=(stand_in,)), book, readings, window)
    ]


def _pairs(
    farm: Farm, book: LessonBook, readings: list[Reading], window: NightWindow
) -> list[ForecastObservation]:
    """Return what the forecasts of each lead said of a night that is over."""
    found = []
    for days in _DAYS_BEFORE:
        moment = window.start_utc + _EVENING - timedelta(days=days)
        found += [
            night_pair(run, farm, readings, moment, window.night)
            for run in book.runs_at(moment)
        ]
    return [pair for pair in found if pair is not None]


def _nowcasts(
    farm: Farm, book: LessonBook, readings: list[Reading], window: NightWindow
) -> list[NowcastPair]:
    """Return what the nowcast guessed of a night that is over, by the run of then."""
    moment = guess_moment(farm.site, window)
    runs = [] if moment is None else book.runs_at(moment)
    if moment is None or not runs:
        return []
    first = choose_runs(runs, farm.sources, moment)[0]
    pair = nowcast_pair(first, farm, readings, moment)
    return [] if pair is None else [pair]


def _gains(
    farm: Farm,
    book: LessonBook,
    readings: list[Reading],
    window: NightWindow,
    now_utc: datetime,
) -> list[GainNight]:
    """Return what was gained in a night by what people said they put to use."""
    told = book.night_histories(now_utc)
    # The morning has ended the night: what was put to use in it counts still.
    night = calls_of(told, book.recent_answers(now_utc), now_utc).get(window.night)
    site = farm.site
    sunset, sunrise = night_sun(window, site.latitude, site.longitude)
    if night is None or not night.is_answered or None in (sunset, sunrise):
        return []
    return night_gains(
        farm,
        readings,
        window.night,
        sunset or window.start_utc,
        sunrise or window.end_utc,
        in_use=frozenset(
            key
            for key, start in night.starts.items()
            if start.state is not StartState.REVOKED
        ),
    )
