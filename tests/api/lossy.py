"""A bad connection: a proxy on loopback that can be cut, or loses the answer to what it has brought."""

from __future__ import annotations

import socket
import threading
from contextlib import suppress
from enum import StrEnum

LARGEST = 65536
SHORT_S = 20.0


class Line(StrEnum):
    """What becomes of a request."""

    WHOLE = "whole"
    CUT = "cut"
    ANSWERS_LOST = "answers lost"


class Lossy:
    """Every connection carries one request. A form whose answer is lost was taken in whole by then."""

    def __init__(self, port: int) -> None:
        self._to = ("127.0.0.1", port)
        self._line = Line.WHOLE
        self._open: set[socket.socket] = set()
        self.lost = 0
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listener.getsockname()[1]
        threading.Thread(target=self._listen, daemon=True).start()

    @property
    def is_whole(self) -> bool:
        return self._line is Line.WHOLE

    def become(self, line: Line) -> None:
        """From now on; a cut breaks off what is open, live streams too."""
        self._line = line
        if line is Line.CUT:
            for one in list(self._open):
                _close(one)

    def __enter__(self) -> Lossy:
        return self

    def __exit__(self, *_: object) -> None:
        self.become(Line.CUT)
        self._listener.close()

    def _listen(self) -> None:
        with suppress(OSError):
            while True:
                near, _ = self._listener.accept()
                threading.Thread(target=self._carry, args=(near,), daemon=True).start()

    def _carry(self, near: socket.socket) -> None:
        self._open.add(near)
        with suppress(OSError), near:
            near.settimeout(SHORT_S)
            asked = _request(near)
            if self._line is not Line.CUT and asked:
                self._pass_on(asked, near)
        self._open.discard(near)

    def _pass_on(self, asked: bytes, near: socket.socket) -> None:
        with socket.create_connection(self._to, SHORT_S) as far:
            far.sendall(asked)
            said = far.recv(LARGEST)
            if asked.startswith(b"POST ") and self._line is not Line.WHOLE:
                self.lost += 1
                return
            while said:
                near.sendall(said)
                said = far.recv(LARGEST)


def _request(near: socket.socket) -> bytes:
    """One whole request, asking for the connection to be closed after it."""
    data = b""
    while b"\r\n\r\n" not in data:
        more = near.recv(LARGEST)
        if not more:
            return b""
        data += more
    head, _, body = data.partition(b"\r\n\r\n")
    lines = [line for line in head.split(b"\r\n") if not line.lower().startswith(b"connection:")]
    length = next(
        (int(line.split(b":")[1]) for line in lines if line.lower().startswith(b"content-length:")), 0
    )
    while len(body) < length:
        body += near.recv(LARGEST)
    return b"\r\n".join([*lines, b"Connection: close", b"", b""]) + body


def _close(one: socket.socket) -> None:
    with suppress(OSError):
        one.shutdown(socket.SHUT_RDWR)
