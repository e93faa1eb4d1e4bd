"""The page: a plain form without script, opened by a signed link from a message.

Scanners open the links in mail, some several times: so opening changes nothing, and
only a deliberate choice that is sent counts. Host and Origin are checked, since any web
page can make a browser call a service on its own network.
"""

import logging
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from typing import Any
from urllib.parse import urlsplit

from flask import Flask, Response, abort, jsonify, render_template, request
from flask.typing import ResponseReturnValue

from frostalert.cycle.answer_links import find_ticket
from frostalert.cycle.health import Light
from frostalert.errors import StoreError, TicketError, UsageError
from frostalert.model.alarm import AnswerKind
from frostalert.model.settings import WebSettings
from frostalert.web.desk import Desk
from frostalert.web.personal import (
    Notes,
    Visit,
    page_values,
    put_off_until,
    told_nights,
)
from frostalert.web.reading import is_authorized, take_reading
from frostalert.web.sent import read_by_hand, see_block, tick_job
from frostalert.web.serving import MOST_BYTES as _MOST_BYTES

_Application = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]
_LOG = logging.getLogger(__name__)
_OK, _CREATED = 200, 201
_BAD_REQUEST, _UNAUTHORIZED, _FORBIDDEN = 400, 401, 403
_NOT_FOUND, _UNAVAILABLE = 404, 503
_NOT_NOW = "The state cannot be read just now. Phone the others yourself."
_NOT_KEPT = "What you sent could not be kept. Phone the others yourself."
_HEADERS = {
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'",
    "X-Content-Type-Options": "nosniff",
    # "no-referrer" would make browsers send "Origin: null" with the form.
    "Referrer-Policy": "same-origin",
    "Cache-Control": "no-store",
}
_OF_A_PROXY = (
    "Forwarded",
    "Via",
    "X-Forwarded-For",
    "X-Forwarded-Host",
    "X-Forwarded-Proto",
    "X-Real-IP",
)
"""Headers that only a proxy adds; a monitor on this machine asks directly."""
_KEY_NEEDED = "told only with the key that frostalert web --readings-key prints"
_NO_LINK = "Open this page by the link in your newest message."


def build_page(desk: Desk) -> Flask:
    """Return the web application.

    Parameters
    ----------
    desk : Desk
        What it works on.

    Returns
    -------
    Flask
        The form and its style, readings from thermometers, and the health for a
        monitor.
    """
    page = Flask("frostalert.web", static_url_path="/static")
    # By itself Flask goes by names that end in ".html".
    page.jinja_options = {"autoescape": True}
    page.config["MAX_CONTENT_LENGTH"] = _MOST_BYTES
    base = urlsplit(desk.web.public_url).path.rstrip("/")
    # Links of the page begin with it; it is taken off where a proxy has not done so.
    page.jinja_env.globals["base"] = base
    setattr(page, "wsgi_app", _without(base, page.wsgi_app))  # noqa: B010 - as documented
    hosts = _own_hosts(desk.web)
    _guard(page, hosts)

    @page.get("/a/<token>")
    def show(token: str) -> ResponseReturnValue:
        return _opened(desk, token, lambda visit: _person(visit, Notes()))

    for path, act in _ACTS.items():
        page.add_url_rule(path, path, partial(_act, desk, hosts, act), methods=["POST"])

    @page.post("/reading")
    def reading() -> ResponseReturnValue:
        return _take_reading(desk)

    @page.get("/healthz")
    def healthz() -> ResponseReturnValue:
        return _healthz(desk)

    return page


def _without(base: str, inner: _Application) -> _Application:
    """Return an application that also knows its paths below the public address's."""
    if not base:
        return inner

    def outer(
        environ: dict[str, Any], start_response: Callable[..., Any]
    ) -> Iterable[bytes]:
        path = environ.get("PATH_INFO", "")
        if path.startswith(base + "/"):
            environ["PATH_INFO"] = path.removeprefix(base)
        return inner(environ, start_response)

    return outer


def _guard(page: Flask, hosts: frozenset[str]) -> None:
    """Let every request pass the check of its Host, and every answer its headers."""

    @page.before_request
    def check_host() -> None:
        if request.host.lower() not in hosts:
            _LOG.warning("refused: Host %.100r", request.host)
            abort(_FORBIDDEN)

    @page.after_request
    def add_headers(response: Response) -> Response:
        response.headers.update(_HEADERS)
        return response

    @page.errorhandler(_FORBIDDEN)
    def refuse(_: object) -> ResponseReturnValue:
        return _refusal(_NO_LINK)

    @page.errorhandler(_NOT_FOUND)
    def miss(_: object) -> ResponseReturnValue:
        return _refusal(_NO_LINK, _NOT_FOUND)


def _take_reading(desk: Desk) -> ResponseReturnValue:
    """Keep what a thermometer sends, as JSON or as a form."""
    if not is_authorized(request.headers.get("Authorization", ""), desk.key):
        return jsonify({"problem": "the key is missing or wrong"}), _UNAUTHORIZED
    try:
        content = request.get_json(silent=True) or request.form
    except RecursionError:
        content = None
    if not isinstance(content, Mapping):
        return jsonify({"problem": "send one object with names"}), _BAD_REQUEST
    now = desk.clock.now_utc()
    try:
        done = take_reading(content, desk.settings().farm, desk.readings, now)
    except UsageError as error:
        return jsonify({"problem": str(error)}), _BAD_REQUEST
    except StoreError:
        _LOG.exception("a reading could not be kept")
        return jsonify({"problem": "it could not be kept"}), _UNAVAILABLE
    return jsonify(done), _CREATED if done["kept"] else _OK


