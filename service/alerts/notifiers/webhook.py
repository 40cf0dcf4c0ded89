"""Tells another program by HTTP: a POST of JSON with a key to know a repeat by, signed. README has the format.

By the standard library's client: it follows no redirect, tries nothing again by itself, and takes neither proxies nor
passwords from the machine's surroundings.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import http.client
import json
import logging
import socket
import ssl
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from urllib.parse import quote, unquote, urlsplit

from service.alerts.notifiers.bounded import Bounded
from service.alerts.notifiers.http_answers import judge, retry_after_s
from service.alerts.notifiers.notifier import Answer, Notice
from service.clock import Clock, SystemClock
from service.errors import BadInput
from service.records.outbox import NewAlert, Outcome
from service.voice import say

log = logging.getLogger(__name__)

VERSION = 1
SCHEME = "webhook+"
PLAIN, ENCRYPTED = f"{SCHEME}http", f"{SCHEME}https"
KEPT_IN_PATHS = "/%:@!$&'()*+,;=~-._?"
SIGNED_BY = "Coatbell-Signature"
SIGNED_AT = "Coatbell-Timestamp"


@dataclass(frozen=True, slots=True)
class Target:
    """Where to send, and what to sign with; both are secrets."""

    encrypted: bool
    host: str
    port: int | None
    path: str
    login: str | None
    secret: bytes


def is_webhook(address: str) -> bool:
    """Whether an address of alerts.toml is a webhook's."""
    return address.lower().startswith((f"{PLAIN}://", f"{ENCRYPTED}://"))


def read_target(name: str, address: str) -> Target:
    """``webhook+https://host/path#secret``. Raises BadInput, which does not repeat the address."""
    try:
        parts = urlsplit(address)
        host, port = parts.hostname, parts.port
    except ValueError:
        host, port = None, None
    if not host or not is_webhook(address) or any(c.isspace() or not c.isprintable() for c in address):
        raise BadInput(
            "address_unreadable",
            say("alerts.toml: the send_to of “{name}” is not the address of a webhook.", name=name),
            say("Write it like webhook+https://host/path#secret."),
            "send_to",
        )
    path = f"{parts.path or '/'}?{parts.query}" if parts.query else parts.path or "/"
    return Target(
        parts.scheme == ENCRYPTED,
        host,
        port,
        quote(path, safe=KEPT_IN_PATHS),
        _login(parts.username, parts.password),
        unquote(parts.fragment).encode(),
    )


def signature(secret: bytes, timestamp: int, body: bytes) -> str:
    """HMAC-SHA256 (RFC 2104) of timestamp, full stop and body, in hexadecimal digits."""
    return hmac.new(secret, b"%d." % timestamp + body, hashlib.sha256).hexdigest()


class WebhookNotifier:
    """`clock` says when it goes out; the signature's timestamp is by the machine's clock, `signed_at`, always."""

    def __init__(
        self,
        name: str,
        address: str,
        time_out_s: float,
        clock: Clock | None = None,
        signed_at: Callable[[], float] = time.time,
    ) -> None:
        self._target = read_target(name, address)
        self._name = name
        self._time_out_s = time_out_s
        self._clock = clock or SystemClock()
        self._signed_at = signed_at
        self._bounded = Bounded(name, time_out_s)
        self._call: Call | None = None

    def send(self, notice: Notice) -> Answer:
        body = json.dumps(_content(notice, self._clock.now()), ensure_ascii=False).encode()
        call = Call(self._target, self._time_out_s)
        answer = self._bounded.run(lambda: self._do(call, body, self._headers(notice, body)))
        if answer is not None:
            return answer
        call.break_off()
        return self._too_slow(call)

    def close(self) -> None:
        self._bounded.close()
        if self._call is not None:
            self._call.break_off()

    def _do(self, call: Call, body: bytes, headers: dict[str, str]) -> Answer:
        self._call = call
        try:
            return call.post(body, headers)
        except TimeoutError:  # the line's own patience ends at the same moment as the wait for this thread
            return self._too_slow(call)
        except (OSError, http.client.HTTPException):
            return call.unanswered(say("the connection broke"))
        except Exception as error:  # whatever it is, sending goes on; its text may hold the address
            log.warning("sending to %s failed: %s", self._name, type(error).__name__)
            return call.unanswered(say("sending stumbled; coatbell's log says over what"))

    def _too_slow(self, call: Call) -> Answer:
        log.warning("%s took longer than %g s to take a message", self._name, self._time_out_s)
        return call.unanswered(say("no answer within {time_out_s:g} s", time_out_s=self._time_out_s))

    def _headers(self, notice: Notice, body: bytes) -> dict[str, str]:
        headers = {
            "Content-Type": "application/json",
            "User-Agent": "coatbell",
            "Idempotency-Key": quote(notice.key, safe=KEPT_IN_PATHS + "#"),
            "Connection": "close",
        }
        if self._target.login is not None:
            headers["Authorization"] = self._target.login
        if self._target.secret:
            at = int(self._signed_at())
            headers |= {SIGNED_AT: str(at), SIGNED_BY: f"sha256={signature(self._target.secret, at, body)}"}
        return headers


