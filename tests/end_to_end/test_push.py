"""The whole service rings a browser: switched on over its API, tested, let go; and its key is in no back-up."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.request import Request, urlopen

import pytest

from service.alerts.push import desk
from service.alerts.push.post import Poster
from service.alerts.push.vapid import KEY_FILE
from service.clock import FakeClock
from service.keep_copy import keep_copy
from service.main import Coatbell
from service.restore import back_up_folder
from service.settings import load_settings
from tests.ports import free_port
from tests.service.alerts.push.service_near import Browser, ServiceNear
from tests.service.test_main import NOON

RULES = """
console = false
[push]
contact = "mailto:shed@example.org"
[[people]]
name = "bench 1"
"""


@pytest.fixture
def near() -> Iterator[ServiceNear]:
    with ServiceNear() as made:
        yield made


@pytest.fixture
def coatbell(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Coatbell]:
    """A service that may push to this machine, which no real one may."""
    monkeypatch.setattr(desk, "Poster", lambda time_out_s: Poster(time_out_s, loopback=True))
    (tmp_path / "configs").mkdir()
    (tmp_path / "configs" / "alerts.toml").write_text(RULES)
    over = {
        "server": {"port": free_port()},
        "broker": {"port": free_port()},
        "data": {"folder": str(tmp_path / "data")},
    }
    service = Coatbell(load_settings(tmp_path / "configs", over, {}), clock=FakeClock(NOON), ticking=False)
    service.start()
    yield service
    service.stop()


def ask(coatbell: Coatbell, verb: str, path: str, told: dict[str, Any] | None = None) -> Any:
    address = f"http://127.0.0.1:{coatbell.settings.server.port}{path}"
    headers = {"Content-Type": "application/json"} if told else {}
    body = json.dumps(told).encode() if told else None
    with urlopen(Request(address, body, headers, method=verb), timeout=30) as answer:
        return json.loads(answer.read() or b"null")


def switch_on(coatbell: Coatbell, near: ServiceNear, browser: Browser) -> int:
    given = browser.subscription(near.address)
    told = {"endpoint": given.endpoint, "keys": {"p256dh": given.p256dh, "auth": given.auth}}
    kept = ask(coatbell, "POST", "/api/push", {"subscription": told, "person": "bench 1", "device": "phone"})
    return int(kept["id"])


def test_from_the_switch_to_the_ring(coatbell: Coatbell, near: ServiceNear) -> None:
    number = switch_on(coatbell, near, near.browser())
    assert ask(coatbell, "POST", f"/api/push/{number}/test") == {"taken": True, "words": ""}
    ask(coatbell, "POST", "/api/test-message")
    assert [json.loads(taken.message)["title"] for taken in near.taken] == ["coatbell: a test"] * 2
    assert near.taken[0].key == ask(coatbell, "GET", "/api/push")["public_key"]


def test_one_that_is_gone_is_dropped_and_told(coatbell: Coatbell, near: ServiceNear) -> None:
    number = switch_on(coatbell, near, near.browser())
    near.answers = [(410, {})]
    assert ask(coatbell, "POST", f"/api/push/{number}/test")["taken"] is False
    shown = ask(coatbell, "GET", "/api/push")
    assert shown["devices"] == []
    assert [lost["device"] for lost in shown["lost"]] == ["phone"]


def test_its_key_is_in_no_back_up(coatbell: Coatbell, near: ServiceNear) -> None:
    """With it, whoever finds the stick could ring everybody's phone."""
    switch_on(coatbell, near, near.browser())
    ask(coatbell, "GET", "/api/push")
    key = (coatbell.settings.data.folder / KEY_FILE).read_bytes()
    folder = back_up_folder(coatbell.settings)
    keep_copy(coatbell.settings, folder, NOON)
    copies = [path for path in folder.rglob("*") if path.is_file()]
    assert copies
    secret = key.splitlines()[1]
    assert [path for path in copies if path.name == KEY_FILE or secret in path.read_bytes()] == []
