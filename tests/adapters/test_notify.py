"""Email against a real SMTP server, texts against a real HTTP server."""

import socket
import ssl
import threading
import time
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import trustme
from aiosmtpd.smtp import AuthResult

from frostalert.clock import FixedClock
from frostalert.errors import DeliveryError, Refusal
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Attachment, Message, MessageClass, Subject
from frostalert.model.secret import Secret
from frostalert.model.settings import EmailSettings, SmsSettings
from frostalert.notify.email import EmailNotifier
from frostalert.notify.sms import SmsNotifier
from frostalert.transport import HttpSession
from tests.support.servers import (
    MailBox,
    Reply,
    dripping_server,
    free_port,
    http_server,
    smtp_server,
)

NOW = datetime(2026, 4, 12, 22, tzinfo=UTC)


def message(channel: ChannelKind, **changes: Any) -> Message:
    values: dict[str, Any] = {
        "key": "k",
        "subject_kind": Subject.PREPARE,
        "message_class": MessageClass.WAKING,
        "night": None,
        "person": "Ines",
        "channel": channel,
        "address": "ines@heron-bench.example",
        "subject": "Prepare before dark",
        "text": "Plain part.\n",
        "html": "<p>Part in HTML.</p>",
        "message_id": "<abc@frostalert.invalid>",
        "deadline_utc": NOW + timedelta(hours=9),
    }
    return Message(**values | changes)


def email(
    port: int,
    *,
    tls: ssl.SSLContext | None = None,
    deadline_s: float = 20.0,
    **changes: Any,
) -> EmailNotifier:
    values: dict[str, Any] = {
        "host": "127.0.0.1",
        "port": port,
        "security": "none",
        "sender": "frost@heron-bench.example",
        "username": None,
        "password": None,
    }
    settings = EmailSettings(**values | changes)
    clock = FixedClock(NOW)
    return EmailNotifier(settings, "Heron Bench", clock, tls=tls, deadline_s=deadline_s)


def refusal(notifier: EmailNotifier, **changes: Any) -> DeliveryError:
    with pytest.raises(DeliveryError) as caught:
        notifier.send(message(ChannelKind.EMAIL, **changes), is_repeat=False)
    return caught.value


def test_an_email_arrives_whole() -> None:
    box = MailBox()
    with smtp_server(box) as server:
        receipt = email(server.port).send(message(ChannelKind.EMAIL), is_repeat=False)
    [mail] = box.mails
    assert mail["Subject"] == "Prepare before dark"
    assert mail["Message-ID"] == "<abc@frostalert.invalid>" == receipt.provider_id
    assert mail["Auto-Submitted"] == "auto-generated"
    assert mail["Date"] == "Sun, 12 Apr 2026 22:00:00 +0000"
    plain, html = mail.get_body(("plain",)), mail.get_body(("html",))
    assert plain is not None
    assert html is not None
    assert plain.get_content().splitlines() == ["Plain part."]
    assert "Part in HTML" in html.get_content()


def test_a_long_subject_begins_on_the_line_of_its_name() -> None:
    subject = (
        "Prepare before dark, 16:15: frost tonight, Wed 25 Nov, air 19 F (Heron Bench)"
    )
    box = MailBox()
    with smtp_server(box) as server:
        email(server.port).send(
            message(ChannelKind.EMAIL, subject=subject), is_repeat=False
        )
    assert box.mails[0]["Subject"] == subject


def test_files_arrive_beside_the_text_and_pictures_inside_it() -> None:
    box = MailBox()
    files = (
        Attachment(name="plan.ics", media_type="text/calendar", content=b"BEGIN"),
        Attachment(name="n.png", media_type="image/png", content=b"\x89P", cid="night"),
    )
    with smtp_server(box) as server:
        email(server.port).send(
            message(ChannelKind.EMAIL, attachments=files), is_repeat=False
        )
    [mail] = box.mails
    assert mail.get_content_type() == "multipart/mixed"
    [calendar] = mail.iter_attachments()
    assert calendar.get_filename() == "plan.ics"
    assert calendar.get_content_type() == "text/calendar"
    [picture] = [part for part in mail.walk() if part["Content-ID"] == "<night>"]
    assert picture.get_content() == b"\x89P"
    plain = mail.get_body(("plain",))
    assert plain is not None
    assert plain.get_content().splitlines() == ["Plain part."]


