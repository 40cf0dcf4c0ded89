"""A real Mosquitto stopped and started under a running service: told, survived, and no old air taken for new."""

from __future__ import annotations

import json
import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.end_to_end.running import Running, breathe, running, set_up_shop, settings, wait_for
from tests.parts import need_program
from tests.ports import free_port

pytestmark = pytest.mark.mosquitto


@contextmanager
def mosquitto(folder: Path, port: int) -> Iterator[None]:
    """A real broker on loopback that keeps what is retained."""
    program = need_program("mosquitto")
    conf = folder / "mosquitto.conf"
    lines = [f"listener {port} 127.0.0.1", "allow_anonymous true", "set_tcp_nodelay true"]
    if os.geteuid() == 0:
        lines.append("user root")  # it would give up root, and could not write its memory here
    conf.write_text("\n".join([*lines, "persistence true", f"persistence_location {folder}/", ""]))
    process = subprocess.Popen(
        [program, "-c", str(conf)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        yield
    finally:
        process.terminate()
        process.wait(10)


def broker_told(service: Running) -> list[str]:
    return [t["words"] for t in service.ask("/api/board").body["troubles"] if t["code"] == "broker_down"]


def newest(service: Running) -> float:
    (sensor,) = [s for s in service.ask("/api/sensors").body if s["name"] == "bench"]
    return float(next(v["value"] for v in sensor["values"] if v["quantity"] == "air_temperature"))


def value_of(service: Running, temperature_c: float) -> bool:
    return abs(newest(service) - 273.15 - temperature_c) < 0.05


def test_mosquitto_stopped_and_started_in_mid_run(tmp_path: Path) -> None:
    need_program("mosquitto")
    port = free_port()
    own = settings(tmp_path, site=f'[broker]\nkind = "external"\nport = {port}\n[estimate]\nevery = "5 s"\n')
    with running(tmp_path, "--configs", str(own), broker_port=port) as service:
        wait_for(lambda: broker_told(service), told="the missing broker was not told")
        with mosquitto(tmp_path, port):
            wait_for(lambda: not broker_told(service), 40, "the broker was not found")
            set_up_shop(service)
            service.send("shop/attic/air", json.dumps({"temperature": 5.0, "humidity": 90.0}), retain=True)
            wait_for(
                lambda: len(service.ask("/api/sensors").body) == 2, told="the second sensor was not heard"
            )
            breathe(service, 20.5)
            wait_for(lambda: value_of(service, 20.5), told="the reading did not come")
        wait_for(lambda: broker_told(service), 40, "the lost broker was not told")
        heard = {s["name"]: s["last_good"] for s in service.ask("/api/sensors").body}
        with mosquitto(tmp_path, port):
            wait_for(lambda: not broker_told(service), 60, "the broker was not found again")
            breathe(service, 21.5)
            wait_for(lambda: value_of(service, 21.5), told="nothing was heard after the broker came back")
            assert any(r["reason"] == "retained" for r in service.ask("/api/rejects").body), "it kept nothing"
            after = {s["name"]: s["last_good"] for s in service.ask("/api/sensors").body}
            assert after["bench"] > heard["bench"]
            assert after["attic"] == heard["attic"], "the broker's memory was taken for a new reading"