class Call:
    """One POST. The answer's first lines are all that is read of it."""

    def __init__(self, target: Target, time_out_s: float) -> None:
        self._path = target.path
        self._line = _connection(target, time_out_s)
        self._lock = threading.Lock()
        self._begun = self._over = False

    def post(self, body: bytes, headers: dict[str, str]) -> Answer:
        """Raises what the connection raises, but says in words why none was made."""
        try:
            self._line.connect()
        except (OSError, UnicodeError) as error:
            return Answer(Outcome.UNREACHED, _no_connection(error))
        try:
            return (
                self._exchange(body, headers)
                if self._begin()
                else self.unanswered(say("nobody answers there"))
            )
        finally:
            self._line.close()

    def unanswered(self, words: str) -> Answer:
        """What to make of it where nothing came back: if nothing was sent, nothing can have arrived."""
        with self._lock:
            return Answer(Outcome.UNCLEAR if self._begun else Outcome.UNREACHED, words)

    def break_off(self) -> None:
        """Let go of a far end that does not come to a finish. What was not begun by now never will be."""
        with self._lock:
            self._over = True
        sock = self._line.sock
        if sock is not None:
            with suppress(OSError, ValueError):
                sock.shutdown(socket.SHUT_RDWR)

    def _begin(self) -> bool:
        with self._lock:
            self._begun = not self._over
            return self._begun

    def _exchange(self, body: bytes, headers: dict[str, str]) -> Answer:
        self._line.request("POST", self._path, body, headers)
        answer = self._line.getresponse()
        wait = retry_after_s(answer.getheader("Retry-After"), answer.getheader("Date"), datetime.now(UTC))
        return judge(answer.status, wait)


def _connection(target: Target, time_out_s: float) -> http.client.HTTPConnection:
    if target.encrypted:
        context = ssl.create_default_context()
        return http.client.HTTPSConnection(target.host, target.port, timeout=time_out_s, context=context)
    return http.client.HTTPConnection(target.host, target.port, timeout=time_out_s)


def _no_connection(error: OSError | UnicodeError) -> str:
    if isinstance(error, socket.gaierror | UnicodeError):
        return say("there is no machine of that name")
    if isinstance(error, ssl.SSLCertVerificationError):
        return say("its certificate cannot be trusted")
    if isinstance(error, ssl.SSLError):
        return say("it does not speak https")
    return say("nobody answers there")


def _login(user: str | None, password: str | None) -> str | None:
    """For the `Authorization` field (RFC 7617)."""
    if user is None:
        return None
    both = f"{unquote(user)}:{unquote(password or '')}"
    return f"Basic {base64.b64encode(both.encode()).decode()}"


def _content(notice: Notice, at: datetime) -> dict[str, Any]:
    return {
        "version": VERSION,
        "key": notice.key,
        "number": notice.number_shown,
        "attempt": notice.number,
        "repeat": notice.repeat,
        "kind": notice.kind,
        "title": notice.title,
        "body": notice.body,
        "at": _instant(at),
        "alerts": [_about(alert) for alert in notice.alerts],
    }


def _about(alert: NewAlert) -> dict[str, Any]:
    return {
        "key": alert.key,
        "kind": alert.kind,
        "subject": alert.subject,
        "mould_id": alert.mould_id,
        "since": _instant(alert.since),
        "dip_before": _instant(alert.dip_before),
        "tank": alert.tank,
        "link": alert.link,
    }


def _instant(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).isoformat().replace("+00:00", "Z")