def test_a_repeat_keeps_its_id_and_says_that_it_is_one() -> None:
    box = MailBox()
    with smtp_server(box) as server:
        email(server.port).send(message(ChannelKind.EMAIL), is_repeat=True)
    assert box.mails[0]["Subject"] == "(again) Prepare before dark"
    assert box.mails[0]["Message-ID"] == "<abc@frostalert.invalid>"


def test_line_breaks_cannot_make_headers() -> None:
    box = MailBox()
    with smtp_server(box) as server:
        email(server.port).send(
            message(ChannelKind.EMAIL, subject="a\r\nBcc: x@y.example"),
            is_repeat=False,
        )
    assert box.mails[0]["Bcc"] is None


@pytest.mark.parametrize(
    ("reply", "expected"),
    [
        ("451 later", Refusal.TRY_AGAIN),
        ("550 no such user", Refusal.BAD_RECIPIENT),
    ],
)
def test_refused_recipients_are_told_apart(reply: str, expected: Refusal) -> None:
    box = MailBox()
    box.recipient_replies["ines@heron-bench.example"] = reply
    with smtp_server(box) as server:
        assert refusal(email(server.port)).refusal is expected
    assert box.mails == []


@pytest.mark.parametrize(
    ("reply", "expected"),
    [
        ("452 full", Refusal.TRY_AGAIN),
        ("554 spam", Refusal.BAD_MESSAGE),
        ("552 5.2.2 over quota", Refusal.BAD_RECIPIENT),
    ],
)
def test_refused_content_is_told_apart(reply: str, expected: Refusal) -> None:
    box = MailBox()
    box.data_replies += [reply, reply]
    with smtp_server(box) as server:
        assert refusal(email(server.port)).refusal is expected


def test_content_that_is_refused_goes_once_more_as_bare_text() -> None:
    box = MailBox()
    box.data_replies.append("554 5.7.1 looks like spam")
    picture = Attachment(name="n.png", media_type="image/png", content=b"\x89P")
    with smtp_server(box) as server:
        email(server.port).send(
            message(ChannelKind.EMAIL, attachments=(picture,)), is_repeat=False
        )
    [mail] = box.mails
    assert mail.get_content_type() == "text/plain"
    assert mail.get_content().splitlines() == ["Plain part."]
    assert mail["Subject"] == "Prepare before dark"


class Counted(MailBox):
    """Takes mail, and remembers over which connection each came."""

    def __init__(self, most: int = 99) -> None:
        super().__init__()
        self.peers: list[Any] = []
        self.most = most

    async def handle_MAIL(  # noqa: N802 - the library's name
        self, server: Any, session: Any, envelope: Any, address: str, options: Any
    ) -> str:
        del server, options
        if self.peers.count(session.peer) >= self.most:
            return "452 too many mails on this connection"
        self.peers.append(session.peer)
        envelope.mail_from = address
        return "250 OK"


@pytest.mark.parametrize(("most", "connections"), [(99, 1), (2, 3)])
def test_a_run_of_mails_takes_one_connection(most: int, connections: int) -> None:
    box = Counted(most)
    with smtp_server(box) as server:
        sender = email(server.port)
        with sender.run():
            for _ in range(5):
                sender.send(message(ChannelKind.EMAIL), is_repeat=False)
    assert len(box.mails) == 5
    assert len(set(box.peers)) == connections


def test_a_server_that_hangs_up_between_two_mails_is_called_again() -> None:
    box = MailBox()
    with smtp_server(box, timeout=0.3) as server:
        sender = email(server.port)
        with sender.run():
            for _ in range(2):
                sender.send(message(ChannelKind.EMAIL), is_repeat=False)
                time.sleep(0.8)
    assert len(box.mails) == 2


