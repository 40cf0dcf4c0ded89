"""One POST, with everything bounded: against real connections that hang, drip, break off and lead elsewhere."""

from __future__ import annotations

import socket
import ssl
import subprocess
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path

import pytest

from service.alerts.push.post import LONGEST_WAIT_S, MOST_CALLS, NoReply, Poster, Reply
from service.clock import FakeClock
from tests.api.browser import until
from tests.parts import need_program
from tests.service.alerts.push.service_near import ServiceNear, drip, hang, hang_up

NOW = datetime(2026, 3, 2, 8, 15, tzinfo=UTC)
SHORT_S = 0.3


@pytest.fixture
def near() -> Iterator[ServiceNear]:
    with ServiceNear() as made:
        yield made


@pytest.fixture
def done() -> Iterator[threading.Event]:
    event = threading.Event()
    yield event
    event.set()


def post(near: ServiceNear, poster: Poster | None = None) -> Reply | NoReply:
    poster = poster or Poster(10, loopback=True, clock=FakeClock(NOW))
    return poster.post(f"{near.address}/push/one", {"TTL": "0"}, b"sealed")


class TestAnswers:
    @pytest.mark.parametrize("status", [302, 400, 404, 429, 500, 503])
    def test_the_status_is_told(self, near: ServiceNear, status: int) -> None:
        near.answers = [(status, {})]
        assert post(near) == Reply(status)

    @pytest.mark.parametrize(
        ("written", "wait_s"),
        [
            ("0", 0),
            ("120", 120),
            ("99999999999999999999999", LONGEST_WAIT_S),
            (format_datetime(NOW + timedelta(minutes=3), usegmt=True), 180),
            (format_datetime(NOW - timedelta(minutes=3), usegmt=True), 0),
            ("soon", None),
            ("-5", None),
            ("1.5", None),
            ("\xb2", None),
            ("", None),
            ("Mon, 1 Jan 99999999999999999999 00:00:00 GMT", None),
            ("Mon, 02 Mar 2026 08:18:00 -0000", None),
        ],
    )
    def test_how_long_to_wait(self, near: ServiceNear, written: str, wait_s: float | None) -> None:
        """RFC 9110 section 10.2.3."""
        near.answers = [(429, {"Retry-After": written})]
        assert post(near) == Reply(429, wait_s)

    def test_no_redirect_is_followed(self, near: ServiceNear) -> None:
        near.answers = [(307, {"Location": f"{near.address}/elsewhere"})]
        assert post(near) == Reply(307)
        assert near.asked == 1

    def test_a_long_answer_is_not_read(self, near: ServiceNear) -> None:
        near.answers = [(500, {"Content-Length": str(10**12)})]
        assert post(near) == Reply(500)

    def test_endless_headers_end(self, near: ServiceNear) -> None:
        near.answers = [
            lambda connection: connection.sendall(b"HTTP/1.1 201 Created\r\n" + b"X: y\r\n" * 1000)
        ]
        assert post(near) == NoReply("the answer broke off", sent=True)


class TestNoAnswer:
    def test_nobody_there(self) -> None:
        with socket.socket() as taken:
            taken.bind(("127.0.0.1", 0))
            reply = Poster(5, loopback=True).post(f"http://127.0.0.1:{taken.getsockname()[1]}/a", {}, b"")
        assert reply == NoReply("nobody answered there")

    def test_a_name_nobody_knows(self) -> None:
        def unknown(host: str, port: int) -> list[str]:
            raise socket.gaierror(socket.EAI_NONAME, "unknown")

        reply = Poster(5, find=unknown).post("https://push.example.org/a", {}, b"")
        assert reply == NoReply("nobody answered there")

    def test_a_name_without_numbers(self) -> None:
        reply = Poster(5, find=lambda host, port: []).post("https://push.example.org/a", {}, b"")
        assert reply == NoReply("nobody answered there")

    def test_broken_off_after_it_was_sent(self, near: ServiceNear) -> None:
        near.answers = [hang_up]
        assert post(near) == NoReply("the answer broke off", sent=True)

    def test_what_is_no_http(self, near: ServiceNear) -> None:
        near.answers = [lambda connection: connection.sendall(b"220 mail.example.org\r\n")]
        assert post(near) == NoReply("the answer broke off", sent=True)

    def test_one_that_hangs(self, near: ServiceNear, done: threading.Event) -> None:
        near.answers = [hang(done)]
        assert post(near, Poster(SHORT_S, loopback=True)) == NoReply("no answer within 0.3 s", sent=True)

    def test_one_that_drips(self, near: ServiceNear, done: threading.Event) -> None:
        near.answers = [drip(done)]
        assert post(near, Poster(SHORT_S, loopback=True)) == NoReply("no answer within 0.3 s", sent=True)

    def test_a_name_that_is_not_found_in_time_is_not_sent_to_later(
        self, near: ServiceNear, done: threading.Event
    ) -> None:
        """What was said to have gone nowhere must not ring a minute later."""
        let_go = threading.Event()

        def slow(host: str, port: int) -> list[str]:
            done.wait(20)
            let_go.set()
            return ["127.0.0.1"]

        poster = Poster(SHORT_S, loopback=True, find=slow)
        assert post(near, poster) == NoReply("no answer within 0.3 s")
        done.set()
        until(let_go.is_set)
        until(lambda: not poster._running)
        assert near.asked == 0

    def test_hanging_ones_do_not_gather(self, near: ServiceNear) -> None:
        gate = threading.Event()

        def stuck(host: str, port: int) -> list[str]:
            gate.wait(20)
            return []

        poster = Poster(0.05, loopback=True, find=stuck)
        for _ in range(MOST_CALLS):
            assert post(near, poster) == NoReply("no answer within 0.05 s")
        assert post(near, poster) == NoReply("still busy with the messages before")
        gate.set()
        until(lambda: not poster._running)
        assert post(near, poster) != NoReply("still busy with the messages before")

    def test_the_next_one_is_sent_after_one_that_hung(self, near: ServiceNear, done: threading.Event) -> None:
        near.answers = [hang(done), (500, {})]
        poster = Poster(SHORT_S, loopback=True)
        assert isinstance(post(near, poster), NoReply)
        assert post(near, Poster(10, loopback=True)) == Reply(500)
        until(lambda: not poster._running)

    def test_closing_lets_go_at_once(self, near: ServiceNear, done: threading.Event) -> None:
        near.answers = [hang(done)]
        poster = Poster(60, loopback=True)
        replies: list[Reply | NoReply] = []
        thread = threading.Thread(target=lambda: replies.append(post(near, poster)))
        thread.start()
        until(lambda: near.asked)
        poster.close()
        thread.join(10)
        assert replies == [NoReply("broken off: coatbell stops", sent=True)]
        assert post(near, poster) == NoReply("still busy with the messages before")


