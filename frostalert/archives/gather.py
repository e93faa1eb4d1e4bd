"""Gather what past springs need: archived forecasts, and the lows that came.

Each answer is kept in the state as it came: a look that breaks off goes on from there,
and the next one asks for nothing that does not change.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import partial
from urllib.parse import urlsplit

from frostalert.archives.asking import Asking
from frostalert.archives.came import (
    StationSearch,
    own_lows,
    reanalysed_lows,
    tells_enough,
)
from frostalert.archives.stations import Stations
from frostalert.archives.thermometer import own_file
from frostalert.forecast.previous_runs import OpenMeteoArchive, parse_previous_runs
from frostalert.model.past import LATEST, Archive, PastFacts, SpringSpan, Truth
from frostalert.model.settings import Settings
from frostalert.model.warmth import Sighting
from frostalert.past.runs import joined
from frostalert.past.spans import pieces
from frostalert.transport import HttpSession

_ARCHIVE_LAG = timedelta(days=1)

Pieces = Mapping[SpringSpan, Sequence[tuple[date, date]]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Archives:
    """What is asked for one site's past springs.

    Attributes
    ----------
    forecasts : OpenMeteoArchive
        The one source that keeps an archive which can be asked for a place.
    days : mapping of SpringSpan to sequence of (date, date)
        The pieces that each spring is asked for in.
    """

    settings: Settings
    forecasts: OpenMeteoArchive
    stations: Stations
    days: Pieces

    @property
    def total(self) -> int:
        """How many answers the forecasts take."""
        return sum(map(len, self.days.values()))

    @property
    def needs(self) -> str:
        """What past springs need, in words."""
        past = self.settings.past
        hosts = f"{_host(past.previous_runs_url)} ({self.total} answers of some 40 kB)"
        if own_file(self.settings) is None:
            hosts += f" and {_host(past.stations_url)} (a station's minimums)"
        return f"Past springs need https to {hosts}."


def archives_of(
    settings: Settings,
    session: HttpSession,
    spans: Sequence[SpringSpan],
    now_utc: datetime,
) -> Archives:
    """Return what is to be asked, nothing beyond what archives hold yet."""
    site, past = settings.farm.site, settings.past
    newest = now_utc.date() - _ARCHIVE_LAG
    return Archives(
        settings=settings,
        forecasts=OpenMeteoArchive(
            session,
            (site.latitude, site.longitude, site.elevation_m),
            previous_runs_url=past.previous_runs_url,
            reanalysis_url=past.reanalysis_url,
            key=settings.sources.open_meteo_key,
        ),
        stations=Stations(session, past.stations_url, (site.latitude, site.longitude)),
        days={
            span: [
                (first, min(last, newest))
                for first, last in pieces(span, is_south=site.is_south)
                if first <= newest
            ]
            for span in spans
        },
    )


def gather(
    archives: Archives, asking: Asking, sightings: tuple[Sighting, ...]
) -> PastFacts:
    """Return what archives and the user tell of the springs.

    Raises
    ------
    ForecastError
        If an archive could not be asked; what has come is kept.
    UsageError
        If the user's own file cannot be read.
    """
    # The user's own file first: a mistake in it is told before anything is asked.
    own = own_lows(archives.settings, list(archives.days))
    said = {span: (_previous_runs(archives, asking, span),) for span in archives.days}
    return PastFacts(
        archives=said,
        truth=_truth(archives, asking, said, own),
        sightings=sightings,
        without_archive=tuple(
            name
            for name in archives.settings.sources.names
            if name != archives.forecasts.name
        ),
        is_source_asked=archives.forecasts.name in archives.settings.sources.names,
    )


def _truth(
    archives: Archives,
    asking: Asking,
    said: Mapping[SpringSpan, tuple[Archive, ...]],
    own: Truth | None,
) -> Truth:
    """Return the best lows that there are."""
    spans = list(archives.days)
    notes: tuple[str, ...] = ()
    if own is not None:
        if tells_enough(own, spans):
            return own
        notes = (f"{own.name} tells the low of {len(own.lows_c)} nights: too few",)
    latest = [
        archive[LATEST]
        for items in said.values()
        for archive in items
        if LATEST in archive
    ]
    search = StationSearch(
        settings=archives.settings,
        stations=archives.stations,
        asking=asking,
        spans=spans,
        latest=latest,
    )
    found, failed = search.find()
    if found is None:
        found = reanalysed_lows(
            archives.settings, archives.forecasts, asking, archives.days
        )
    return replace(found, notes=(*notes, *failed, *found.notes))


def _previous_runs(archives: Archives, asking: Asking, span: SpringSpan) -> Archive:
    """Return what the source had said of a spring."""
    source, site = archives.forecasts, archives.settings.farm.site
    found = []
    for first, last in archives.days[span]:
        archive = asking.kept(
            f"previous runs|{site.latitude},{site.longitude},{site.elevation_m}"
            f"|{first}|{last}",
            partial(source.previous_runs, first, last),
            parse_previous_runs,
            last=last,
        )
        source.refuse_other_place(archive)
        found.append(archive)
    return joined(found)


def _host(url: str) -> str:
    """Return the host of an address."""
    return urlsplit(url).hostname or url
