"""The one HTTP session: identity, timeouts, an overall deadline, a size limit, retry.

Timeouts of the library hold for single steps: a name server that never answers, or a
server that drips bytes, passes them all. So every exchange, a question's tries and the
waits between them too, runs in a thread of its own that is left behind when the overall
deadline passes.
"""

import random
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from email.utils import parsedate_to_datetime
from typing import TypeVar
from urllib.parse import urljoin, urlsplit

import requests

from frostalert.errors import TransportError

MOST_BYTES = 5_000_000
_PIECE = 256
"""So little is waited for at a time, that a server which drips is seen to. [bytes]"""
_CONNECT_S, _READ_S = 5.0, 30.0
_BRIEF_S = 10.0
_RETRY_WAITS_S = (2.0, 8.0)
_LONGEST_WAIT_S = 30.0
_MOST_REDIRECTS = 3
_TOO_MANY = 429
_SERVER_ERROR = 500


Result = TypeVar("Result")


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came back."""

    status: int
    text: str
    headers: Mapping[str, str]


class HttpSession:
    """Exchanges over HTTP that always end.

    Parameters
    ----------
    user_agent : str
        Name of the program with a contact, as the forecast services ask for.
    deadline_s : float
        Longest that a call of any method may take, with name look-ups, every try and
        the waits between them. [s]
    sleep : callable
        Waits between tries.
    on_date : callable, optional
        Told what time it is by a server that was asked, and which one that is.
    """

    def __init__(
        self,
        user_agent: str,
        *,
        deadline_s: float = 60.0,
        sleep: Callable[[float], None] = time.sleep,
        on_date: Callable[[datetime, str], None] | None = None,
    ) -> None:
        self._on_date = on_date
        self._user_agent = user_agent
        self._deadline_s = deadline_s
        self._sleep = sleep

    def get(self, url: str, headers: Mapping[str, str]) -> Answer:
        """Return the answer to a GET, tried up to three times within the deadline.

        Raises
        ------
        TransportError
            If no answer came in time.
        """
        request = requests.Request("GET", url, dict(headers))
        ends_at = time.monotonic() + self._deadline_s
        answer = within_deadline(
            lambda: self._tried(request, ends_at), self._deadline_s
        )
        self._note_date(url, answer)
        return answer

    def post(
        self,
        url: str,
        *,
        form: Mapping[str, str] | None = None,
        json: Mapping[str, str] | None = None,
        login: tuple[str, str] | None = None,
    ) -> Answer:
        """Return the answer to a POST, tried once: it may not be safe to repeat.

        Raises
        ------
        TransportError
            If no answer came in time; it says whether the request may have arrived.
        """
        return self._exchange(
            requests.Request(
                "POST",
                url,
                data=None if form is None else dict(form),
                json=None if json is None else dict(json),
                auth=login,
            )
        )

    def ask_once(self, url: str, login: tuple[str, str] | None = None) -> Answer:
        """Return the answer to one GET, tried once and not for long.

        Raises
        ------
        TransportError
            If no answer came within ten seconds.
        """
        return within_deadline(
            lambda: self._one(
                requests.Request("GET", url, auth=login), time.monotonic() + _BRIEF_S
            ),
            min(_BRIEF_S, self._deadline_s),
        )

    def ping(self, url: str, body: str | None = None) -> Answer:
        """Return the answer to one GET, or to one POST of a text; tried once.

        Raises
        ------
        TransportError
            If no answer came in time.
        """
        if body is None:
            request = requests.Request("GET", url)
        else:
            request = requests.Request("POST", url, data=body.encode())
        answer = self._exchange(request)
        self._note_date(url, answer)
        return answer

    def _note_date(self, url: str, answer: Answer) -> None:
        """Pass on the time by the server, the age of a cached answer added."""
        if self._on_date is None:
            return
        age = answer.headers.get("Age", "0")
        try:
            date = parsedate_to_datetime(answer.headers["Date"])
            date += timedelta(seconds=int(age) if age.isdigit() else 0)
        except (KeyError, ValueError, OverflowError):
            return
        if date.tzinfo is not None:
            self._on_date(date, urlsplit(url).netloc)

    def _tried(self, request: requests.Request, ends_at: float) -> Answer:
        """Return an answer, asked for again after trouble that may pass."""
        for most_s in _RETRY_WAITS_S:
            wait_s = most_s * random.uniform(0.5, 1.0)  # noqa: S311 - no secret
            try:
                answer = self._one(request, ends_at)
            except TransportError:
                if not self._has_waited(wait_s, ends_at):
                    raise
                continue
            if not _is_transient(answer):
                return answer
            if not self._has_waited(max(_asked_wait_s(answer), wait_s), ends_at):
                return answer
        return self._one(request, ends_at)

    def _has_waited(self, wait_s: float, ends_at: float) -> bool:
        """Wait for the next try; do not, and return so, if that takes too long."""
        if wait_s > _LONGEST_WAIT_S or time.monotonic() + wait_s >= ends_at:
            return False
        self._sleep(wait_s)
        return True

    def _exchange(self, request: requests.Request) -> Answer:
        """Return one answer within the deadline."""
        ends_at = time.monotonic() + self._deadline_s
        return within_deadline(lambda: self._one(request, ends_at), self._deadline_s)

    def _one(self, request: requests.Request, ends_at: float) -> Answer:
        """Return one answer, read in pieces so that it cannot grow without end."""
        with requests.Session() as session:
            session.trust_env = False
            session.headers["User-Agent"] = self._user_agent
            try:
                with self._followed(session, request) as response:
                    body = _read(response, ends_at)
            except requests.ConnectTimeout as error:
                message = "the server did not answer the call"
                raise TransportError(message, may_have_arrived=False) from error
            except requests.exceptions.SSLError as error:
                message = (
                    "the secure connection failed (wrong or expired certificate, or "
                    f"this machine's clock is wrong): {_short(error)}"
                )
                raise TransportError(message, may_have_arrived=False) from error
            except requests.Timeout as error:
                message = "the server fell silent"
                raise TransportError(message, may_have_arrived=True) from error
            except requests.RequestException as error:
                arrived = not _never_connected(error)
                raise TransportError(_short(error), may_have_arrived=arrived) from error
        return Answer(
            status=response.status_code,
            text=body.decode("utf-8", errors="replace"),
            headers=response.headers,
        )

    def _followed(
        self, session: requests.Session, request: requests.Request
    ) -> requests.Response:
        """Return the answer at the end of redirects, each judged before it is made.

        A redirected POST would hand phone and text to another server.
        """
        prepared = session.prepare_request(request)
        for _ in range(_MOST_REDIRECTS + 1):
            response = session.send(
                prepared,
                stream=True,
                timeout=(_CONNECT_S, _READ_S),
                allow_redirects=False,
            )
            if request.method != "GET" or not response.is_redirect:
                return response
            response.close()
            there = urljoin(prepared.url or "", response.headers["Location"])
            refuse_other_server(prepared.url or "", there)
            prepared.prepare_url(there, None)
        raise requests.TooManyRedirects


def within_deadline(work: Callable[[], Result], seconds: float) -> Result:
    """Return what some work returns, or raise what it raises, within a time.

    The work runs in a thread of its own, which is left behind when the time is over.

    Parameters
    ----------
    work : callable
        What is done.
    seconds : float
        Longest that it may take. [s]

    Returns
    -------
    object
        Its result.

    Raises
    ------
    TransportError
        If the time is over; whether anything arrived is then unknown.
    """
    done: list[Result] = []
    failed: list[Exception] = []

    def run() -> None:
        try:
            done.append(work())
        except Exception as error:  # noqa: BLE001 - handed to the caller
            failed.append(error)

    thread = threading.Thread(target=run, name="exchange", daemon=True)
    thread.start()
    thread.join(seconds)
    if failed:
        raise failed[0]
    if not done:
        message = f"no answer within {seconds:g} s"
        raise TransportError(message, may_have_arrived=True)
    return done[0]


def _read(response: requests.Response, ends_at: float) -> bytes:
    """Return a body that is neither too large nor too slow."""
    pieces, size = [], 0
    for piece in response.iter_content(_PIECE):
        size += len(piece)
        if size > MOST_BYTES:
            message = f"the answer is larger than {MOST_BYTES // 1_000_000} MB"
            raise TransportError(message, may_have_arrived=True)
        if time.monotonic() > ends_at:
            message = "the answer came too slowly"
            raise TransportError(message, may_have_arrived=True)
        pieces.append(piece)
    return b"".join(pieces)


def refuse_other_server(asked: str, told: str) -> None:
    """Raise if a redirect leads to another server, or out of encryption."""
    here, there = urlsplit(asked), urlsplit(told)
    is_same = (here.scheme, here.netloc) == (there.scheme, there.netloc)
    is_safer = here.hostname == there.hostname and there.scheme == "https"
    if not is_same and not is_safer:
        message = "the server sent us to another one"
        raise TransportError(message, may_have_arrived=True)


def _is_transient(answer: Answer) -> bool:
    """Return whether another try may help."""
    return answer.status == _TOO_MANY or answer.status >= _SERVER_ERROR


def _asked_wait_s(answer: Answer) -> float:
    """Return the wait that the server asks for. [s]"""
    text = answer.headers.get("Retry-After", "0")
    return float(text) if text.isdigit() else 0.0


def _never_connected(error: requests.RequestException) -> bool:
    """Return whether the request cannot have left this machine."""
    text = repr(error)
    return any(
        word in text
        for word in ("NewConnectionError", "NameResolutionError", "MaxRetryError")
    )


def _short(error: Exception) -> str:
    """Return an error in one line of plain words, without what may hold a secret."""
    text = repr(error)
    for mark, words in _PLAIN_WORDS:
        if mark in text:
            return words
    return f"the exchange failed ({type(error).__name__})"


_PLAIN_WORDS = (
    ("NameResolutionError", "no internet here, or no name service (DNS)"),
    ("NewConnectionError", "the server cannot be reached"),
    ("CERTIFICATE_VERIFY_FAILED", "its certificate is wrong or expired"),
    ("RemoteDisconnected", "the server hung up"),
    ("ConnectionResetError", "the server hung up"),
    ("TooManyRedirects", "the server sends us in circles"),
)
