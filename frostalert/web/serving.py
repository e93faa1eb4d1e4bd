"""Serve the page: nobody who drips a request keeps the others out."""

from typing import Any

from flask import Flask
from waitress import create_server
from waitress.channel import HTTPChannel
from waitress.server import BaseWSGIServer

from frostalert.model.settings import WebSettings

_THREADS, _CONNECTIONS = 4, 200
_REQUEST_S, _LOOK_EVERY_S = 30, 5
MOST_BYTES = 20_000


class _Channel(HTTPChannel):  # type: ignore[misc]
    """A connection whose request must be whole in time, however it drips.

    The library counts the time from the last byte.
    """

    last_activity: float

    def handle_read(self) -> None:
        """Take what came; more of the same request is no sign of life."""
        before: float = self.last_activity
        is_going_on = self.request is not None
        super().handle_read()
        if is_going_on and self.request is not None:
            self.last_activity = before


def make_server(page: Flask, web: WebSettings, **changes: Any) -> Any:
    """Return a server of the page.

    Parameters
    ----------
    page : Flask
        The web application.
    web : WebSettings
        Where to listen.
    **changes
        Limits of the library's, for tests.
    """
    BaseWSGIServer.channel_class = _Channel
    given: dict[str, Any] = {
        "threads": _THREADS,
        "connection_limit": _CONNECTIONS,
        "channel_timeout": _REQUEST_S,
        "cleanup_interval": _LOOK_EVERY_S,
        "max_request_body_size": MOST_BYTES,
        # Whether a proxy stands before us is seen by its headers.
        "clear_untrusted_proxy_headers": False,
    }
    return create_server(page, host=web.host, port=web.port, **given | changes)
