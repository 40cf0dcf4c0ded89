"""One POST to a push service, with everything bounded: time, size of the answer, and where it goes.

Written on the standard library's client, since it must connect to the very number that was looked at, follow no
redirect, and end in time even where the other side sends a letter a minute.
"""

from __future__ import annotations

import http.client
import logging
import socket
import ssl
import threading
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from email.utils import parsedate_to_datetime
from queue import Empty, SimpleQueue

from service.alerts.push.endpoint import Endpoint, Resolve, addresses_of, read_endpoint, resolve
from service.clock import Clock, SystemClock
from service.errors import ShopError
from service.voice import say

log = logging.getLogger(__name__)

LONGEST_WAIT_S = 86400
MOST_CALLS = 4
"""So many may hang at once; a push service that hangs must not gather threads."""


@dataclass(frozen=True, slots=True)
class Reply:
    """How a push service answered. retry_after_s: asked to wait so long."""

    status: int
    retry_after_s: float | None = None


@dataclass(frozen=True, slots=True)
class NoReply:
    """There was no answer. sent: the message may have arrived all the same."""

    words: str
    sent: bool = False
    for_good: bool = False


@dataclass
class _Call:
    """A POST on a thread of its own, which can be broken off."""

    endpoint: Endpoint
    headers: Mapping[str, str]
    body: bytes
    answers: SimpleQueue[Reply | NoReply] = field(default_factory=SimpleQueue)
    sock: socket.socket | None = None
    sent: bool = False
    broken_off: bool = False
    lock: threading.Lock = field(default_factory=threading.Lock)

    def begin(self) -> None:
        """From here on it may arrive. What was broken off must not go out later, unknown to anybody."""
        with self.lock:
            if self.broken_off:
                raise ConnectionAbortedError
            self.sent = True

    def break_off(self, words: str) -> None:
        with self.lock:
            self.broken_off = True
            self.answers.put(NoReply(words, self.sent))
        if self.sock is not None:
            with suppress(OSError):  # the plain one below TLS: it wakes whoever waits there
                socket.socket.shutdown(self.sock, socket.SHUT_RDWR)


class Poster:
    """Sends to push services. loopback: for tests, to this machine too, and without encryption."""

    def __init__(
        self,
        time_out_s: float,
        loopback: bool = False,
        find: Resolve = resolve,
        clock: Clock | None = None,
        context: ssl.SSLContext | None = None,
    ) -> None:
        self.loopback = loopback
        self.time_out_s, self._find = time_out_s, find
        self._clock = clock or SystemClock()
        self._context = context
        self._running: dict[int, _Call] = {}
        self._closed = False

    def post(self, url: str, headers: Mapping[str, str], body: bytes) -> Reply | NoReply:
        """Never raises, and comes back within the time-out."""
        if self._closed or len(self._running) >= MOST_CALLS:
            return NoReply(say("still busy with the messages before"))
        try:
            call = _Call(read_endpoint(url, self.loopback), headers, body)
        except ShopError as error:
            return NoReply(error.message, for_good=True)
        self._running[id(call)] = call
        threading.Thread(target=self._run, args=(call,), name="push", daemon=True).start()
        try:
            return call.answers.get(timeout=self.time_out_s)
        except Empty:
            call.break_off(say("no answer within {time_out_s:g} s", time_out_s=self.time_out_s))
            return call.answers.get()

    def close(self) -> None:
        """Let go of everything that is being sent."""
        self._closed = True
        for call in list(self._running.values()):
            call.break_off(say("broken off: coatbell stops"))

    def _run(self, call: _Call) -> None:
        try:
            call.answers.put(self._reached(call))
        except ShopError as error:
            call.answers.put(NoReply(error.message, for_good=True))
        except (OSError, http.client.HTTPException, ValueError) as error:  # its text may hold the address
            log.info("a push got no answer: %s", type(error).__name__)
            words = say("the answer broke off") if call.sent else say("nobody answered there")
            call.answers.put(NoReply(words, call.sent))
        finally:
            if call.sock is not None:
                call.sock.close()
            self._running.pop(id(call), None)

    def _reached(self, call: _Call) -> Reply:
        numbers = addresses_of(call.endpoint, self.loopback, self._find)
        self._connect(call, numbers)
        connection = http.client.HTTPConnection(call.endpoint.host, call.endpoint.port)
        connection.default_port = 443 if call.endpoint.encrypted else 80  # left out of the Host header
        connection.sock = call.sock
        call.begin()
        connection.request("POST", call.endpoint.path, call.body, dict(call.headers))
        answer = connection.getresponse()  # its head only: nobody needs what else it says
        return Reply(answer.status, self._wait(answer.getheader("Retry-After")))

    def _connect(self, call: _Call, numbers: list[str]) -> None:
        """Try one number after the other, as a machine without IPv6 must."""
        error: OSError = ConnectionRefusedError()
        for number in numbers:
            try:
                self._connect_to(call, number, self.time_out_s / len(numbers))
                return
            except OSError as problem:
                error = problem
        raise error

    def _connect_to(self, call: _Call, number: str, time_out_s: float) -> None:
        call.sock = socket.create_connection((number, call.endpoint.port), time_out_s)
        call.sock.settimeout(2 * self.time_out_s)  # whoever waits breaks it off before, and says so
        if call.endpoint.encrypted:
            context = self._context or ssl.create_default_context()
            secured = context.wrap_socket(
                call.sock, server_hostname=call.endpoint.host, do_handshake_on_connect=False
            )
            call.sock = secured
            secured.do_handshake()

    def _wait(self, written: str | None) -> float | None:
        """Seconds or a date (RFC 9110 section 10.2.3); None: neither."""
        if written is None:
            return None
        try:
            wait_s = int(written) if written.isascii() and written.isdigit() else self._until(written)
        except (ValueError, TypeError, OverflowError):
            return None
        return float(min(max(wait_s, 0), LONGEST_WAIT_S))

    def _until(self, date: str) -> float:
        return (parsedate_to_datetime(date) - self._clock.now()).total_seconds()
