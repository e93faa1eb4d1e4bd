"""The HTTP session against real servers that behave and misbehave."""

import ssl
import threading
import time
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest
import trustme

from frostalert.errors import TransportError
from frostalert.transport import MOST_BYTES, HttpSession, refuse_other_server
from tests.support.servers import Reply, Seen, dripping_server, free_port, http_server


def session(deadline_s: float = 5.0) -> HttpSession:
    return HttpSession(
        "frostalert/test (us@x.example)", deadline_s=deadline_s, sleep=lambda _: None
    )


def test_it_says_who_it_is_and_returns_what_came() -> None:
    with http_server(lambda _: Reply(200, "hello", {"X-Kind": "a"})) as server:
        answer = session().get(server.url, {"Accept": "text/x"})
    assert (answer.status, answer.text) == (200, "hello")
    assert answer.headers["X-Kind"] == "a"
    assert server.seen[0].headers["User-Agent"] == "frostalert/test (us@x.example)"
    assert server.seen[0].headers["Accept"] == "text/x"


def test_passing_trouble_is_tried_again_three_times_at_most() -> None:
    replies = [Reply(503), Reply(500), Reply(200, "better")]
    with http_server(lambda _: replies.pop(0)) as server:
        assert session(60.0).get(server.url, {}).text == "better"
    with http_server(lambda _: Reply(503)) as server:
        assert session(60.0).get(server.url, {}).status == 503
        assert len(server.seen) == 3


def test_all_tries_share_one_deadline() -> None:
    head = b"HTTP/1.1 200 OK\r\nContent-Length: 99999\r\n\r\n"
    with dripping_server(b"x", head=head) as port:
        start = time.monotonic()
        with pytest.raises(TransportError, match=r"no answer within 1 s|too slowly"):
            session(deadline_s=1.0).get(f"http://127.0.0.1:{port}/", {})
        assert time.monotonic() - start < 2.5


def test_no_wait_is_begun_that_would_outlast_the_deadline() -> None:
    waits: list[float] = []
    asking = HttpSession("t", deadline_s=15.0, sleep=waits.append)
    with http_server(lambda _: Reply(503, "", {"Retry-After": "20"})) as server:
        assert asking.get(server.url, {}).status == 503
    assert (len(server.seen), waits) == (1, [])


def test_a_refusal_is_not_tried_again() -> None:
    with http_server(lambda _: Reply(404)) as server:
        assert session().get(server.url, {}).status == 404
        assert len(server.seen) == 1


def test_a_server_cannot_park_us_for_hours() -> None:
    with http_server(lambda _: Reply(503, "", {"Retry-After": "21600"})) as server:
        assert session().get(server.url, {}).status == 503
        assert len(server.seen) == 1


def test_a_post_is_sent_once() -> None:
    with http_server(lambda _: Reply(500)) as server:
        answer = session().post(server.url, form={"a": "b c"}, login=("me", "pw"))
        assert answer.status == 500
    assert len(server.seen) == 1
    assert server.seen[0].body == "a=b+c"
    assert server.seen[0].headers["Authorization"].startswith("Basic ")


def test_an_endless_answer_is_cut_off() -> None:
    with (
        http_server(lambda _: Reply(200, "x" * (MOST_BYTES + 1))) as server,
        pytest.raises(TransportError, match="larger than"),
    ):
        session().get(server.url, {})


def test_dripping_bytes_end_with_the_deadline() -> None:
    head = b"HTTP/1.1 200 OK\r\nContent-Length: 99999\r\n\r\n"
    with dripping_server(b"x", head=head) as port:
        start = time.monotonic()
        with pytest.raises(TransportError):
            session(deadline_s=0.5).post(f"http://127.0.0.1:{port}/", form={})
        assert time.monotonic() - start < 2.5


def test_a_refused_connection_never_left_this_machine() -> None:
    with pytest.raises(TransportError) as caught:
        session().post(f"http://127.0.0.1:{free_port()}/", form={})
    assert caught.value.may_have_arrived is False


def test_a_redirect_to_another_server_is_refused() -> None:
    with http_server(lambda _: Reply(200, "evil")) as other:
        away = {"Location": other.url.replace("127.0.0.1", "localhost")}
        with (
            http_server(lambda _: Reply(302, "", away)) as server,
            pytest.raises(TransportError, match="another"),
        ):
            session().get(server.url, {})
        # It was judged before it was followed: nobody was asked on our behalf.
        assert other.seen == []


