"""Whom a configuration asks for forecasts, and the session that asks them."""

from collections.abc import Callable
from datetime import datetime

from frostalert import __version__
from frostalert.forecast.nws_source import NwsSource
from frostalert.forecast.point_sources import MetNorwaySource, OpenMeteoSource
from frostalert.model.settings import Settings
from frostalert.ports import ForecastSource
from frostalert.transport import HttpSession


def build_session(
    settings: Settings, on_date: Callable[[datetime, str], None] | None = None
) -> HttpSession:
    """Return the HTTP session with our name and the user's contact."""
    name = f"frostalert/{__version__} ({settings.sources.contact})"
    return HttpSession(name, on_date=on_date)


def build_sources(settings: Settings, session: HttpSession) -> list[ForecastSource]:
    """Return the forecast sources in the order of preference."""
    site, asked = settings.farm.site, settings.sources
    place = (site.latitude, site.longitude, site.elevation_m)
    makers: dict[str, Callable[[], ForecastSource]] = {
        NwsSource.name: lambda: NwsSource(
            session, asked.nws_url, site.latitude, site.longitude
        ),
        MetNorwaySource.name: lambda: MetNorwaySource(
            session, asked.met_norway_url, place
        ),
        OpenMeteoSource.name: lambda: OpenMeteoSource(
            session,
            asked.open_meteo_url,
            place,
            ensemble_url=asked.open_meteo_ensemble_url,
            key=asked.open_meteo_key,
        ),
    }
    return [makers[name]() for name in asked.names]
