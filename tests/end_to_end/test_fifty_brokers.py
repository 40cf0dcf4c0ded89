"""Mosquitto is killed and started again fifty times while coats come ready and the phone misbehaves.

Every bell that was due arrives, a second copy only where it says so, and nothing is told that was not so.
"""

from __future__ import annotations

import os
import random
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.end_to_end.rude_phone import Mood, RudePhone, rude_phone
from tests.end_to_end.running import (
    Running,
    breathe,
    hang_up,
    running,
    set_up_shop,
    settings,
    wait_for,
)
from tests.end_to_end.test_broker_lost import broker_told
from tests.parts import need_program
from tests.ports import free_port

pytestmark = pytest.mark.mosquitto

KILLS, MOULDS = 50, 12
SEED = int(os.environ.get("COATBELL_TEST_SEED", "20261129"))
BIRDS = (
    "Avocet",
    "Curlew",
    "Dunlin",
    "Egret",
    "Godwit",
    "Knot",
    "Lapwing",
    "Plover",
    "Redshank",
    "Ruff",
    "Snipe",
    "Stint",
)


class Broker:
    """A real Mosquitto on loopback that forgets everything when it is killed."""

    def __init__(self, folder: Path, port: int) -> None:
        self._port = port
        self._process: subprocess.Popen[bytes] | None = None
        self._conf = folder / "mosquitto.conf"
        self._conf.write_text(f"listener {port} 127.0.0.1\nallow_anonymous true\nset_tcp_nodelay true\n")
        self.killed = 0

    def start(self) -> None:
        command = [need_program("mosquitto"), "-c", str(self._conf)]
        self._process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        wait_for(self._listens, 10, "Mosquitto did not start")

    def kill(self) -> None:
        assert self._process is not None
        self._process.kill()
        self._process.wait(10)
        self._process, self.killed = None, self.killed + 1

    def close(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.wait(10)

    def _listens(self) -> bool:
        try:
            with socket.create_connection(("127.0.0.1", self._port), 1):
                return True
        except OSError:
            return False


@contextmanager
def broker_at(folder: Path, port: int) -> Iterator[Broker]:
    broker = Broker(folder, port)
    try:
        broker.start()
        yield broker
    finally:
        broker.close()


def own_settings(folder: Path, broker_port: int, phone: RudePhone) -> Path:
    return settings(
        folder,
        site=f'[broker]\nkind = "external"\nport = {broker_port}\n[estimate]\nevery = "5 s"\n',
        alerts=f"""
[next_dip]
early = "0 s"
together_within = "0 s"
[sensors]
silent_for = "60 s"
[sending]
first_retry = "1 s"
longest_retry = "4 s"
time_out = "1 s"
[[places]]
name = "phone"
kinds = ["next dip due", "sensor silent", "room silent", "room out of limits", "too damp"]
send_to = "webhook+http://127.0.0.1:{phone.port}/"
""",
    )


def dip(service: Running, number: int) -> None:
    told = service.tell(f"/api/moulds/{number}/dips", {"tank": "white", "hand": "bench 1", "coat": 1})
    assert told.status == 201, told.body


def speak(service: Running) -> bool:
    """One reading, if the broker lives."""
    try:
        breathe(service, 21.0, 50.0)
    except OSError:
        return False
    return True


def bells(phone: RudePhone) -> dict[str, int]:
    """How often each mould's bell was stored, in whatever parcel."""
    found: dict[str, int] = {}
    for message in list(phone.stored):
        for alert in message["alerts"]:
            if message["kind"] == "next dip due":
                found[alert["subject"]] = found.get(alert["subject"], 0) + 1
    return found


def test_fifty_brokers_and_a_rude_phone(tmp_path: Path) -> None:
    need_program("mosquitto")
    chance, port = random.Random(SEED), free_port()
    with rude_phone(SEED) as phone, broker_at(tmp_path, port) as broker:
        own = own_settings(tmp_path, port, phone)
        with running(tmp_path, "--configs", str(own), broker_port=port) as service:
            room = set_up_shop(service, "4 s")
            waiting = [hang_up(service, room, name) for name in BIRDS]
            while broker.killed < KILLS:
                time.sleep(chance.uniform(0.05, 0.5))
                broker.kill()
                time.sleep(chance.uniform(0.0, 0.4))
                broker.start()
                speak(service)
                if waiting and broker.killed % (KILLS // MOULDS) == 0:
                    dip(service, waiting.pop(0))
            while waiting:
                dip(service, waiting.pop(0))
            wait_for(lambda: len(phone.moods) == len(Mood), 60, "the phone was not rude enough")
            phone.rude = False
            wait_for(lambda: set(bells(phone)) == set(BIRDS), 60, "bells are missing")
            wait_for(lambda: speak(service) and heard_just_now(service), 30, "no sensor is heard any more")
            wait_for(lambda: not broker_told(service), 60, "the board still misses the broker")
            moulds = {m["id"]: m["stage"] for m in service.ask("/api/moulds").body}
            told = service.ask("/api/alerts").body
            service.stop()
    assert broker.killed == KILLS
    assert set(moulds.values()) == {"ready"}
    check_what_was_received(phone, {alert["key"] for alert in told})


def heard_just_now(service: Running) -> bool:
    return any(s["name"] == "bench" and s["freshness"] == "fresh" for s in service.ask("/api/sensors").body)


def check_what_was_received(phone: RudePhone, known: set[str]) -> None:
    """Nothing invented, and every copy but the first says that it is one."""
    seen: set[str] = set()
    for message in phone.stored:
        assert message["kind"] in ("next dip due", "reminder"), message
        for alert in message["alerts"]:
            assert alert["key"] in known, f"nobody wrote this down: {alert}"
            assert alert["subject"] in BIRDS
            assert alert["key"] not in seen or message["repeat"], (
                f"a second copy that does not say so: {alert}"
            )
            seen.add(alert["key"])