@pytest.mark.parametrize("there", ["https://elsewhere.invalid/", "//127.0.0.1:9/x"])
def test_a_redirect_out_of_the_server_is_not_followed(there: str) -> None:
    reply = Reply(302, "", {"Location": there})
    with (
        http_server(lambda _: reply) as server,
        pytest.raises(TransportError, match="another"),
    ):
        session().get(server.url, {})


def test_a_redirect_within_a_server_is_followed_and_not_in_circles() -> None:
    def answering(seen: Seen) -> Reply:
        if seen.path == "/":
            return Reply(301, "", {"Location": "/there?x=1"})
        if seen.path == "/circle":
            return Reply(302, "", {"Location": "/circle"})
        return Reply(200, f"{seen.path} {seen.headers['Accept']}")

    with http_server(answering) as server:
        answer = session().get(f"{server.url}/", {"Accept": "application/x"})
        assert answer.text == "/there?x=1 application/x"
        with pytest.raises(TransportError, match="circles"):
            session().get(f"{server.url}/circle", {})
    # Each try is four requests: redirects have an end.
    assert sum(seen.path == "/circle" for seen in server.seen) in (4, 8, 12)


def test_nothing_leads_out_of_encryption() -> None:
    with pytest.raises(TransportError, match="another"):
        refuse_other_server("https://a.example/x", "http://a.example/x")
    refuse_other_server("http://a.example/x", "https://a.example/x")


def test_a_post_is_not_handed_on_to_another_server() -> None:
    with http_server(lambda _: Reply(200, "evil")) as other:
        away = {"Location": other.url.replace("127.0.0.1", "localhost")}
        with http_server(lambda _: Reply(307, "", away)) as server:
            assert session().post(server.url, form={"To": "+1509"}).status == 307
        assert other.seen == []


def test_an_offline_machine_is_said_in_plain_words() -> None:
    with pytest.raises(TransportError, match="no internet here"):
        session().post("http://no-such-host.invalid/", form={})


def test_a_certificate_that_nobody_vouches_for_is_refused() -> None:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    trustme.CA().issue_cert("127.0.0.1").configure_cert(context)
    server = HTTPServer(("127.0.0.1", 0), BaseHTTPRequestHandler)
    server.socket = context.wrap_socket(server.socket, server_side=True)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    with pytest.raises(TransportError) as caught:
        session().get(f"https://127.0.0.1:{server.server_port}/", {})
    server.shutdown()
    server.server_close()
    assert "certificate" in caught.value.problem
    assert "clock" in caught.value.problem
    assert not caught.value.may_have_arrived


def test_the_time_by_the_server_is_passed_on_with_the_age_of_a_cached_answer() -> None:
    heard: list[tuple[datetime, str]] = []
    headers = {"Date": "Mon, 13 Apr 2026 10:00:00 GMT", "Age": "90"}
    asking = HttpSession("t", deadline_s=5.0, on_date=lambda *word: heard.append(word))
    with http_server(lambda _: Reply(200, "", headers)) as server:
        asking.get(server.url, {})
        asking.post(server.url, form={})
        asking.ping(server.url, "a body")
        name = server.url.removeprefix("http://")
    assert heard == [(datetime(2026, 4, 13, 10, 1, 30, tzinfo=UTC), name)] * 2
    with http_server(lambda _: Reply(200, "", {"Date": "yesterday"})) as server:
        asking.get(server.url, {})
    odd = {"Date": "Mon, 13 Apr 2026 10:00:00 GMT", "Age": "9" * 20}
    with http_server(lambda _: Reply(200, "", odd)) as server:
        assert asking.get(server.url, {}).status == 200
    assert len(heard) == 2


def test_nobody_goes_on_listening_to_a_server_that_drips() -> None:
    head = b"HTTP/1.1 200 OK\r\nContent-Length: 100000\r\n\r\n"
    with dripping_server(b"x" * 40, head=head) as port:
        with pytest.raises(TransportError):
            session(deadline_s=0.5).get(f"http://127.0.0.1:{port}/", {})
        end = time.monotonic() + 3.0
        while _exchanges() and time.monotonic() < end:
            time.sleep(0.05)
        assert _exchanges() == []


def _exchanges() -> list[threading.Thread]:
    return [item for item in threading.enumerate() if item.name == "exchange"]
