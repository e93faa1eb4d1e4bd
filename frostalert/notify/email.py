"""Email by SMTP: encrypted unless the server is on this machine, one person a message.

The Message-ID is made before the first try and kept, so that a repeat after an unknown
outcome is the same message to the receiver.
"""

import smtplib
import ssl
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from email import policy
from email.message import EmailMessage
from email.utils import format_datetime, formataddr
from socket import SHUT_RDWR
from threading import Event
from typing import Any

from frostalert.errors import DeliveryError, Refusal, TransportError
from frostalert.messages.repeat import marked_repeat
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Attachment, Message, Receipt
from frostalert.model.settings import EmailSettings
from frostalert.ports import Clock
from frostalert.transport import within_deadline

_TIMEOUT_S = 30.0
_PERMANENT = 500
_ALL_WELL = 250
_LOG_IN_FIRST = 530
_MAILBOX = ("5.2.1", "5.2.2")
"""Enhanced codes of a mailbox that takes nothing just now, whenever it is said.

References
----------
.. [1] RFC 3463, section 3.3.
"""
# At the customary 78 columns a long subject would begin on the line after its name, and
# some programs then show it with a space before it. The standard allows 998.
_POLICY = policy.default.clone(max_line_length=300)


class EmailNotifier:
    """Sends email.

    Parameters
    ----------
    settings : EmailSettings
        The server.
    site_name : str
        Name that the sender shows.
    clock : Clock
        For the Date header.
    tls : ssl.SSLContext, optional
        Whom to trust; the system's authorities by default.
    deadline_s : float
        Longest that handing over may take, name look-up included. [s]
    """

    kind = ChannelKind.EMAIL

    def __init__(
        self,
        settings: EmailSettings,
        site_name: str,
        clock: Clock,
        *,
        tls: ssl.SSLContext | None = None,
        deadline_s: float = 90.0,
    ) -> None:
        self._deadline_s = deadline_s
        self._settings = settings
        self._site_name = site_name
        self._clock = clock
        self._tls = tls
        self._line = _Line()

    def send(self, message: Message, *, is_repeat: bool) -> Receipt:
        """Hand a message to the server, once more as bare text if it is not liked.

        Raises
        ------
        DeliveryError
            If it was not taken, with what can be done about it.
        """
        mails = [self._mail(message, is_repeat=is_repeat)]
        if message.html is not None or message.attachments:
            # What a filter takes offence at is seldom the plain words.
            bare = replace(message, html=None, attachments=())
            mails.append(self._mail(bare, is_repeat=is_repeat))
        begun = Event()
        try:
            # The library's timeouts hold for single steps: a name server that never
            # answers, or a server that drips lines, passes them all.
            within_deadline(
                lambda: self._hand_over(mails, message.address, begun),
                self._deadline_s,
            )
        except TransportError as error:
            # The thread that was left behind ends with its connection.
            self._line.cut()
            # Before the mail itself was begun, it cannot have arrived.
            kind = Refusal.UNKNOWN_OUTCOME if begun.is_set() else Refusal.TRY_AGAIN
            raise _refused(kind, error.problem) from error
        return Receipt(provider_id=message.message_id, is_confirmed=True)

    def try_log_in(self) -> None:
        """Connect and log in, and send nothing.

        Raises
        ------
        DeliveryError
            If that is refused, with what can be done about it.
        """
        try:
            within_deadline(self._knock, self._deadline_s)
        except TransportError as error:
            self._line.cut()
            raise _refused(Refusal.TRY_AGAIN, error.problem) from error

    @contextmanager
    def run(self) -> Iterator[None]:
        """Keep one connection for all mails that are sent while the block runs."""
        self._line.is_run = True
        try:
            yield
        finally:
            self._line.is_run = False
            server = self._line.taken()
            if server is not None:
                _close(server)

    def _knock(self) -> None:
        """Connect, log in and go."""
        _close(self._opened())

    def _hand_over(
        self, mails: Sequence[EmailMessage], recipient: str, begun: Event
    ) -> None:
        """Send the first mail that the server likes, over the line that is open."""
        server = self._line.taken()
        if server is not None:
            try:
                if _is_alive(server):
                    self._submit(server, mails, recipient, begun)
                    return
            except DeliveryError as error:
                # It may take so many mails a connection, and no more.
                if error.refusal is not Refusal.TRY_AGAIN:
                    raise
            _close(server)
        self._submit(self._opened(), mails, recipient, begun)

    def _submit(
        self,
        server: "_Server",
        mails: Sequence[EmailMessage],
        recipient: str,
        begun: Event,
    ) -> None:
        """Send a mail; keep the connection for the next only if all went well."""
        server.begun = begun
        first, *bare = mails
        try:
            try:
                _submit(server, first, self._settings.sender, recipient)
            except DeliveryError as error:
                if error.refusal is not Refusal.BAD_MESSAGE or not bare:
                    raise
                begun.clear()
                _submit(server, bare[0], self._settings.sender, recipient)
        except BaseException:
            _close(server)
            raise
        if self._line.is_run:
            self._line.keep(server)
        else:
            _close(server)

    def _opened(self) -> "_Server":
        """Return a new connection, logged in."""
        server = self._connect()
        try:
            _log_in(server, self._settings)
        except BaseException:
            _close(server)
            raise
        return server

    def _mail(self, message: Message, *, is_repeat: bool) -> EmailMessage:
        """Return a message as email: complete plain text, and HTML beside it."""
        mail = EmailMessage(policy=_POLICY)
        subject = marked_repeat(message.subject) if is_repeat else message.subject
        try:
            mail["Subject"] = " ".join(subject.split())
            mail["From"] = formataddr(
                (f"frostalert {self._site_name}", self._settings.sender)
            )
            mail["To"] = message.address
            mail["Date"] = format_datetime(self._clock.now_utc())
            mail["Message-ID"] = message.message_id
            mail["Auto-Submitted"] = "auto-generated"
            if message.thread is not None:
                # All mail of one stretch of cold stands together in the inbox.
                mail["In-Reply-To"] = message.thread
                mail["References"] = message.thread
        except ValueError as error:
            raise _refused(Refusal.BAD_MESSAGE, f"a header is broken: {error}") from (
                error
            )
        mail.set_content(message.text)
        if message.html is not None:
            mail.add_alternative(message.html, subtype="html")
        _attach(mail, message.attachments)
        return mail

    def _connect(self) -> "_Server":
        """Return a connection, encrypted as the settings say."""
        settings = self._settings
        # Without a name of its own smtplib asks the name server for one, which hangs
        # for ten seconds where that is dead.
        name = "frostalert.invalid"
        context = self._tls or ssl.create_default_context()
        try:
            if settings.security == "tls":
                return _SecureServer(
                    self._line,
                    settings.host,
                    settings.port,
                    local_hostname=name,
                    timeout=_TIMEOUT_S,
                    context=context,
                )
            server = _Server(
                self._line,
                settings.host,
                settings.port,
                local_hostname=name,
                timeout=_TIMEOUT_S,
            )
            if settings.security == "starttls":
                _start_tls(server, context)
        except ssl.SSLError as error:
            detail = f"the secure connection failed: {error.reason or error}"
            raise _refused(Refusal.MISCONFIGURED, detail) from error
        except smtplib.SMTPException as error:
            raise _refused(Refusal.TRY_AGAIN, str(error)) from error
        except OSError as error:
            detail = f"no connection to {settings.host}:{settings.port}: {error}"
            raise _refused(Refusal.TRY_AGAIN, detail) from error
        return server


