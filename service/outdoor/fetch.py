"""One GET of the address that was given, with everything bounded: time, size, and where it goes.

Written on the standard library's client: it must follow no redirect, and end in time even where the other side sends a
letter a minute. Nothing is sent but the question itself.
"""

from __future__ import annotations

import http.client
import socket
import ssl
import threading
from contextlib import closing, suppress
from dataclasses import dataclass
from urllib.parse import SplitResult, urlsplit

from service.errors import Unavailable
from service.voice import say

TIME_OUT_S = 20.0
MOST_BYTES = 2_000_000
CHUNK = 65536
NOT_MODIFIED = 304


@dataclass(frozen=True, slots=True)
class Fetched:
    """What came, and by what the other side knows it again."""

    body: bytes
    etag: str = ""
    last_modified: str = ""


def fetch(
    url: str, known: Fetched | None = None, time_out_s: float = TIME_OUT_S, most_bytes: int = MOST_BYTES
) -> Fetched | None:
    """None: it is still as `known`. Raises Unavailable in words, which hold no more of the address than its host."""
    target = urlsplit(url)
    try:
        with (
            closing(_connection(target, time_out_s)) as connection,
            _Watched(connection, time_out_s) as watched,
        ):
            return _in_time(watched, target, known, most_bytes)
    except (OSError, http.client.HTTPException, ValueError) as error:
        raise _broken_off(target, error) from error


def _in_time(
    watched: _Watched, target: SplitResult, known: Fetched | None, most_bytes: int
) -> Fetched | None:
    """What is broken off looks like an end, or like a fault of the other side."""
    try:
        watched.connect()
        found = _answer(watched.connection, target, known, most_bytes)
    except (OSError, http.client.HTTPException) as error:
        if watched.late.is_set():
            raise TimeoutError from error
        raise
    if watched.late.is_set():
        raise TimeoutError
    return found


class _Watched:
    """A connection that is broken off when its time is over: a letter now and then is no answer."""

    def __init__(self, connection: http.client.HTTPConnection, time_out_s: float) -> None:
        self.connection, self.late = connection, threading.Event()
        self._sock: socket.socket | None = None
        self._timer = threading.Timer(time_out_s, self._break_off)
        self._timer.daemon = True

    def __enter__(self) -> _Watched:
        self._timer.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._timer.cancel()

    def connect(self) -> None:
        self.connection.connect()
        self._sock = self.connection.sock  # the library lets go of it once the answer's head is there
        if self.late.is_set():  # while there was nothing to break off yet
            raise TimeoutError

    def _break_off(self) -> None:
        self.late.set()
        sock: socket.socket | None = self._sock or self.connection.sock
        if sock is not None:
            with suppress(OSError):  # the plain one below TLS: it wakes whoever waits there
                socket.socket.shutdown(sock, socket.SHUT_RDWR)


def _connection(target: SplitResult, time_out_s: float) -> http.client.HTTPConnection:
    """Not connected yet. Raises ValueError for a port that cannot be."""
    host = target.hostname or ""
    if target.scheme == "https":
        context = ssl.create_default_context()
        return http.client.HTTPSConnection(host, target.port, timeout=time_out_s, context=context)
    return http.client.HTTPConnection(host, target.port, timeout=time_out_s)


def _answer(
    connection: http.client.HTTPConnection, target: SplitResult, known: Fetched | None, most_bytes: int
) -> Fetched | None:
    path = f"{target.path or '/'}{f'?{target.query}' if target.query else ''}"
    connection.request("GET", path, headers=_headers(known))
    with connection.getresponse() as answer:
        if answer.status == NOT_MODIFIED and known is not None:
            return None
        if answer.status != http.client.OK:
            raise _refused(target, answer)
        body = _body(answer, target, most_bytes)
        return Fetched(body, answer.getheader("ETag", ""), answer.getheader("Last-Modified", ""))


def _headers(known: Fetched | None) -> dict[str, str]:
    asked = {
        "Accept": "application/json",
        "Accept-Encoding": "identity",
        "User-Agent": "coatbell",
        "Connection": "close",
    }
    if known is not None and known.etag:
        asked["If-None-Match"] = known.etag
    if known is not None and known.last_modified:
        asked["If-Modified-Since"] = known.last_modified
    return asked


def _body(answer: http.client.HTTPResponse, target: SplitResult, most_bytes: int) -> bytes:
    promised, body = answer.length, bytearray()
    while chunk := answer.read(CHUNK):
        body += chunk
        if len(body) > most_bytes:
            raise Unavailable(
                "outdoor_too_large",
                say("{host} sends more than {size:.0f} MB.", host=target.hostname, size=most_bytes / 1e6),
                say("Ask for fewer days, or for fewer kinds of numbers."),
                "url",
            )
    if promised is not None and len(body) < promised:
        raise http.client.IncompleteRead(bytes(body))
    return bytes(body)


def _refused(target: SplitResult, answer: http.client.HTTPResponse) -> Unavailable:
    if 300 <= answer.status < 400:
        elsewhere = urlsplit(answer.getheader("Location", "")).hostname or target.hostname
        return Unavailable(
            "outdoor_elsewhere",
            say(
                "{host} points on to {elsewhere}, and only the address that was given is asked.",
                host=target.hostname,
                elsewhere=elsewhere,
            ),
            say("Open it in a browser, and take the address it ends at."),
            "url",
        )
    return Unavailable(
        "outdoor_refused",
        say(
            "{host} answers {status} {reason}.",
            host=target.hostname,
            status=answer.status,
            reason=answer.reason,
        ),
        say("Check the address, and the key in it if there is one."),
        "url",
    )


def _broken_off(target: SplitResult, error: Exception) -> Unavailable:
    if isinstance(error, TimeoutError):
        message = say("{host} did not answer in time.", host=target.hostname)
    elif isinstance(error, ssl.SSLError):
        message = say("{host} could not show that it is what it is called.", host=target.hostname)
    else:
        message = say("{host} could not be reached, or the answer broke off.", host=target.hostname)
    return Unavailable("outdoor_unreached", message, say("It is tried again by itself."), "url")
