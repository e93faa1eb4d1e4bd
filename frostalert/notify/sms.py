"""Text messages through any HTTP service, described in the configuration.

A message counts as accepted only if the answer carries the service's id for it: an
answer of 200 alone has been seen with an error inside.
"""

import json
from typing import Any
from urllib.parse import quote

from frostalert.errors import DeliveryError, Refusal, TransportError
from frostalert.messages.repeat import marked_repeat
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Arrival, ArrivalState, Message, Receipt
from frostalert.model.settings import SmsSettings
from frostalert.transport import Answer, HttpSession

_SUCCESS = range(200, 300)
_UNAUTHORISED, _NO_FUNDS, _FORBIDDEN, _GONE = 401, 402, 403, 404
_TIMED_OUT, _TOO_MANY, _SERVER_ERROR = 408, 429, 500


class SmsNotifier:
    """Sends text messages."""

    kind = ChannelKind.SMS

    def __init__(self, settings: SmsSettings, session: HttpSession) -> None:
        self._settings = settings
        self._session = session

    def send(self, message: Message, *, is_repeat: bool) -> Receipt:
        """Hand a message to the service.

        Raises
        ------
        DeliveryError
            If it was not accepted, with what can be done about it.
        """
        settings = self._settings
        text = marked_repeat(message.text) if is_repeat else message.text
        filled = {
            name: value.replace("{phone}", message.address).replace("{text}", text)
            for name, value in settings.fields.items()
        }
        is_form = settings.body == "form"
        try:
            answer = self._session.post(
                settings.url.replace("{username}", settings.username or ""),
                form=filled if is_form else None,
                json=None if is_form else filled,
                login=_login(settings),
            )
        except TransportError as error:
            arrived = error.may_have_arrived
            kind = Refusal.UNKNOWN_OUTCOME if arrived else Refusal.TRY_AGAIN
            raise _refused(kind, error.problem) from error
        return _receipt(answer.status, self._read(answer), settings.id_pointer)

    def arrival(self, provider_id: str) -> Arrival:
        """Return what the service says became of a text.

        Raises
        ------
        TransportError
            If it could not be asked.
        """
        settings = self._settings
        if settings.status_url is None:
            return Arrival(state=ArrivalState.PENDING, detail="no status_url is set")
        url = settings.status_url.replace("{id}", quote(provider_id, safe=""))
        answer = self._session.ask_once(
            url.replace("{username}", settings.username or ""), _login(settings)
        )
        found = _follow(self._read(answer), settings.status_pointer)
        word = str(found).lower()
        detail = f"{answer.status} {word}"
        if answer.status not in _SUCCESS or found is None:
            return Arrival(state=ArrivalState.PENDING, detail=detail)
        if word in {known.lower() for known in settings.status_delivered}:
            return Arrival(state=ArrivalState.DELIVERED, detail=detail)
        if word in {known.lower() for known in settings.status_failed}:
            return Arrival(state=ArrivalState.FAILED, detail=detail)
        return Arrival(state=ArrivalState.PENDING, detail=detail)

    def _read(self, answer: Answer) -> str:
        """Return an answer's text, without our password if it quotes it."""
        password = self._settings.password
        return answer.text if password is None else password.masked_in(answer.text)


def _login(settings: SmsSettings) -> tuple[str, str] | None:
    """Return name and password for basic log-in, if there are any."""
    if settings.username is None or settings.password is None:
        return None
    return settings.username, settings.password.reveal()


def _receipt(status: int, text: str, pointer: str) -> Receipt:
    """Return the receipt in an answer, or raise what the answer stands for."""
    shown = f"{status} {' '.join(text.split())[:160]}"
    if status in _SUCCESS:
        found = _follow(text, pointer)
        if found is None:
            detail = f"no message id at {pointer} in the answer: {shown}"
            raise _refused(Refusal.UNKNOWN_OUTCOME, detail)
        return Receipt(provider_id=str(found), is_confirmed=True)
    raise _refused(_refusal(status), shown)


def _refusal(status: int) -> Refusal:
    """Return what an unsuccessful status stands for."""
    if status in (_UNAUTHORISED, _NO_FUNDS, _FORBIDDEN, _GONE):
        return Refusal.MISCONFIGURED
    if status in (_TIMED_OUT, _TOO_MANY) or status >= _SERVER_ERROR:
        return Refusal.TRY_AGAIN
    return Refusal.BAD_RECIPIENT


def _follow(text: str, pointer: str) -> str | int | None:
    """Return what stands at a JSON pointer (RFC 6901), if it can be an id."""
    try:
        here: Any = json.loads(text)
        for step in pointer.lstrip("/").split("/"):
            name = step.replace("~1", "/").replace("~0", "~")
            here = here[int(name)] if isinstance(here, list) else here[name]
    except (ValueError, KeyError, IndexError, TypeError):
        return None
    is_id = isinstance(here, str | int) and not isinstance(here, bool) and here != ""
    return here if is_id else None


def _refused(refusal: Refusal, detail: str) -> DeliveryError:
    """Return the error for a text that was not accepted."""
    return DeliveryError(ChannelKind.SMS, refusal, detail)
