"""Hands that record all day, each press with a key of its own, pressed again with that key until it is answered."""

from __future__ import annotations

import hashlib
import io
import json
import logging
import random
import threading
import time
from contextlib import suppress
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException
from typing import Any

import paho.mqtt.publish as publish
from PIL import Image

PATIENCE_S = 5.0


@dataclass(frozen=True)
class Press:
    """One thing to record, under one key."""

    key: str
    path: str
    told: dict[str, Any]
    kind: str
    photo: bytes = b""


@dataclass
class Told:
    """What the hands know: what was acknowledged, what was refused, and what no answer came to yet."""

    acknowledged: dict[str, tuple[str, int | None]] = field(default_factory=dict)
    refused: dict[str, str] = field(default_factory=dict)
    unanswered: dict[str, Press] = field(default_factory=dict)
    pressed_again: int = 0
    moulds: list[int] = field(default_factory=list)
    gone: list[int] = field(default_factory=list)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def answered(self, press: Press, status: int, body: Any) -> None:
        with self.lock:
            self.unanswered.pop(press.key, None)
            if status >= 400:
                self.refused[press.key] = f"{press.path} {press.told}: {body}"
                return
            self.acknowledged[press.key] = (
                press.kind,
                None if press.kind == "mould" else int(body["number"]),
            )
            if press.kind == "mould":
                self.moulds.append(int(body["id"]))
            elif press.kind == "ended":
                self.moulds.remove(int(body["mould_id"]))
                self.gone.append(int(body["mould_id"]))


class Hand(threading.Thread):
    """One person at a bench. What is pressed comes from the seed and from what was acknowledged so far."""

    def __init__(self, name: str, seed: int, port: int, room_id: int, told: Told) -> None:
        super().__init__(name=name, daemon=True)
        self._dice = random.Random(seed)
        self._port, self._room_id, self._told = port, room_id, told
        self._count = 0
        self._mine: list[tuple[str, int]] = []
        self.ended = threading.Event()

    def run(self) -> None:
        while not self.ended.is_set():
            self._do(self._next())

    def _do(self, press: Press) -> None:
        with self._told.lock:
            self._told.unanswered[press.key] = press
        again = False
        while not self.ended.is_set():
            answer = self._send(press)
            if answer is not None and answer[0] < 500:
                self._told.answered(press, *answer)
                self._remember(press, *answer)
                return
            if not again:
                again, self._told.pressed_again = True, self._told.pressed_again + 1
            time.sleep(0.02)

    def _remember(self, press: Press, status: int, body: Any) -> None:
        if status < 400 and press.kind in ("note", "weight", "dip"):
            self._mine.append((press.kind, int(body["number"])))

    def _send(self, press: Press) -> tuple[int, Any] | None:
        """None: no answer came, and nobody knows whether it was recorded."""
        return send(self._port, press)

    def _next(self) -> Press:
        self._count += 1
        key, dice = f"{self.name}-{self._count:05d}", self._dice
        with self._told.lock:
            moulds = list(self._told.moulds)
        if len(moulds) < 3 or (len(moulds) < 5 and dice.random() < 0.05):
            return Press(key, "/api/moulds", self._mould(key), "mould")
        mould, said = dice.choice(moulds), {"hand": self.name}
        path = f"/api/moulds/{mould}"
        what = dice.choices(
            (
                "dip",
                "wires",
                "check",
                "note",
                "weight",
                "ended",
                "withdrawn",
                "corrected",
                "photo",
                "tank check",
                "result",
            ),
            (3, 2, 3, 5, 3, 0.8, 2, 3, 2, 2, 2),
        )[0]
        if what == "tank check":
            body = {"tank": dice.choice(["white", "grey"]), "flow": f"{dice.uniform(10, 20):.1f} s", **said}
            return Press(key, "/api/tanks/checks", body, what)
        if what == "photo":
            return Press(key, f"{path}/photos", {"text": key, **said}, what, _picture(key))
        if what == "result":
            return self._result(key, said)
        if what in ("withdrawn", "corrected") and self._mine:
            return self._put_right(key, what, said)
        told: dict[str, tuple[str, dict[str, Any]]] = {
            "dip": ("dips", {"tank": dice.choice(["white", "grey"]), "early_reason": "the power may fail"}),
            "wires": ("wires", {"text": key}),
            "check": ("checks", {"verdict": dice.choice(["still damp", "dry"])}),
            "weight": ("weights", {"mass": f"{dice.uniform(2, 9):.3f} kg"}),
            "ended": ("end", {"outcome": "dewaxed", "text": key}),
        }
        place, body = told.get(what, ("notes", {"text": f"note {key}"}))
        return Press(key, f"{path}/{place}", {**body, **said}, what if what in told else "note")

    def _result(self, key: str, said: dict[str, Any]) -> Press:
        """How one that left came out; where none waits for it, a check of a tank."""
        with self._told.lock:
            mould = self._told.gone.pop() if self._told.gone else None
        if mould is None:
            return Press(key, "/api/tanks/checks", {"tank": "white", "text": key, **said}, "tank check")
        failed = {"verdict": "failed", "failings": [{"fault": "fin", "zone": "body"}]}
        body = failed if self._dice.random() < 0.5 else {"verdict": "sound"}
        return Press(key, f"/api/moulds/{mould}/result", {**body, **said}, "result")

    def _put_right(self, key: str, what: str, said: dict[str, Any]) -> Press:
        kind, number = self._mine.pop(self._dice.randrange(len(self._mine)))
        if what == "withdrawn":
            return Press(key, f"/api/facts/{number}/withdraw", {"text": key, **said}, "withdrawn")
        change = {"note": {"text": f"put right {key}"}, "weight": {"mass": "3 kg"}, "dip": {"tank": "blue"}}[
            kind
        ]
        return Press(key, f"/api/facts/{number}/correct", {**change, **said}, kind)

    def _mould(self, key: str) -> dict[str, Any]:
        zone = {"name": "body", "kind": "open face", "height": "30 cm", "width": "20 cm"}
        pocket = {
            "name": "hollow",
            "kind": "pocket",
            "height": "8 cm",
            "width": "6 cm",
            "depth": "9 cm",
            "mouth": "3 cm",
        }
        return {
            "name": f"Avocet {key}",
            "room_id": self._room_id,
            "recipe": "many",
            "hand": self.name,
            "zones": [zone, pocket],
        }