class _Server(smtplib.SMTP):
    """A connection that notes when the mail itself is begun: before, nothing is there.

    A server that hangs up over the sender or the recipient has taken no mail.
    """

    begun = Event()

    def __init__(self, line: "_Line", *given: Any, **named: Any) -> None:
        # Known before it connects: the server may drip its first word already.
        line.used = self
        super().__init__(*given, **named)

    def data(self, msg: Any) -> tuple[int, bytes]:
        """Send the mail itself."""
        self.begun.set()
        return super().data(msg)


class _Line:
    """The connection in use, and the one that is kept for the next mail."""

    def __init__(self) -> None:
        self.is_run = False
        self.used: _Server | None = None
        self._kept: _Server | None = None

    def keep(self, server: _Server) -> None:
        """Keep a connection for the next mail."""
        self._kept = server

    def taken(self) -> _Server | None:
        """Return the connection that was kept, if any; it is kept no longer."""
        server, self._kept = self._kept, None
        self.used = server
        return server

    def cut(self) -> None:
        """End the connection in use: whoever waits for its server waits no more."""
        socket_used = getattr(self.used, "sock", None)
        if socket_used is not None:
            with suppress(OSError):
                socket_used.shutdown(SHUT_RDWR)


class _SecureServer(_Server, smtplib.SMTP_SSL):
    """The same, encrypted from the beginning."""


