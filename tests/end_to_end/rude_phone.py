"""A receiver of messages that misbehaves by a plan: hangs, stumbles, asks to wait, or stores and breaks off."""

from __future__ import annotations

import json
import random
import socket
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from enum import StrEnum
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Event, Lock, Thread
from typing import Any


class Mood(StrEnum):
    """What it does with a message."""

    TAKES = "stores it and says 200"
    HANGS = "says nothing until the other side gives up"
    HANGS_UP = "breaks off before it stored anything"
    STUMBLES = "says 500, nothing stored"
    ASKS_TO_WAIT = "says 429, nothing stored"
    FORGETS_TO_SAY = "stores it and breaks off"
    STUMBLES_AFTER = "stores it and says 500"


STORES = (Mood.TAKES, Mood.FORGETS_TO_SAY, Mood.STUMBLES_AFTER)
DECK = (*Mood, Mood.TAKES, Mood.TAKES)
"""Drawn one by one, and shuffled anew when all are out: so each comes soon."""


@dataclass
class RudePhone:
    """`stored`: what a person would have seen, in order. `rude` False: it takes everything from now on."""

    seed: int
    rude: bool = True
    stored: list[dict[str, Any]] = field(default_factory=list)
    moods: Counter[Mood] = field(default_factory=Counter)
    port: int = 0

    def __post_init__(self) -> None:
        self._random, self._lock, self._let_go = random.Random(self.seed), Lock(), Event()
        self._deck: list[Mood] = []

    def take(self, message: dict[str, Any]) -> Mood:
        with self._lock:
            mood = self._draw() if self.rude else Mood.TAKES
            self.moods[mood] += 1
            if mood in STORES:
                self.stored.append(message)
        if mood is Mood.HANGS:
            self._let_go.wait(20)
        return mood

    def _draw(self) -> Mood:
        if not self._deck:
            self._deck = self._random.sample(DECK, len(DECK))
        return self._deck.pop()

    @property
    def keys(self) -> Counter[str]:
        with self._lock:
            return Counter(message["key"] for message in self.stored)

    def let_go(self) -> None:
        self._let_go.set()


@contextmanager
def rude_phone(seed: int) -> Iterator[RudePhone]:
    """It listens on loopback while the context lasts."""
    phone = RudePhone(seed)
    server = ThreadingHTTPServer(("127.0.0.1", 0), _handler(phone))
    server.daemon_threads = True
    phone.port = server.server_port
    thread = Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    try:
        yield phone
    finally:
        phone.let_go()
        server.shutdown()
        server.server_close()
        thread.join(5)


def _handler(phone: RudePhone) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            mood = phone.take(json.loads(self.rfile.read(int(self.headers["Content-Length"]))))
            if mood in (Mood.HANGS, Mood.HANGS_UP, Mood.FORGETS_TO_SAY):
                self.close_connection = True
                self.connection.shutdown(socket.SHUT_RDWR)
                return
            status = {Mood.TAKES: 200, Mood.ASKS_TO_WAIT: 429}.get(mood, 500)
            self.send_response(status)
            if mood is Mood.ASKS_TO_WAIT:
                self.send_header("Retry-After", "1")
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, format: str, *args: object) -> None:
            return

        def handle(self) -> None:
            try:
                super().handle()
            except OSError:  # the other side gave up first
                self.close_connection = True

        def finish(self) -> None:
            try:
                super().finish()
            except OSError:
                self.close_connection = True

    return Handler
