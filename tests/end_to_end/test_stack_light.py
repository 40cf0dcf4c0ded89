"""A stack light on a real Mosquitto: what it sees when it is switched on, and through every loss."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from sensors.address import BrokerAddress
from tests.end_to_end.running import Running, hang_up, running, set_up_shop, settings, wait_for
from tests.sensors.helpers import Publisher
from tests.sensors.lamp import Lamp
from tests.sensors.mosquitto import Mosquitto

pytestmark = pytest.mark.mosquitto

ALIVE = "coatbell/1/alive"


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Mosquitto]:
    mosquitto = Mosquitto(tmp_path, "allow_anonymous true")
    mosquitto.start()
    yield mosquitto
    mosquitto.kill()


@pytest.fixture
def home(mosquitto: Mosquitto) -> BrokerAddress:
    return BrokerAddress(port=mosquitto.port)


@pytest.fixture
def service(tmp_path: Path, mosquitto: Mosquitto) -> Iterator[Running]:
    text = f'[broker]\nkind = "external"\nport = {mosquitto.port}\n[estimate]\nevery = "5 s"\n'
    own = settings(tmp_path, site=text)
    with running(tmp_path, "--configs", str(own), broker_port=mosquitto.port) as service:
        yield service


def seen(home: BrokerAddress, topics: str = "coatbell/#") -> dict[str, str]:
    """What a light that is switched on just now gets to see. Whatever is kept comes before the mark."""
    lamp, hand = Lamp(home, topics, "new lamp"), Publisher(home)
    wait_for(lambda: lamp.subscribed, told="the lamp was not let in")
    hand.send("coatbell/mark", "x")
    wait_for(lambda: "coatbell/mark" in lamp.now, told="the mark was not seen")
    lamp.close()
    hand.close()
    return {topic: payload for topic, payload in lamp.now.items() if topic != "coatbell/mark"}


def state(home: BrokerAddress, mould: int) -> str | None:
    return seen(home).get(f"coatbell/1/mould/{mould}/state")


def dip(service: Running, mould: int, **more: Any) -> None:
    answer = service.tell(f"/api/moulds/{mould}/dips", {"tank": "white", "hand": "bench 1", **more})
    assert answer.status == 201, answer.body


def test_a_life_at_the_lamp(service: Running, mosquitto: Mosquitto, home: BrokerAddress) -> None:
    room = set_up_shop(service)
    mould = hang_up(service, room)
    watching = Lamp(home)
    leaf = f"coatbell/1/mould/{mould}/state"
    wait_for(lambda: state(home, mould) == "bare", told="the mould was not shown")

    dip(service, mould)
    wait_for(lambda: state(home, mould) == "dip", 40, "the bell was not shown")
    told = seen(home)
    assert json.loads(told[f"coatbell/1/mould/{mould}"])["coat"] == 2
    assert told[f"coatbell/1/room/{room}/light"] == "dip"
    assert told[ALIVE] == "1"
    heard = watching.told(leaf)
    assert heard[-1] == "dip"
    assert all(a != b for a, b in pairwise(heard)), "a state was told twice"
    watching.close()

    mosquitto.kill()  # what is retained is saved on an orderly end only
    mosquitto.start()
    wait_for(lambda: seen(home).keys() == told.keys(), 60, "not told again")
    assert state(home, mould) == "dip"

    ended = service.tell(f"/api/moulds/{mould}/end", {"outcome": "scrapped", "hand": "bench 1"})
    assert ended.status == 201, ended.body
    wait_for(lambda: state(home, mould) is None, told="the ended mould is still shown")
    assert seen(home)[f"coatbell/1/room/{room}/light"] == "dark"
    assert not [r for r in service.ask("/api/rejects").body if r["topic"].startswith("coatbell/1")]

    service.kill()
    wait_for(lambda: seen(home)[ALIVE] == "0", told="nobody said that coatbell is gone")


def test_what_the_last_run_left_is_taken_away(service: Running, home: BrokerAddress) -> None:
    room = set_up_shop(service)
    mould = hang_up(service, room)
    wait_for(lambda: state(home, mould) == "bare", told="the mould was not shown")
    service.stop()
    assert seen(home)[ALIVE] == "0"
    assert state(home, mould) == "bare"
    hand = Publisher(home)
    hand.send("coatbell/1/mould/99", "{}", retain=True)
    hand.send("shop/bench/other", "21", retain=True)
    hand.close()

    service.start()
    wait_for(lambda: seen(home)[ALIVE] == "1", told="it did not come back")
    wait_for(lambda: "coatbell/1/mould/99" not in seen(home), told="the old topic is still there")
    assert state(home, mould) == "bare"
    assert "shop/bench/other" in seen(home, "#")
