"""A real HTTP server on this machine that answers as a test asks it to."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import urlsplit


@dataclass
class Received:
    """One request as it came."""

    path: str
    headers: dict[str, str]
    raw: bytes

    @property
    def content(self) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(self.raw)
        return found


@dataclass
class Says:
    """One answer. drop: the connection is cut instead. slow_s: waits so long first, unless it is let go."""

    status: int = 200
    headers: dict[str, str] = field(default_factory=dict)
    drop: bool = False
    slow_s: float = 0.0


class FarEnd(ThreadingHTTPServer):
    """Answers by `plan`, then always 200."""

    daemon_threads = True

    def __init__(self, plan: Callable[[Received], Says] | None = None, port: int = 0) -> None:
        super().__init__(("127.0.0.1", port), _Handler)
        self.answers: list[Says] = []
        self.received: list[Received] = []
        self.let_go = threading.Event()
        self._plan = plan or (lambda received: self.answers.pop(0) if self.answers else Says())

    def plan(self, received: Received) -> Says:
        self.received.append(received)
        return self._plan(received)

    def address(self, scheme: str, path: str = "/hook") -> str:
        return f"{scheme}://127.0.0.1:{self.server_port}{path}"

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Who asks may go away in the middle: no word of it."""


class _Handler(BaseHTTPRequestHandler):
    server: FarEnd

    def do_POST(self) -> None:
        raw = self.rfile.read(int(self.headers["Content-Length"]))
        path = urlsplit(self.path)
        says = self.server.plan(Received(path.path, dict(self.headers.items()), raw))
        self.server.let_go.wait(says.slow_s)
        if says.drop:
            self.close_connection = True
            self.connection.close()
            return
        self.send_response(says.status)
        for name, value in {"Content-Length": "0", **says.headers}.items():
            self.send_header(name, value)
        self.end_headers()

    do_GET = do_POST

    def log_message(self, format: str, *args: Any) -> None:
        return None


@contextmanager
def far_end(plan: Callable[[Received], Says] | None = None) -> Iterator[FarEnd]:
    with FarEnd(plan) as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        try:
            yield server
        finally:
            server.let_go.set()
            server.shutdown()
            thread.join(10)