def test_a_certificate_that_nobody_vouches_for_stops_the_mail(
    authority: trustme.CA,
) -> None:
    """With the program's own trust, as it is used: none is brought by the test."""
    box = MailBox()
    server_tls, _ = contexts(authority, "127.0.0.1")
    with smtp_server(box, tls_context=server_tls) as server:
        error = refusal(email(server.port, security="starttls"))
    assert error.refusal is Refusal.MISCONFIGURED
    assert "CERTIFICATE_VERIFY_FAILED" in error.detail
    assert box.mails == []


def test_a_server_that_is_away_is_tried_again() -> None:
    assert refusal(email(free_port())).refusal is Refusal.TRY_AGAIN


def test_without_encryption_nothing_is_sent() -> None:
    box = MailBox()
    with smtp_server(box) as server:
        error = refusal(email(server.port, security="starttls"))
    assert error.refusal is Refusal.MISCONFIGURED
    assert "STARTTLS" in error.detail
    assert box.mails == []


@pytest.fixture
def authority() -> trustme.CA:
    return trustme.CA()


def contexts(authority: trustme.CA, name: str) -> tuple[ssl.SSLContext, ssl.SSLContext]:
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    authority.issue_cert(name).configure_cert(server)
    client = ssl.create_default_context()
    authority.configure_trust(client)
    return server, client


def test_an_encrypted_email_arrives(authority: trustme.CA) -> None:
    box = MailBox()
    server_tls, client_tls = contexts(authority, "127.0.0.1")
    with smtp_server(box, tls_context=server_tls, require_starttls=True) as server:
        email(server.port, security="starttls", tls=client_tls).send(
            message(ChannelKind.EMAIL), is_repeat=False
        )
    assert len(box.mails) == 1


def test_a_wrong_certificate_stops_the_mail(authority: trustme.CA) -> None:
    box = MailBox()
    server_tls, client_tls = contexts(authority, "other.example")
    with smtp_server(box, tls_context=server_tls) as server:
        error = refusal(email(server.port, security="starttls", tls=client_tls))
    assert error.refusal is Refusal.MISCONFIGURED
    assert "secure connection" in error.detail
    assert box.mails == []


def test_a_refused_log_in_names_app_passwords_and_hides_the_password() -> None:
    box = MailBox()
    options = {
        "auth_required": True,
        "auth_require_tls": False,
        "authenticator": lambda *_: _refuse(),
    }
    with smtp_server(box, **options) as server:
        error = refusal(
            email(server.port, username="frost", password=Secret("hunter2-marker"))
        )
    assert error.refusal is Refusal.MISCONFIGURED
    assert "app password" in error.detail
    assert "hunter2-marker" not in str(error)


def test_a_password_that_is_not_ascii_is_named_and_not_shown() -> None:
    box = MailBox()
    options = {"auth_required": True, "auth_require_tls": False}
    with smtp_server(box, **options) as server:
        error = refusal(
            email(server.port, username="frost", password=Secret("geh\u00e9im-marker"))
        )
    assert error.refusal is Refusal.MISCONFIGURED
    assert "ASCII" in error.detail
    assert "marker" not in repr(error)
    assert error.__cause__ is None


def test_a_server_that_wants_a_log_in_is_not_a_bad_address() -> None:
    box = MailBox()
    box.recipient_replies["ines@heron-bench.example"] = "530 5.7.0 log in first"
    with smtp_server(box) as server:
        assert refusal(email(server.port)).refusal is Refusal.MISCONFIGURED


def test_a_dripping_mail_server_ends_with_the_deadline() -> None:
    with dripping_server(b"220-wait\r\n") as port:
        error = refusal(email(port, deadline_s=0.5))
        # Not a word of the mail was sent: it cannot have arrived.
        assert error.refusal is Refusal.TRY_AGAIN
        end = time.monotonic() + 3.0
        while exchanges() and time.monotonic() < end:
            time.sleep(0.05)
        # Nobody goes on listening to it.
        assert exchanges() == []


def exchanges() -> list[threading.Thread]:
    return [item for item in threading.enumerate() if item.name == "exchange"]


def _refuse() -> AuthResult:
    return AuthResult(success=False, handled=False)