class TestWhere:
    def test_not_to_this_machine(self, near: ServiceNear) -> None:
        reply = post(near, Poster(5))
        assert isinstance(reply, NoReply)
        assert reply.for_good
        assert near.asked == 0

    def test_not_by_a_name_that_leads_here(self, near: ServiceNear) -> None:
        port = near.address.rpartition(":")[2]
        poster = Poster(5, find=lambda host, wanted: ["127.0.0.1"])
        reply = poster.post(f"https://push.example.org:{port}/a", {}, b"")
        assert isinstance(reply, NoReply)
        assert reply.for_good
        assert near.asked == 0


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A certificate for push.example.org that signs itself."""
    folder = tmp_path_factory.mktemp("tls")
    key, cert = folder / "key.pem", folder / "cert.pem"
    name = ["-subj", "/CN=push.example.org", "-addext", "subjectAltName=DNS:push.example.org"]
    made = ["-newkey", "rsa:2048", "-nodes", "-keyout", str(key), "-out", str(cert), "-days", "2"]
    subprocess.run(
        [need_program("openssl"), "req", "-x509", *made, *name], check=True, capture_output=True, timeout=60
    )
    return key, cert


class TestTls:
    @pytest.fixture
    def secured(self, certificate: tuple[Path, Path]) -> Iterator[int]:
        """A server that takes one push after the other and answers 201."""
        key, cert = certificate
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(cert, key)
        listener = socket.create_server(("127.0.0.1", 0))
        thread = threading.Thread(target=self._serve, args=(listener, context), daemon=True)
        thread.start()
        yield listener.getsockname()[1]
        listener.shutdown(socket.SHUT_RDWR)
        listener.close()
        thread.join(5)

    def _serve(self, listener: socket.socket, context: ssl.SSLContext) -> None:
        while True:
            try:
                plain, _ = listener.accept()
            except OSError:
                return
            try:
                with plain, context.wrap_socket(plain, server_side=True) as connection:
                    head = b""
                    while not head.endswith(b"sealed"):
                        head += connection.recv(65536) or b"sealed"
                    host = b"push.example.org:%d" % listener.getsockname()[1]
                    right = b"POST /v1/a HTTP/1.1\r\nHost: " + host in head
                    connection.sendall(
                        b"HTTP/1.1 %d x\r\nContent-Length: 0\r\n\r\n" % (201 if right else 400)
                    )
            except OSError:
                continue

    def poster(self, cert: Path | None) -> Poster:
        context = ssl.create_default_context(cafile=str(cert)) if cert else None
        return Poster(10, loopback=True, find=lambda host, port: ["127.0.0.1"], context=context)

    def test_a_certificate_in_its_name(self, secured: int, certificate: tuple[Path, Path]) -> None:
        reply = self.poster(certificate[1]).post(f"https://push.example.org:{secured}/v1/a", {}, b"sealed")
        assert reply == Reply(201)

    def test_one_in_another_name_is_not_trusted(self, secured: int, certificate: tuple[Path, Path]) -> None:
        reply = self.poster(certificate[1]).post(f"https://other.example.org:{secured}/v1/a", {}, b"sealed")
        assert reply == NoReply("nobody answered there")

    def test_one_that_nobody_vouches_for_is_not_trusted(self, secured: int) -> None:
        reply = self.poster(None).post(f"https://push.example.org:{secured}/v1/a", {}, b"sealed")
        assert reply == NoReply("nobody answered there")
