"""The page: a plain form without script, opened by a signed link from a message.

Scanners open the links in mail, some several times: so opening changes nothing, and
only a deliberate choice that is sent counts. Host and Origin are checked, since any web
page can make a browser call a service on its own network.
"""

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from flask import Flask, Response, abort, jsonify, render_template, request
from flask.typing import ResponseReturnValue

from frostalert.alarms.answering import longest_silence
from frostalert.cycle.answer_links import find_ticket
from frostalert.cycle.health import Health, Light
from frostalert.errors import StoreError, TicketError, UsageError
from frostalert.messages.ticket import Ticket
from frostalert.messages.wording import Wording
from frostalert.model.alarm import AnswerKind
from frostalert.model.assessment import Tier
from frostalert.model.settings import Settings, WebSettings
from frostalert.ports import AnswerDesk, Clock, ReadingBook, TicketBook
from frostalert.web.reading import is_authorized, take_reading

_LOG = logging.getLogger(__name__)
_OK, _CREATED = 200, 201
_BAD_REQUEST, _UNAUTHORIZED, _FORBIDDEN = 400, 401, 403
_NOT_FOUND, _UNAVAILABLE = 404, 503
_PUT_OFF = timedelta(hours=1)
_NOT_NOW = "The state cannot be read just now. Call whoever has to know."
_MOST_BYTES = 20_000
_HEADERS = {
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'",
    "X-Content-Type-Options": "nosniff",
    # "no-referrer" would make browsers send "Origin: null" with the form.
    "Referrer-Policy": "same-origin",
    "Cache-Control": "no-store",
}
_TIER_WORDS = {
    Tier.OUTLOOK: "frost is possible",
    Tier.PREPARE: "prepare before dark",
    Tier.ACT: "start now",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """What the page needs: the state, the clock, the key, and the service's health.

    The configuration is asked for anew each time: it may have changed.
    """

    settings: Callable[[], Settings]
    web: WebSettings
    answers: AnswerDesk
    tickets: TicketBook
    clock: Clock
    key: bytes
    health: Callable[[], Health]
    readings: ReadingBook | None = None


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
    page.config["MAX_CONTENT_LENGTH"] = _MOST_BYTES
    hosts = _own_hosts(desk.web)
    _guard(page, hosts)

    @page.get("/a/<token>")
    def show(token: str) -> ResponseReturnValue:
        return _show(desk, token)

    @page.post("/answer")
    def take() -> ResponseReturnValue:
        origin = request.headers.get("Origin", "")
        if urlsplit(origin).netloc.lower() not in hosts:
            _LOG.warning("refused: Origin %.100r", origin)
            abort(_FORBIDDEN)
        form = request.form
        return _take(desk, form.get("ticket", ""), form.get("choice", ""))

    @page.post("/reading")
    def reading() -> ResponseReturnValue:
        return _take_reading(desk)

    @page.get("/healthz")
    def healthz() -> ResponseReturnValue:
        return _healthz(desk)

    return page


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
        return _refusal("This page is opened by the link in a warning.")

    @page.errorhandler(_NOT_FOUND)
    def miss(_: object) -> ResponseReturnValue:
        return _refusal("This page is opened by the link in a warning.", _NOT_FOUND)


def _take_reading(desk: Desk) -> ResponseReturnValue:
    """Keep what a thermometer sends, as JSON or as a form."""
    if desk.readings is None or not is_authorized(
        request.headers.get("Authorization", ""), desk.key
    ):
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
    """Return the service's health, to a monitor on this machine."""
    # Behind a proxy every caller comes from this machine, under the public name.
    is_public = request.host.lower() == urlsplit(desk.web.public_url).netloc.lower()
    is_public = is_public or "X-Forwarded-For" in request.headers
    if is_public or request.remote_addr not in ("127.0.0.1", "::1"):
        abort(_FORBIDDEN)
    health = desk.health()
    content = {
        "light": health.light.value,
        "findings": [finding.words for finding in health.findings],
    }
    return jsonify(content), _UNAVAILABLE if health.light is Light.BAD else 200


def _show(desk: Desk, text: str) -> ResponseReturnValue:
    """Show the form; nothing is changed by that."""
    now = desk.clock.now_utc()
    try:
        ticket = find_ticket(text, desk.tickets, desk.settings().farm, now)
    except TicketError as error:
        return _refusal(str(error))
    except StoreError:
        _LOG.exception("a link cannot be looked up")
        return _refusal(_NOT_NOW, _UNAVAILABLE)
    wording = Wording(desk.settings().farm.site, now)
    try:
        answered_by = desk.answers.answered_by(ticket.said, now)
    except StoreError:
        _LOG.exception("the answers so far cannot be read")
        return _refusal(_NOT_NOW, _UNAVAILABLE)
    return render_template(
        "answer.html.j2",
        site=desk.settings().farm.site.name,
        person=ticket.person,
        ticket=text,
        nights=_nights(ticket, wording),
        answered_by=answered_by,
        put_off_until=wording.clock(_put_off_until(now, desk)),
    )


def _take(desk: Desk, text: str, choice: str) -> ResponseReturnValue:
    """Take an answer down."""
    now = desk.clock.now_utc()
    try:
        ticket = find_ticket(text, desk.tickets, desk.settings().farm, now)
        kind = AnswerKind(choice)
    except TicketError as error:
        return _refusal(str(error))
    except StoreError:
        _LOG.exception("a link cannot be looked up")
        return _refusal(_NOT_NOW, _UNAVAILABLE)
    except ValueError:
        return _refusal("Choose one of the answers, then send.")
    until = _put_off_until(now, desk) if kind is AnswerKind.LATER else None
    try:
        for answer in ticket.answers(kind, now, until):
            desk.answers.record_answer(answer)
    except StoreError:
        _LOG.exception("an answer could not be kept")
        return _refusal(
            "The answer could not be kept. Call whoever has to know.", _UNAVAILABLE
        )
    wording = Wording(desk.settings().farm.site, now)
    _LOG.info("%s answered: %s", ticket.person, kind.value)
    return render_template(
        "taken.html.j2",
        site=desk.settings().farm.site.name,
        person=ticket.person,
        kind=kind.value,
        moment=wording.moment(now),
        until=wording.clock(until) if until else "",
        nights=_nights(ticket, wording),
    )


def _put_off_until(now_utc: datetime, desk: Desk) -> datetime:
    """Return until when "not now" holds."""
    zone = ZoneInfo(desk.settings().farm.site.time_zone)
    return min(now_utc + _PUT_OFF, longest_silence(now_utc.astimezone(zone)))


def _nights(ticket: Ticket, wording: Wording) -> list[str]:
    """Return the nights that a ticket speaks of, in words."""
    return [
        f"{wording.night(night)}: {_TIER_WORDS.get(tier, 'it cannot be judged')}"
        for night, tier, _ in ticket.said
    ]


def _refusal(words: str, status: int = _FORBIDDEN) -> ResponseReturnValue:
    """Return a page that says why not."""
    return render_template("refused.html.j2", words=words), status


def _own_hosts(web: WebSettings) -> frozenset[str]:
    """Return the names under which the page may be asked for."""
    public = urlsplit(web.public_url).netloc.lower()
    local = {f"{name}:{web.port}" for name in (web.host, "localhost", "127.0.0.1")}
    return frozenset({public, *local})
