"""Fetching the forecasts that are asked for by coordinates: no grid to look up."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from urllib.parse import urlencode

from frostalert.errors import (
    ForecastError,
    ForecastFormatError,
    ForecastUnavailableError,
    TransportError,
)
from frostalert.forecast import met_norway, open_meteo
from frostalert.forecast.answer import refuse_other_place
from frostalert.model.forecast import ForecastRun
from frostalert.model.secret import Secret
from frostalert.ports import Fetched, SourceMemory
from frostalert.transport import Answer, HttpSession

ENSEMBLE_MODEL = "ecmwf_ifs025_ensemble"
_OK, _DEPRECATED, _NOT_MODIFIED = 200, 203, 304
_LONGEST_PAUSE = timedelta(hours=3)
_LONGEST_SINCE_BEGINNING = timedelta(hours=49)
"""Open-Meteo is asked from midnight of the day before on, in UTC."""


class OpenMeteoSource:
    """Open-Meteo's forecast for one place, with an ensemble's spread if wanted.

    Parameters
    ----------
    session : HttpSession
        How to ask.
    base_url : str
        Address of the service; its free host is for non-commercial use.
    latitude, longitude, elevation_m : float
        The place. [deg, deg, m]
    ensemble_url : str, optional
        Address of the ensemble service; no spread without it.
    key : Secret, optional
        Key of a subscription.
    """

    name = open_meteo.SOURCE

    def __init__(
        self,
        session: HttpSession,
        base_url: str,
        place: tuple[float, float, float],
        *,
        ensemble_url: str | None = None,
        key: Secret | None = None,
    ) -> None:
        self._session = session
        self._base_url = base_url
        self._place = place
        self._ensemble_url = ensemble_url
        self._key = key

    def fetch(self, memory: SourceMemory, now_utc: datetime) -> Fetched:
        """Return the newest run.

        Raises
        ------
        ForecastError
            If it could not be had.
        """
        url = f"{self._base_url}/v1/forecast?" + self._query(
            hourly=",".join(open_meteo.VARIABLE_MAP),
            past_days="1",
            forecast_days="8",
        )
        run = open_meteo.parse_forecast(self._ask(url), now_utc)
        refuse_other_place(run, *self._place[:2], open_meteo.TITLE)
        _refuse_past_day(run, now_utc)
        if self._ensemble_url is not None:
            url = f"{self._ensemble_url}/v1/ensemble?" + self._query(
                hourly="temperature_2m", models=ENSEMBLE_MODEL, forecast_days="8"
            )
            try:
                run = open_meteo.parse_spread(self._ask(url), run)
            except ForecastError as error:
                # The forecast counts without its spread; that it lacks is noted.
                note = f"no ensemble spread: {error.problem}"
                run = replace(run, notes=(*run.notes, note))
        return Fetched(run=run, memory=replace(memory, place=run.place))

    def _query(self, **more: str) -> str:
        """Return the query; times in UTC, units that are used inside."""
        latitude, longitude, elevation_m = self._place
        query = {
            "latitude": f"{latitude:.4f}",
            "longitude": f"{longitude:.4f}",
            "elevation": f"{elevation_m:.0f}",
            "timeformat": "unixtime",
            "timezone": "GMT",
            "wind_speed_unit": "ms",
            **more,
        }
        if self._key is not None:
            query["apikey"] = self._key.reveal()
        return urlencode(query)

    def _ask(self, url: str) -> str:
        """Return the text of a good answer."""
        answer = _get(self._session, url, {}, open_meteo.TITLE)
        text = answer.text if self._key is None else self._key.masked_in(answer.text)
        if answer.status != _OK:
            open_meteo.check_problem(text, answer.status)
        return text


class MetNorwaySource:
    """MET Norway's Locationforecast for one place.

    Parameters
    ----------
    session : HttpSession
        How to ask.
    base_url : str
        Address of the service.
    place : tuple of float
        Latitude, longitude and elevation. [deg, deg, m]
    """

    name = met_norway.SOURCE

    def __init__(
        self, session: HttpSession, base_url: str, place: tuple[float, float, float]
    ) -> None:
        self._session = session
        self._base_url = base_url
        self._place = place

    def fetch(self, memory: SourceMemory, now_utc: datetime) -> Fetched:
        """Return the newest run, or none before the last answer's own expiry.

        Raises
        ------
        ForecastError
            If it could not be had.
        """
        latitude, longitude, elevation_m = self._place
        is_same = (memory.latitude, memory.longitude) == (latitude, longitude)
        memory = memory if is_same else SourceMemory()
        if memory.not_before_utc is not None and now_utc < memory.not_before_utc:
            return Fetched(run=None, memory=memory)
        query = urlencode(
            {
                "lat": f"{latitude:.4f}",
                "lon": f"{longitude:.4f}",
                "altitude": f"{elevation_m:.0f}",
            }
        )
        headers = {"Accept": "application/json"}
        if memory.last_modified is not None:
            headers["If-Modified-Since"] = memory.last_modified
        url = f"{self._base_url}/weatherapi/locationforecast/2.0/complete?{query}"
        answer = _get(self._session, url, headers, met_norway.TITLE)
        memory = replace(
            memory,
            latitude=latitude,
            longitude=longitude,
            not_before_utc=_expiry(answer, now_utc),
        )
        if answer.status == _NOT_MODIFIED:
            return Fetched(run=None, memory=memory)
        if answer.status not in (_OK, _DEPRECATED):
            met_norway.check_problem(answer.status)
        run = met_norway.parse_timeseries(answer.text, now_utc)
        refuse_other_place(run, latitude, longitude, met_norway.TITLE)
        if answer.status == _DEPRECATED:
            note = "the service says that this version of it is going away (203)"
            run = replace(run, notes=(*run.notes, note))
        modified = answer.headers.get("Last-Modified")
        return Fetched(
            run=run, memory=replace(memory, place=run.place, last_modified=modified)
        )


def _refuse_past_day(run: ForecastRun, now_utc: datetime) -> None:
    """Raise if an answer is of a day before: it does not say when it was made.

    Raises
    ------
    ForecastFormatError
        If it begins earlier than it was asked to.
    """
    if now_utc - run.hours.first_utc > _LONGEST_SINCE_BEGINNING:
        problem = (
            f"the answer begins at {run.hours.first_utc:%Y-%m-%d %H:%M} UTC, so it is "
            "of a day before"
        )
        raise ForecastFormatError(open_meteo.TITLE, problem)


def _get(session: HttpSession, url: str, headers: dict[str, str], title: str) -> Answer:
    """Return an answer of a service."""
    try:
        return session.get(url, headers)
    except TransportError as error:
        raise ForecastUnavailableError(title, error.problem) from error


def _expiry(answer: Answer, now_utc: datetime) -> datetime | None:
    """Return before when the service is not to be asked again, within reason."""
    text = answer.headers.get("Expires")
    if text is None:
        return None
    try:
        moment = parsedate_to_datetime(text).astimezone(UTC)
    except ValueError:
        return None
    return moment if now_utc < moment <= now_utc + _LONGEST_PAUSE else None
