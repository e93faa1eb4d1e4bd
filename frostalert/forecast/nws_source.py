"""Fetching the raw grid of the US National Weather Service for one place."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from urllib.parse import urlsplit

from frostalert.errors import (
    ForecastFormatError,
    ForecastUnavailableError,
    TransportError,
)
from frostalert.forecast.answer import refuse_other_place
from frostalert.forecast.nws import (
    SOURCE,
    TITLE,
    UNNAMED,
    check_problem,
    name_of_cell,
    parse_grid,
)
from frostalert.model.forecast import CLOCK_SLACK, ForecastRun
from frostalert.ports import Fetched, SourceMemory
from frostalert.transport import Answer, HttpSession

RESOLVE_EVERY = timedelta(days=7)
_OK, _NOT_MODIFIED, _NOT_FOUND = 200, 304, 404
_ACCEPT = {"Accept": "application/geo+json"}


class NwsSource:
    """The raw grid for one place.

    Parameters
    ----------
    session : HttpSession
        How to ask.
    base_url : str
        Address of the service, without a slash at its end.
    latitude, longitude : float
        The place. [deg]
    """

    name = SOURCE

    def __init__(
        self, session: HttpSession, base_url: str, latitude: float, longitude: float
    ) -> None:
        self._session = session
        self._base_url = base_url
        self._latitude = latitude
        self._longitude = longitude

    def fetch(self, memory: SourceMemory, now_utc: datetime) -> Fetched:
        """Return the newest run, or none if the service has nothing newer.

        Raises
        ------
        ForecastError
            If it could not be had.
        """
        memory = self._resolved(memory, now_utc)
        answer = self._get(memory.grid_url or "", _conditional(memory, now_utc))
        if answer.status == _NOT_FOUND:
            # Offices redraw their grids: the cell may have another name now.
            memory = self._resolved(SourceMemory(), now_utc)
            answer = self._get(memory.grid_url or "", _ACCEPT)
        if answer.status == _NOT_MODIFIED:
            return Fetched(run=None, memory=memory)
        if answer.status != _OK:
            check_problem(answer.text, answer.status)
        run = parse_grid(answer.text, now_utc)
        if run.updated_utc > now_utc + CLOCK_SLACK:
            problem = (
                f"the answer claims to be made at {run.updated_utc:%Y-%m-%d %H:%M} "
                "UTC, which is to come; is this machine's clock right?"
            )
            raise ForecastFormatError(TITLE, problem)
        refuse_other_place(run, self._latitude, self._longitude, TITLE)
        _refuse_other_cell(run, memory.grid_url or "")
        return Fetched(
            run=run,
            memory=replace(
                memory,
                place=run.place,
                last_modified=answer.headers.get("Last-Modified"),
            ),
        )

    def _resolved(self, memory: SourceMemory, now_utc: datetime) -> SourceMemory:
        """Return where the grid of the place is, looked up weekly."""
        here = (self._latitude, self._longitude)
        if (memory.latitude, memory.longitude) != here:
            # The site was moved: what is remembered is for another place.
            memory = SourceMemory()
        known = memory.grid_url is not None and memory.resolved_utc is not None
        age = now_utc - memory.resolved_utc if memory.resolved_utc else RESOLVE_EVERY
        if known and timedelta(0) <= age < RESOLVE_EVERY:
            return memory
        try:
            grid_url = self._look_up()
        except ForecastUnavailableError:
            if not known:
                raise
            # The weekly look-up can wait; the grid itself may answer.
            return memory
        is_same = grid_url == memory.grid_url
        return SourceMemory(
            grid_url=grid_url,
            place=memory.place,
            resolved_utc=now_utc,
            last_modified=memory.last_modified if is_same else None,
            latitude=self._latitude,
            longitude=self._longitude,
        )

    def _look_up(self) -> str:
        """Return the address of the grid of the place."""
        point = f"{coordinate(self._latitude)},{coordinate(self._longitude)}"
        answer = self._get(f"{self._base_url}/points/{point}", _ACCEPT)
        if answer.status != _OK:
            check_problem(answer.text, answer.status)
        return self._grid_url(answer.text)

    def _grid_url(self, body: str) -> str:
        """Return the address of the grid, on the server that was asked."""
        try:
            named = json.loads(body)["properties"]["forecastGridData"]
            path = str(urlsplit(named).path)
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            problem = "the /points answer does not say where the grid is"
            raise ForecastFormatError(TITLE, problem) from error
        if not path.startswith("/gridpoints/"):
            problem = f"the /points answer names an odd grid address: {path[:80]}"
            raise ForecastFormatError(TITLE, problem)
        return self._base_url + path

    def _get(self, url: str, headers: dict[str, str]) -> Answer:
        """Return an answer of the service."""
        try:
            return self._session.get(url, headers)
        except TransportError as error:
            raise ForecastUnavailableError(TITLE, error.problem) from error


def _refuse_other_cell(run: ForecastRun, grid_url: str) -> None:
    """Raise if the answer names another cell than was asked for."""
    office, _, numbers = (
        urlsplit(grid_url).path.rpartition("/gridpoints/")[2].partition("/")
    )
    x, _, y = numbers.partition(",")
    asked = name_of_cell(office, x, y)
    if run.place not in (asked, UNNAMED):
        problem = f"the answer is for the cell {run.place}, and {asked} was asked for"
        raise ForecastFormatError(TITLE, problem)


def coordinate(degrees: float) -> str:
    """Return a coordinate of at most four decimals, which is all the service takes."""
    return f"{degrees:.4f}".rstrip("0").rstrip(".")


def _conditional(memory: SourceMemory, now_utc: datetime) -> dict[str, str]:
    """Return the headers of a request, conditional if there is a usable validator.

    Validators in the future have been seen on old bodies: they count as none.
    """
    if memory.last_modified is None:
        return _ACCEPT
    try:
        moment = parsedate_to_datetime(memory.last_modified).astimezone(UTC)
    except ValueError:
        return _ACCEPT
    if moment > now_utc:
        return _ACCEPT
    return {**_ACCEPT, "If-Modified-Since": memory.last_modified}
