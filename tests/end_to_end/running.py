"""A real coatbell in a process of its own, for tests from the outside: pages, JSON, MQTT and messages all real."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import Any
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import paho.mqtt.publish as publish

from tests.ports import free_port

ROOT = Path(__file__).parents[2]
UP_WITHIN_S = 120.0


def wait_for(what: Callable[[], Any], seconds: float = 45.0, told: str = "it did not happen") -> Any:
    """Ask again and again until the answer is true; its value."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        answer = what()
        if answer:
            return answer
        time.sleep(0.1)
    raise AssertionError(f"{told} within {seconds:g} s")


@dataclass
class Answer:
    status: int
    body: Any


@dataclass
class Running:
    """One running service. `ask` and `tell` speak JSON with it; `send` is a sensor."""

    folder: Path
    arguments: tuple[str, ...] = ()
    port: int = field(default_factory=free_port)
    broker_port: int = field(default_factory=free_port)
    process: subprocess.Popen[str] | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def log(self) -> str:
        return (self.folder / "log.txt").read_text()

    def start(self) -> None:
        command = [sys.executable, "-m", "service.main", "--port", str(self.port)]
        command += [
            "--broker-port",
            str(self.broker_port),
            "--data",
            str(self.folder / "data"),
            *self.arguments,
        ]
        with (self.folder / "log.txt").open("a") as log:
            self.process = subprocess.Popen(
                command,
                cwd=self.folder,
                stdout=log,
                stderr=subprocess.STDOUT,
                text=True,
                env={**os.environ, "PYTHONPATH": str(ROOT)},
            )
        wait_for(self._is_up, UP_WITHIN_S, "coatbell did not come up")

    def _is_up(self) -> bool:
        assert self.process is not None
        assert self.process.poll() is None, f"coatbell ended at once:\n{self.log}"
        try:
            return self.ask("/api/health").status == 200
        except OSError:
            return False

    def stop(self) -> float:
        """Ask it to end; how many seconds that took."""
        assert self.process is not None
        began = time.monotonic()
        self.process.send_signal(signal.SIGTERM)
        assert self.process.wait(20) == 0, self.log
        return time.monotonic() - began

    def kill(self) -> None:
        """The power fails."""
        assert self.process is not None
        self.process.kill()
        self.process.wait(20)

    def ask(self, path: str) -> Answer:
        return _answer(Request(self.url + path))

    def tell(self, path: str, told: dict[str, Any], method: str = "POST", key: str | None = None) -> Answer:
        headers = {"Content-Type": "application/json", "Idempotency-Key": key or uuid.uuid4().hex}
        return _answer(Request(self.url + path, json.dumps(told).encode(), headers, method=method))

    def send(self, topic: str, payload: str, retain: bool = False) -> None:
        publish.single(
            topic,
            payload,
            qos=1,
            retain=retain,
            hostname="127.0.0.1",
            port=self.broker_port,
            client_id="bench",
        )


def _answer(request: Request) -> Answer:
    try:
        with urlopen(request, timeout=60) as response:
            return Answer(response.status, json.loads(response.read() or b"null"))
    except HTTPError as error:
        return Answer(error.code, json.loads(error.read() or b"null"))


@contextmanager
def running(folder: Path, *arguments: str, **more: Any) -> Iterator[Running]:
    """A service that runs while the context lasts, and is ended whatever happens."""
    service = Running(folder, arguments, **more)
    try:
        service.start()
        yield service
    finally:
        if service.process is not None and service.process.poll() is None:
            service.process.kill()
            service.process.wait(20)


def settings(folder: Path, **files: str) -> Path:
    """A folder of a shop's own settings files."""
    own = folder / "settings"
    own.mkdir(exist_ok=True)
    for name, text in files.items():
        (own / f"{name}.toml").write_text(text)
    return own


QUICK_RECIPE = """
name = "quick"
title = "Quick, for trying out"
[[steps]]
step = "coat"
kind = "prime"
tank = "white"
thickness = "0.2 mm"
ready_saturation = 0.99
least_wait = "{wait}"
[[steps]]
step = "coat"
kind = "backup"
tank = "grey"
thickness = "1.1 mm"
ready_saturation = 0.35
[[steps]]
step = "coat"
kind = "seal"
tank = "grey"
thickness = "0.3 mm"
[[steps]]
step = "final dry"
water_limit = "2 %"
least_wait = "24 h"
"""


def set_up_shop(service: Running, wait: str = "0 s") -> int:
    """Site, room, a sensor that speaks and has its place, a quick recipe; the room's number."""
    site = {"name": "Saltmarsh Bronze", "altitude": "4 m", "time_zone": "Europe/London", "units": "metric"}
    assert service.tell("/api/site", site, "PUT").status == 200
    room = service.tell("/api/rooms", {"name": "Shell room"})
    assert room.status == 201, room.body
    breathe(service)
    wait_for(
        lambda: any(s["name"] == "bench" for s in service.ask("/api/sensors").body),
        told="no sensor was heard",
    )
    placed = service.tell("/api/sensors/bench", {"room_id": room.body["id"]}, "PUT")
    assert placed.status == 200, placed.body
    kept = service.tell("/api/recipes", {"toml": QUICK_RECIPE.format(wait=wait)})
    assert kept.status == 201, kept.body
    wait_for(lambda: _air_known(service), told="the air was not shown")
    return int(room.body["id"])


def _air_known(service: Running) -> bool:
    return all(r["temperature_k"] is not None for r in service.ask("/api/board").body["rooms"])


def breathe(service: Running, temperature_c: float = 21.0, humidity: float = 50.0) -> None:
    """The bench sensor sends the room's air."""
    service.send("shop/bench/air", json.dumps({"temperature": temperature_c, "humidity": humidity}))


def hang_up(service: Running, room_id: int, name: str = "Avocet", **more: Any) -> int:
    """Hang up a mould on the quick recipe; its number."""
    zone = {"name": "body", "kind": "open face", "height": "30 cm", "width": "20 cm"}
    told = {"name": name, "room_id": room_id, "recipe": "quick", "hand": "bench 1", "zones": [zone], **more}
    answer = service.tell("/api/moulds", told)
    assert answer.status == 201, answer.body
    return int(answer.body["id"])


class Phone:
    """A local HTTP server that takes messages, as a push gateway would. `refuse`: so many are turned away first."""

    def __init__(self, refuse: int = 0) -> None:
        self.messages: list[dict[str, Any]] = []
        self.refused = 0
        phone = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers["Content-Length"]))
                if phone.refused < refuse:
                    phone.refused += 1
                    self.send_response(503)
                else:
                    phone.messages.append(json.loads(body))
                    self.send_response(200)
                self.end_headers()

            def log_message(self, format: str, *args: object) -> None:
                return

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._thread = Thread(target=self._server.serve_forever, daemon=True)
        self._thread.start()
        self.port = self._server.server_port

    @property
    def titles(self) -> list[str]:
        return [message["title"] for message in self.messages]

    @property
    def alerts(self) -> str:
        """An alerts.toml that tells this phone, at the moment a coat is ready and not before."""
        return f"""
[next_dip]
early = "0 s"
[sending]
first_retry = "1 s"
[[places]]
name = "phone"
send_to = "json://127.0.0.1:{self.port}"
"""

    def close(self) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join(5)
