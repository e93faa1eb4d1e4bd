"""Real servers on loopback: HTTP with scripted answers, SMTP with scripted replies."""

import asyncio
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP


@dataclass
class Seen:
    """One request that a server got."""

    method: str
    path: str
    headers: dict[str, str]
    body: str


@dataclass
class Reply:
    """One answer that a server gives."""

    status: int = 200
    body: str = ""
    headers: dict[str, str] = field(default_factory=dict)


Answering = Callable[[Seen], Reply]


class HttpServer:
    """An HTTP server that answers by a function and remembers what it was asked."""

    def __init__(self, answering: Answering) -> None:
        self.answering = answering
        self.seen: list[Seen] = []
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def _handle(self) -> None:
                length = int(self.headers.get("Content-Length", 0))
                seen = Seen(
                    self.command,
                    self.path,
                    dict(self.headers.items()),
                    self.rfile.read(length).decode(),
                )
                outer.seen.append(seen)
                reply = outer.answering(seen)
                body = reply.body.encode()
                self.send_response_only(reply.status)
                if "Date" not in reply.headers:
                    self.send_header("Date", self.date_time_string())
                for name, value in reply.headers.items():
                    self.send_header(name, value)
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            do_GET = _handle  # noqa: N815 - the library's names
            do_POST = _handle  # noqa: N815

            def log_message(self, *_: Any) -> None:
                """Say nothing."""

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._thread = threading.Thread(target=self._server.serve_forever, daemon=True)
        self._thread.start()

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self._server.server_port}"

    def close(self) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()


@contextmanager
def http_server(answering: Answering) -> Iterator[HttpServer]:
    server = HttpServer(answering)
    try:
        yield server
    finally:
        server.close()


class MailBox:
    """Takes mail, and refuses what it is told to refuse."""

    def __init__(self) -> None:
        self.mails: list[EmailMessage] = []
        self.recipient_replies: dict[str, str] = {}
        self.data_replies: list[str] = []
        self.arrived = threading.Event()

    async def handle_RCPT(  # noqa: N802 - the library's name
        self, server: Any, session: Any, envelope: Any, address: str, options: Any
    ) -> str:
        del server, session, options
        reply = self.recipient_replies.get(address, "250 OK")
        if reply.startswith("250"):
            envelope.rcpt_tos.append(address)
        return reply

    async def handle_DATA(  # noqa: N802 - the library's name
        self, server: Any, session: Any, envelope: Any
    ) -> str:
        del server, session
        if self.data_replies:
            reply = self.data_replies.pop(0)
            if not reply.startswith("250"):
                return reply
        mail = message_from_bytes(envelope.content, policy=policy.default)
        assert isinstance(mail, EmailMessage)
        self.mails.append(mail)
        self.arrived.set()
        return "250 OK"


class SlowBox(MailBox):
    """Takes its time over every mail, as long as it is told to.

    Attributes
    ----------
    begun : threading.Event
        Set when a mail's content has come, and is not accepted yet.
    """

    def __init__(self) -> None:
        super().__init__()
        self.begun = threading.Event()
        self.wait_s = 0.0

    async def handle_DATA(  # noqa: N802 - the library's name
        self, server: Any, session: Any, envelope: Any
    ) -> str:
        self.begun.set()
        await asyncio.sleep(self.wait_s)
        return await super().handle_DATA(server, session, envelope)


@contextmanager
def smtp_server(box: MailBox, **options: Any) -> Iterator[Controller]:
    class OnLoopback(Controller):
        def factory(self) -> SMTP:
            return SMTP(self.handler, **options)

    controller = OnLoopback(box, hostname="127.0.0.1", port=free_port())
    controller.start()
    try:
        yield controller
    finally:
        controller.stop()


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def dripping_server(drop: bytes, *, head: bytes | None = None) -> Iterator[int]:
    """Yield the port of a server that sends a drop ten times a second, without end.

    With a head, it first reads what it is asked and answers with that.
    """
    listener = socket.create_server(("127.0.0.1", 0))
    stop = threading.Event()

    def drip() -> None:
        while not stop.is_set():
            try:
                connection, _ = listener.accept()
            except OSError:
                return
            with connection:
                if head is not None:
                    connection.recv(4096)
                    connection.sendall(head)
                while not stop.wait(0.1):
                    try:
                        connection.sendall(drop)
                    except OSError:
                        break

    thread = threading.Thread(target=drip, daemon=True)
    thread.start()
    try:
        yield int(listener.getsockname()[1])
    finally:
        stop.set()
        listener.close()
        thread.join(timeout=2)