@pytest.mark.parametrize(
    ("hangs_up_at", "expected"),
    [
        (b"MAIL", Refusal.TRY_AGAIN),
        (b"RCPT", Refusal.TRY_AGAIN),
        (b".\r\n", Refusal.UNKNOWN_OUTCOME),
    ],
    ids=["over the sender", "over the recipient", "after the data"],
)
def test_only_a_connection_lost_after_the_data_is_an_unknown_outcome(
    hangs_up_at: bytes, expected: Refusal
) -> None:
    listener = socket.create_server(("127.0.0.1", 0))

    def talk() -> None:
        connection, _ = listener.accept()
        with connection, connection.makefile("rwb", buffering=0) as stream:
            stream.write(b"220 hello\r\n")
            in_data = False
            while line := stream.readline():
                if line.upper().startswith(hangs_up_at):
                    return
                if in_data:
                    continue
                in_data = line.upper().startswith(b"DATA")
                stream.write(b"354 go on\r\n" if in_data else b"250 ok\r\n")

    thread = threading.Thread(target=talk, daemon=True)
    thread.start()
    error = refusal(email(listener.getsockname()[1]))
    thread.join(timeout=5)
    listener.close()
    assert error.refusal is expected


# --- texts ------------------------------------------------------------------------


def sms(url: str, **changes: Any) -> SmsNotifier:
    values: dict[str, Any] = {
        "url": url + "/accounts/{username}/messages",
        "body": "form",
        "fields": {"To": "{phone}", "Body": "{text}"},
        "id_pointer": "/sid",
        "username": "bench",
        "password": Secret("sms-marker"),
    }
    session = HttpSession("frostalert/test", deadline_s=1.0, sleep=lambda _: None)
    return SmsNotifier(SmsSettings(**values | changes), session)


def text() -> Message:
    return message(
        ChannelKind.SMS, address="+15095550142", text="FROST & cold: 27 F", html=None
    )


def test_a_text_is_posted_as_described() -> None:
    with http_server(lambda _: Reply(201, '{"sid": "SM1"}')) as server:
        receipt = sms(server.url).send(text(), is_repeat=False)
    assert receipt.provider_id == "SM1"
    [seen] = server.seen
    assert seen.path == "/accounts/bench/messages"
    assert seen.body == "To=%2B15095550142&Body=FROST+%26+cold%3A+27+F"


def test_a_text_as_json_with_a_deeper_id() -> None:
    body = '{"messages": [{"id/x": 7}]}'
    with http_server(lambda _: Reply(200, body)) as server:
        notifier = sms(server.url, body="json", id_pointer="/messages/0/id~1x")
        assert notifier.send(text(), is_repeat=True).provider_id == "7"
    assert '"(again) FROST & cold: 27 F"' in server.seen[0].body


@pytest.mark.parametrize(
    ("reply", "expected"),
    [
        (Reply(401), Refusal.MISCONFIGURED),
        (Reply(402), Refusal.MISCONFIGURED),
        (Reply(400, '{"message": "not a number"}'), Refusal.BAD_RECIPIENT),
        (Reply(429), Refusal.TRY_AGAIN),
        (Reply(500), Refusal.TRY_AGAIN),
        (Reply(200, '{"error": "no funds"}'), Refusal.UNKNOWN_OUTCOME),
        (Reply(201, "thanks"), Refusal.UNKNOWN_OUTCOME),
        (Reply(201, '{"sid": ""}'), Refusal.UNKNOWN_OUTCOME),
    ],
)
def test_answers_are_classified(reply: Reply, expected: Refusal) -> None:
    with http_server(lambda _: reply) as server, pytest.raises(DeliveryError) as caught:
        sms(server.url).send(text(), is_repeat=False)
    assert caught.value.refusal is expected
    assert "sms-marker" not in str(caught.value)


def test_a_service_that_is_away_is_tried_again() -> None:
    with pytest.raises(DeliveryError) as caught:
        sms(f"http://127.0.0.1:{free_port()}").send(text(), is_repeat=False)
    assert caught.value.refusal is Refusal.TRY_AGAIN