def _attach(mail: EmailMessage, attachments: tuple[Attachment, ...]) -> None:
    """Put the files in: what the HTML shows beside it, the rest at the end."""
    body = mail.get_body(("html",))
    for item in attachments:
        main, _, sub = item.media_type.partition("/")
        if item.cid is None or body is None:
            mail.add_attachment(item.content, main, sub, filename=item.name)
        else:
            body.add_related(
                item.content, main, sub, cid=f"<{item.cid}>", filename=item.name
            )


def _start_tls(server: smtplib.SMTP, context: ssl.SSLContext) -> None:
    """Encrypt a connection; never go on in the clear."""
    try:
        server.starttls(context=context)
    except smtplib.SMTPNotSupportedError as error:
        _close(server)
        detail = "the server does not offer encryption (STARTTLS); nothing was sent"
        raise _refused(Refusal.MISCONFIGURED, detail) from error
    except (ssl.SSLError, smtplib.SMTPException, OSError):
        _close(server)
        raise


def _log_in(server: smtplib.SMTP, settings: EmailSettings) -> None:
    """Log in, if the settings name a user."""
    if settings.username is None:
        return
    if settings.password is None:
        detail = "there is a user name and no password that can be read"
        raise _refused(Refusal.MISCONFIGURED, detail)
    try:
        server.login(settings.username, settings.password.reveal())
    except smtplib.SMTPAuthenticationError as error:
        detail = (
            f"the server refused the log-in ({error.smtp_code}); many providers want "
            "an app password in place of your own"
        )
        raise _refused(Refusal.MISCONFIGURED, detail) from error
    except smtplib.SMTPNotSupportedError as error:
        detail = "the server offers no log-in that we know"
        raise _refused(Refusal.MISCONFIGURED, detail) from error
    except ValueError:
        # Its text would show the password.
        detail = "user name and password must be plain ASCII characters"
        raise _refused(Refusal.MISCONFIGURED, detail) from None
    except (smtplib.SMTPException, OSError) as error:
        words = settings.password.masked_in(str(error))
        raise _refused(Refusal.TRY_AGAIN, f"log-in failed: {words}") from error


def _submit(server: "_Server", mail: EmailMessage, sender: str, recipient: str) -> None:
    """Send a mail and classify whatever the server answers."""
    try:
        server.send_message(mail, from_addr=sender, to_addrs=[recipient])
    except smtplib.SMTPRecipientsRefused as error:
        code, text = next(iter(error.recipients.values()))
        kind = _kind_of(code, _decode(text), Refusal.BAD_RECIPIENT)
        raise _refused(kind, f"recipient refused: {code} {_decode(text)}") from error
    except smtplib.SMTPResponseException as error:
        words = _decode(error.smtp_error)
        kind = _kind_of(error.smtp_code, words, Refusal.BAD_MESSAGE)
        detail = f"{error.smtp_code} {words}"
        raise _refused(kind, detail) from error
    except smtplib.SMTPNotSupportedError as error:
        raise _refused(Refusal.BAD_RECIPIENT, str(error)) from error
    except (smtplib.SMTPException, OSError) as error:
        detail = f"the connection broke while sending: {error}"
        may_be_there = server.begun.is_set()
        kind = Refusal.UNKNOWN_OUTCOME if may_be_there else Refusal.TRY_AGAIN
        raise _refused(kind, detail) from error


def _kind_of(code: int, text: str, permanent: Refusal) -> Refusal:
    """Return what a refusal stands for; a missing log-in is nobody's bad address."""
    if code == _LOG_IN_FIRST or "5.7.30" in text:
        return Refusal.MISCONFIGURED
    if code < _PERMANENT:
        return Refusal.TRY_AGAIN
    is_mailbox = any(word in text for word in _MAILBOX)
    return Refusal.BAD_RECIPIENT if is_mailbox else permanent


def _is_alive(server: smtplib.SMTP) -> bool:
    """Return whether a connection that was kept still answers."""
    try:
        return server.noop()[0] == _ALL_WELL
    except (smtplib.SMTPException, OSError):
        return False


def _close(server: smtplib.SMTP) -> None:
    """Say goodbye, whatever state the connection is in."""
    try:
        server.quit()
    except (smtplib.SMTPException, OSError):
        server.close()


def _refused(refusal: Refusal, detail: str) -> DeliveryError:
    """Return the error for an email that was not taken."""
    return DeliveryError(ChannelKind.EMAIL, refusal, detail)


def _decode(text: bytes | str) -> str:
    """Return a server's words as one short line."""
    plain = text.decode("utf-8", errors="replace") if isinstance(text, bytes) else text
    return " ".join(plain.split())[:200]