def _healthz(desk: Desk) -> ResponseReturnValue:
    """Return the service's health, to a monitor on this machine.

    Behind a proxy every caller comes from this machine, and not every proxy says that
    it is one: so names and nights are told only to who has the key.
    """
    is_public = request.host.lower() in _names_of(desk.web.public_url)
    is_public = is_public or any(name in request.headers for name in _OF_A_PROXY)
    if is_public or request.remote_addr not in ("127.0.0.1", "::1"):
        abort(_FORBIDDEN)
    health = desk.health()
    content: dict[str, object] = {"light": health.light.value, "findings": None}
    if is_authorized(request.headers.get("Authorization", ""), desk.key):
        content["findings"] = [finding.words for finding in health.findings]
    else:
        content["why"] = {"findings": _KEY_NEEDED}
    return jsonify(content), _UNAVAILABLE if health.light is Light.BAD else 200


def _opened(
    desk: Desk, token: str, act: Callable[[Visit], ResponseReturnValue]
) -> ResponseReturnValue:
    """Let somebody do what a link allows, or say why not."""
    now, farm = desk.clock.now_utc(), desk.settings().farm
    try:
        ticket = find_ticket(token, desk.tickets, farm, now)
        visit = Visit(desk=desk, farm=farm, token=token, ticket=ticket, now_utc=now)
        return act(visit)
    except TicketError as error:
        return _refusal(str(error))
    except StoreError:
        _LOG.exception("the state cannot be read or written")
        words = _NOT_NOW if request.method == "GET" else _NOT_KEPT
        return _refusal(words, _UNAVAILABLE)


def _act(
    desk: Desk,
    hosts: frozenset[str],
    act: Callable[[Visit, Mapping[str, str]], ResponseReturnValue],
) -> ResponseReturnValue:
    """Do what was sent with a form of our own page."""
    origin = request.headers.get("Origin", "")
    if _host_of(origin) not in hosts:
        _LOG.warning("refused: Origin %.100r", origin)
        abort(_FORBIDDEN)
    form = request.form.to_dict()
    return _opened(desk, form.get("ticket", ""), lambda visit: act(visit, form))


def _person(visit: Visit, notes: Notes) -> ResponseReturnValue:
    """Show a person's page."""
    return render_template("personal.html.j2", **page_values(visit, notes))


def _tick(visit: Visit, form: Mapping[str, str]) -> ResponseReturnValue:
    """Take down that a job is done."""
    return _person(visit, tick_job(visit, form))


def _read(visit: Visit, form: Mapping[str, str]) -> ResponseReturnValue:
    """Take down what a person reads."""
    return _person(visit, read_by_hand(visit, form))


def _see(visit: Visit, form: Mapping[str, str]) -> ResponseReturnValue:
    """Take down what a person saw in a block."""
    return _person(visit, see_block(visit, form))


def _answer(visit: Visit, form: Mapping[str, str]) -> ResponseReturnValue:
    """Take an answer down."""
    ticket, now = visit.ticket, visit.now_utc
    try:
        kind = AnswerKind(form.get("choice", ""))
    except ValueError:
        return _refusal("Choose one of the answers, then send.")
    if not ticket.said:
        return _refusal("This link asks for no answer.")
    until = put_off_until(visit) if kind is AnswerKind.LATER else None
    for answer in ticket.answers(kind, now, until):
        visit.desk.answers.record_answer(answer)
    wording = visit.wording
    _LOG.info("%s answered: %s", ticket.person, kind.value)
    return render_template(
        "taken.html.j2",
        site=visit.farm.site.name,
        person=ticket.person,
        ticket=visit.token,
        kind=kind.value,
        moment=wording.moment(now),
        until=wording.clock(until) if until else "",
        nights=told_nights(visit),
    )


_ACTS = {"/answer": _answer, "/done": _tick, "/read": _read, "/seen": _see}
"""What a form of the page does, by where it is sent to."""


def _refusal(words: str, status: int = _FORBIDDEN) -> ResponseReturnValue:
    """Return a page that says why not."""
    return render_template("refused.html.j2", words=words), status


def _own_hosts(web: WebSettings) -> frozenset[str]:
    """Return the names under which the page may be asked for."""
    local = {f"{name}:{web.port}" for name in (web.host, "localhost", "127.0.0.1")}
    return frozenset(local) | _names_of(web.public_url)


def _names_of(public_url: str) -> frozenset[str]:
    """Return how browsers name the public address: some ports go unsaid."""
    parts = urlsplit(public_url)
    host = parts.netloc.lower()
    unsaid = {"https": 443, "http": 80}.get(parts.scheme)
    if parts.port is None:
        return frozenset({host, f"{host}:{unsaid}"})
    named = host.rpartition(":")[0]
    return frozenset({host, named} if parts.port == unsaid else {host})


def _host_of(origin: str) -> str:
    """Return the host that an Origin names; nothing if it is none."""
    try:
        return urlsplit(origin).netloc.lower()
    except ValueError:
        return ""
