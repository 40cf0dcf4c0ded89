"""Rings one browser through its push service (RFC 8030)."""

from __future__ import annotations

import logging
from collections.abc import Callable, Collection
from dataclasses import dataclass

from service.alerts.notifiers.notifier import TAKEN, Answer, Notice
from service.alerts.push.base64url import to_bytes
from service.alerts.push.encrypt import MOST_BYTES, encrypt
from service.alerts.push.payload import Payload, payload_of
from service.alerts.push.post import NoReply, Poster, Reply
from service.alerts.push.vapid import PushKey
from service.clock import Clock
from service.errors import ShopError
from service.records.outbox import Outcome
from service.records.ways_store import PushSubscription
from service.voice import later, say

log = logging.getLogger(__name__)

TAKEN_CODES = (200, 201, 202)
GONE_CODES = (404, 410)
TOO_LARGE = 413
MANY_REQUESTS, AWAY = 429, 503
REFUSED_CODES = (401, 403)
SHORT_BYTES = 1024
SWITCH_ON_ANEW = later("switch it on again on that phone's page “Messages”")


@dataclass(frozen=True)
class Sender:
    """What all browsers have in common. key: made when it is first asked for. clock: real time.

    contact: who answers for this shop, told to push services.
    """

    poster: Poster
    key: Callable[[], PushKey]
    contact: str
    clock: Clock
    urgent: Collection[str] = ()

    def push(self, to: PushSubscription, payload: Payload, most_bytes: int) -> Reply | NoReply:
        """Raises ShopError where there is no key, ValueError where the browser's own are none."""
        sealed = encrypt(payload.data(most_bytes), to_bytes(to.p256dh), to_bytes(to.auth))
        headers = {
            **payload.headers,
            "Authorization": self.key().authorization(to.endpoint, self.contact, self.clock.now()),
            "Content-Encoding": "aes128gcm",
            "Content-Type": "application/octet-stream",
        }
        return self.poster.post(to.endpoint, headers, sealed)


class PushNotifier:
    """Rings one browser. gone: called when its push service knows it no more.

    After 413 it tries once more, shorter, with the time-out anew.
    """

    def __init__(
        self, to: PushSubscription, sender: Sender, gone: Callable[[PushSubscription], None]
    ) -> None:
        self._to, self._sender, self._gone = to, sender, gone

    def send(self, notice: Notice) -> Answer:
        try:
            return self._sent(payload_of(notice, self._sender.urgent, to_bytes(self._to.auth)))
        except ShopError as error:
            return Answer(Outcome.UNREACHED, f"{error.message} {error.todo}")
        except ValueError:
            return Answer(
                Outcome.REFUSED,
                say("its keys are damaged: {switch_on_anew}", switch_on_anew=say(SWITCH_ON_ANEW)),
            )

    def close(self) -> None:
        self._sender.poster.close()

    def _sent(self, payload: Payload) -> Answer:
        reply = self._sender.push(self._to, payload, MOST_BYTES)
        if isinstance(reply, Reply) and reply.status == TOO_LARGE:
            reply = self._sender.push(self._to, payload, SHORT_BYTES)
        if isinstance(reply, NoReply):
            return _unanswered(reply)
        if reply.status in GONE_CODES:
            self._gone(self._to)
        return _answered(reply)


def _unanswered(reply: NoReply) -> Answer:
    if reply.for_good:
        return Answer(Outcome.REFUSED, reply.words)
    return Answer(Outcome.UNCLEAR if reply.sent else Outcome.UNREACHED, reply.words)


def _answered(reply: Reply) -> Answer:
    """What each status means: RFC 8030 sections 5 and 7.3, RFC 8292 section 4.2, RFC 6585 section 4."""
    if reply.status in TAKEN_CODES:
        return TAKEN
    if reply.status in GONE_CODES:
        return Answer(
            Outcome.REFUSED,
            say("that browser takes no more messages: {switch_on_anew}", switch_on_anew=say(SWITCH_ON_ANEW)),
        )
    if reply.status in REFUSED_CODES:
        words = say(
            "its push service does not know this shop's key, or finds the clock wrong: {switch_on_anew}",
            switch_on_anew=say(SWITCH_ON_ANEW),
        )
        return Answer(Outcome.REFUSED, words)
    if reply.status == TOO_LARGE:
        return Answer(Outcome.REFUSED, say("its push service finds every message too long"))
    if reply.status == MANY_REQUESTS or (reply.status == AWAY and reply.retry_after_s is not None):
        return Answer(Outcome.LATER, say("its push service asked to wait"), reply.retry_after_s)
    return Answer(Outcome.UNCLEAR, say("its push service answered {status}", status=reply.status))
