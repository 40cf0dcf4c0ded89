"""A push service on this machine (RFC 8030), as strict as a real one: it opens what it is sent and checks who sent it.

It keeps what it took with the message in clear, which only a test's can: it plays the browser too.
"""

from __future__ import annotations

import http.server
import os
import re
import socket
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from types import TracebackType
from typing import Any

from cryptography.hazmat.primitives.asymmetric import ec

from service.alerts.push.base64url import to_bytes, to_text
from service.alerts.push.encrypt import point, public_bytes
from service.alerts.push.views import Subscription
from tests.parts import need

http_ece, jwt = need("http_ece"), need("jwt")
Answer = tuple[int, dict[str, str]]
CREATED: Answer = (201, {"Location": "/message/1"})


@dataclass(frozen=True)
class Taken:
    """A push as it came. claims: of its token, which was checked."""

    path: str
    headers: dict[str, str]
    size: int
    message: bytes
    claims: dict[str, Any]
    key: str


@dataclass
class Browser:
    """Its secret half; `path` is what the service knows it by."""

    path: str
    private: ec.EllipticCurvePrivateKey = field(
        default_factory=lambda: ec.generate_private_key(ec.SECP256R1())
    )
    auth: bytes = field(default_factory=lambda: os.urandom(16))

    def subscription(self, address: str) -> Subscription:
        return Subscription(address + self.path, to_text(public_bytes(self.private)), to_text(self.auth))

    def open(self, body: bytes) -> bytes:
        return bytes(
            http_ece.decrypt(body, private_key=self.private, auth_secret=self.auth, version="aes128gcm")
        )


class ServiceNear:
    """`answers` are given one a push, then always 201. A callable is handed the connection and does as it likes."""

    def __init__(self) -> None:
        self.answers: list[Answer | Callable[[socket.socket], None]] = []
        self.taken: list[Taken] = []
        self.asked = 0
        self.faults: list[str] = []
        self.browsers: dict[str, Browser] = {}
        outer = self

        class Handler(http.server.BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_POST(self) -> None:
                outer._take(self)

            def log_message(self, *_: object) -> None:
                return None

        self._server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.05,), daemon=True)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self._server.server_port}"

    def browser(self, name: str = "one") -> Browser:
        found = Browser(f"/push/{name}")
        self.browsers[found.path] = found
        return found

    def __enter__(self) -> ServiceNear:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join(5)
        if kind is None:
            assert self.faults == []

    def _take(self, asked: http.server.BaseHTTPRequestHandler) -> None:
        self.asked += 1
        body = asked.rfile.read(int(asked.headers["Content-Length"]))
        answer = self.answers.pop(0) if self.answers else CREATED
        if callable(answer):
            answer(asked.connection)
            asked.close_connection = True
            return
        status, headers = answer
        if status in (200, 201, 202):
            status = self._kept(asked, body, status)
        asked.send_response(status)
        for name, value in {"Content-Length": "0", **headers}.items():
            asked.send_header(name, value)
        asked.end_headers()

    def _kept(self, asked: http.server.BaseHTTPRequestHandler, body: bytes, status: int) -> int:
        try:
            self.taken.append(self._checked(asked, body))
        except Exception as fault:
            self.faults.append(f"{type(fault).__name__}: {fault}")
            return 400
        return status

    def _checked(self, asked: http.server.BaseHTTPRequestHandler, body: bytes) -> Taken:
        headers = dict(asked.headers.items())
        said = re.fullmatch(r"vapid t=([\w.-]+), k=([\w-]+)", headers["Authorization"])
        assert said, "RFC 8292 section 3"
        key = point(to_bytes(said[2]))
        claims = jwt.decode(said[1], key, algorithms=["ES256"], audience=self.address)
        assert claims["exp"] < time.time() + 24 * 3600, "RFC 8292 section 2"
        assert headers["Content-Encoding"] == "aes128gcm", "RFC 8291 section 4"
        assert re.fullmatch(r"\d+", headers["TTL"]), "RFC 8030 section 5.2"
        assert headers["Urgency"] in ("very-low", "low", "normal", "high"), "RFC 8030 section 5.3"
        assert re.fullmatch(r"[\w-]{1,32}", headers["Topic"]), "RFC 8030 section 5.4"
        assert len(body) <= 4096, "RFC 8030 section 7.2"
        message = self.browsers[asked.path].open(body)
        return Taken(asked.path, headers, len(body), message, claims, said[2])


def hang(until: threading.Event) -> Callable[[socket.socket], None]:
    """Say nothing until told to."""
    return lambda connection: _wait(until)


def drip(until: threading.Event) -> Callable[[socket.socket], None]:
    """A letter now and then, so that no single wait is ever too long."""

    def dripping(connection: socket.socket) -> None:
        for letter in b"HTTP/1.1 201 Created\r\nX: " + b"x" * 2000:
            if until.wait(0.02):
                return
            try:
                connection.send(bytes([letter]))
            except OSError:
                return

    return dripping


def hang_up(connection: socket.socket) -> None:
    """Take everything, then break off."""
    connection.shutdown(socket.SHUT_RDWR)


def _wait(until: threading.Event) -> None:
    until.wait(20)