def send(port: int, press: Press, method: str = "POST") -> tuple[int, Any] | None:
    connection = HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    try:
        kind, body = _form(press) if press.photo else ("application/json", json.dumps(press.told).encode())
        headers = {"Content-Type": kind, "Idempotency-Key": press.key}
        connection.request(method, press.path, body, headers)
        answer = connection.getresponse()
        return answer.status, json.loads(answer.read())
    except (OSError, HTTPException, ValueError):
        return None
    finally:
        connection.close()


def _picture(key: str) -> bytes:
    """Another one for each key."""
    colour = hashlib.sha256(key.encode()).digest()[:3]
    file = io.BytesIO()
    Image.new("RGB", (64, 48), (colour[0], colour[1], colour[2])).save(file, "JPEG")
    return file.getvalue()


def _form(press: Press) -> tuple[str, bytes]:
    edge = b"----the-end-of-a-part"
    parts = [
        b'Content-Disposition: form-data; name="%s"\r\n\r\n%s' % (name.encode(), str(value).encode())
        for name, value in press.told.items()
    ]
    head = (
        b'Content-Disposition: form-data; name="photo"; filename="p.jpg"\r\nContent-Type: image/jpeg\r\n\r\n'
    )
    body = b"".join(b"--" + edge + b"\r\n" + part + b"\r\n" for part in [*parts, head + press.photo])
    return f"multipart/form-data; boundary={edge.decode()}", body + b"--" + edge + b"--\r\n"


class Sensor(threading.Thread):
    """A sensor of the shell room that speaks over MQTT, whether anybody hears it or not."""

    def __init__(self, seed: int, broker_port: int) -> None:
        super().__init__(name="sensor", daemon=True)
        self._dice, self._port = random.Random(seed), broker_port
        self.ended = threading.Event()

    def run(self) -> None:
        logging.getLogger("paho").setLevel(logging.CRITICAL)  # that nobody answers is no news here
        while not self.ended.wait(0.1):
            air = {
                "temperature": round(self._dice.uniform(20.8, 21.2), 2),
                "humidity": round(self._dice.uniform(49, 51), 1),
            }
            with suppress(Exception):
                publish.single(
                    "shop/bench/air",
                    json.dumps(air),
                    qos=1,
                    hostname="127.0.0.1",
                    port=self._port,
                    client_id="bench",
                    keepalive=5,
                )


MANY_COATS = """
name = "many"
title = "Many thin coats"
{coats}
[[steps]]
step = "final dry"
water_limit = "2 %"
least_wait = "24 h"
"""
COAT = """
[[steps]]
step = "coat"
kind = "{kind}"
tank = "{tank}"
thickness = "0.4 mm"
"""


def many_coats(count: int = 12) -> str:
    """A recipe that no load comes to the end of soon."""
    coats = [
        COAT.format(kind="prime" if n < 2 else "backup", tank="white" if n < 2 else "grey")
        for n in range(count)
    ]
    return MANY_COATS.format(coats="".join(coats))
