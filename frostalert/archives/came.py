"""The lows that came: the site's own thermometer, a station, at last a reanalysis."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import partial
from zoneinfo import ZoneInfo

from frostalert.archives.asking import Asking
from frostalert.archives.stations import (
    FARTHEST_KM,
    MOST_TRIED,
    StationDays,
    StationFound,
    Stations,
    parse_days,
    parse_near,
)
from frostalert.archives.thermometer import load_old, own_file
from frostalert.errors import ForecastFormatError, ForecastRejectedError
from frostalert.forecast.previous_runs import OpenMeteoArchive, parse_reanalysis
from frostalert.model.forecast import ForecastRun
from frostalert.model.past import LATEST, SpringSpan, Truth, TruthKind
from frostalert.model.settings import Settings
from frostalert.past.lows import (
    Lows,
    day_end,
    lows_of_hours,
    lows_of_readings,
    lows_of_station,
    misfit_c,
)
from frostalert.past.runs import joined
from frostalert.past.spans import nights_of
from frostalert.physics.geo import distance_km

LEAST_NIGHTS = 20
"""Nights that a thermometer must tell of. [nights] Our own rule."""
_LEAST_SHARE = 0.7
_MOST_MISFIT_C = 4.0
_REFUSALS = (ForecastRejectedError, ForecastFormatError)


def own_lows(settings: Settings, spans: Sequence[SpringSpan]) -> Truth | None:
    """Return the lows of the site's own thermometer, if there is a file of it.

    Raises
    ------
    UsageError
        If the file cannot be read.
    """
    found = own_file(settings)
    if found is None:
        return None
    path, columns = found
    old = load_old(path, columns)
    lows = lows_of_readings(old.readings, old.mornings, settings.farm.site)
    return Truth(
        kind=TruthKind.OWN,
        name=path.name,
        lows_c=within(lows, spans),
        notes=tuple(f"{path.name}, {problem}" for problem in old.problems),
    )


def tells_enough(truth: Truth, spans: Sequence[SpringSpan]) -> bool:
    """Return whether a thermometer tells of enough nights."""
    nights = sum(len(nights_of(span)) for span in spans)
    return len(truth.lows_c) >= min(LEAST_NIGHTS, nights // 2)


def within(lows: Mapping[date, float], spans: Sequence[SpringSpan]) -> Lows:
    """Return the lows of the nights that are looked at."""
    return {
        night: low
        for night, low in lows.items()
        if any(span.first <= night <= span.last for span in spans)
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class StationSearch:
    """The search for a station that can stand for the site.

    Attributes
    ----------
    latest : sequence of ForecastRun
        Hours at the site, which tell when a station's day was coldest.
    """

    settings: Settings
    stations: Stations
    asking: Asking
    spans: Sequence[SpringSpan]
    latest: Sequence[ForecastRun]

    def find(self) -> tuple[Truth | None, tuple[str, ...]]:
        """Return the lows of the nearest station that can be believed, and what failed.

        Raises
        ------
        ForecastUnavailableError
            If the service could not be asked.
        """
        notes: list[str] = []
        try:
            near = self._near()
        except _REFUSALS as error:
            return None, (f"no station could be looked up: {error.problem}",)
        for station in near[:MOST_TRIED]:
            try:
                return self._of(station), tuple(notes)
            except _REFUSALS as error:
                notes.append(f"station {station.identifier} left out: {error.problem}")
        return None, tuple(notes or [f"no station within {FARTHEST_KM:.0f} km"])

    @property
    def _place(self) -> tuple[float, float]:
        site = self.settings.farm.site
        return site.latitude, site.longitude

    def _near(self) -> list[StationFound]:
        """Return the stations to try, the nearest first."""
        named = self.settings.past.station
        if named is not None:
            return [StationFound(0.0, named)]
        first, last = self.spans[0].first, self.spans[-1].last
        return self.asking.kept(
            f"stations near|{self._place}|{first}|{last}",
            partial(self.stations.near, first, last),
            lambda text: parse_near(text, self._place),
            last=last,
        )

    def _of(self, station: StationFound) -> Truth:
        """Return a station's lows.

        Raises
        ------
        ForecastFormatError
            If they are not of this station, too few, or do not go with this place.
        """
        site = self.settings.farm.site
        zone = ZoneInfo(site.time_zone)
        days = self._days(station.identifier)
        end = day_end(days.minimums_c, self.latest, zone)
        lows, left_out = lows_of_station(days.minimums_c, self.latest, zone, end)
        lows = within(lows, self.spans)
        distance = station.distance_km
        if days.place is not None:
            distance = distance_km(self._place, days.place)
        problem = self._stranger(days, lows, distance)
        if problem:
            raise ForecastFormatError(station.identifier, problem)
        above = days.elevation_m
        return Truth(
            kind=TruthKind.STATION,
            name=f"{days.name} ({days.identifier})",
            lows_c=lows,
            distance_km=distance,
            above_m=None if above is None else above - site.elevation_m,
            left_out=left_out,
            notes=(f"the station's day ends {end.words}, by how its lows fit",),
        )

    def _days(self, identifier: str) -> StationDays:
        """Return a station's days in all springs."""
        found: list[StationDays] = []
        for span in self.spans:
            first, last = span.first, span.last + timedelta(days=1)
            days = self.asking.kept(
                f"station|{identifier}|{first}|{last}",
                partial(self.stations.days, identifier, first, last),
                lambda text: parse_days(text, identifier),
                last=last,
            )
            found.append(days)
        named = next((item for item in found if item.minimums_c), found[-1])
        minimums = {d: low for item in found for d, low in item.minimums_c.items()}
        return replace(named, minimums_c=minimums)

    def _stranger(self, days: StationDays, lows: Lows, distance: float) -> str:
        """Return why a station cannot stand for this place, nothing if it can."""
        nights = [night for span in self.spans for night in nights_of(span)]
        if distance > FARTHEST_KM:
            return f"it stands {distance:.0f} km away"
        if len(days.minimums_c) < _LEAST_SHARE * len(nights):
            return f"it has minimums of {len(days.minimums_c)} days in {len(nights)}"
        forecast: Lows = {}
        for run in self.latest:
            forecast |= lows_of_hours(run, self.settings.farm.site, nights)
        misfit, compared = misfit_c(lows, forecast)
        if compared >= LEAST_NIGHTS and misfit > _MOST_MISFIT_C:
            return f"its lows go {misfit:.1f} C apart from this place's, night by night"
        return ""


def reanalysed_lows(
    settings: Settings,
    source: OpenMeteoArchive,
    asking: Asking,
    days: Mapping[SpringSpan, Sequence[tuple[date, date]]],
) -> Truth:
    """Return the lows of a reanalysis, the last resort.

    Raises
    ------
    ForecastError
        If it could not be had.
    """
    site, lows = settings.farm.site, Lows()
    for span, parts in days.items():
        runs = [
            asking.kept(
                f"reanalysis|{site.latitude},{site.longitude}|{first}|{last}",
                partial(source.reanalysis, first, last),
                parse_reanalysis,
                last=last,
            )
            for first, last in parts
        ]
        whole = joined([{LATEST: run} for run in runs if run is not None])
        if LATEST in whole:
            lows |= lows_of_hours(whole[LATEST], site, nights_of(span))
    return Truth(
        kind=TruthKind.REANALYSIS,
        name="reanalysis of Open-Meteo (CC BY 4.0)",
        lows_c=within(lows, list(days)),
    )
