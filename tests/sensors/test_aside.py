"""A topic that is no sensor's goes aside whole, retained or not; the sensors beside it are heard as ever."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from sensors.broker import EmbeddedBroker
from sensors.client import Client
from sensors.declared import Declared
from sensors.fakes import FakeIntake
from service.clock import SystemClock
from tests.sensors.helpers import Publisher, shipped, wait_for

TOPIC = "weather/forecast"
WEIGHTS_ALONE = Declared.model_validate(
    {"messages": [{"pattern": "shop/{sensor}/weight", "values": [{"quantity": "weight", "unit": "kg"}]}]}
)


class Scene:
    def __init__(self, broker: EmbeddedBroker, declared: Declared) -> None:
        self.intake, self.came = FakeIntake(), list[bytes]()
        self.client = Client(broker.address(), declared, self.intake, SystemClock(), first_wait_s=0.05)
        self.sender = Publisher(broker.address())

    def begin(self, topic: str = TOPIC) -> None:
        self.client.hand_aside(topic, self.came.append)
        self.client.start()
        assert wait_for(lambda: self.client.connected)


@pytest.fixture(params=["all", "weights alone"])
def scene(request: pytest.FixtureRequest, broker: EmbeddedBroker) -> Iterator[Scene]:
    """Once on a broker where everything is listened to, once where only what is declared is."""
    scene = Scene(broker, shipped() if request.param == "all" else WEIGHTS_ALONE)
    yield scene
    scene.sender.close()
    scene.client.stop()


def test_it_comes_whole_and_is_no_sensors(scene: Scene) -> None:
    scene.begin()
    forecast = b'{"hours": [' + b"1," * 50_000 + b"1]}"
    scene.sender.send(TOPIC, forecast)
    scene.sender.send("shop/bench/weight", "5")
    assert wait_for(lambda: scene.came == [forecast] and len(scene.intake.readings) == 1)
    assert scene.intake.rejects == []
    assert [one.topic for one in scene.client.adopting.heard()] == ["shop/bench/weight"]


def test_what_the_broker_remembers_of_it_counts(scene: Scene) -> None:
    scene.sender.send(TOPIC, "from before", retain=True)
    scene.begin()
    assert wait_for(lambda: scene.came == [b"from before"])


def test_it_may_be_another_while_it_runs(scene: Scene) -> None:
    scene.begin()
    scene.client.hand_aside("sky", scene.came.append)
    assert wait_for(lambda: scene.sender.send("sky", "blue") or b"blue" in scene.came)
    scene.sender.send(TOPIC, "old")
    scene.client.hand_aside("", scene.came.append)
    scene.sender.send("shop/bench/weight", "5")
    assert wait_for(lambda: len(scene.intake.readings) == 1)
    assert b"old" not in scene.came


def test_without_one_nothing_goes_aside(scene: Scene) -> None:
    scene.begin("")
    scene.sender.send(TOPIC, "nobody's")
    scene.sender.send("shop/bench/weight", "5")
    assert wait_for(lambda: len(scene.intake.readings) == 1)
    assert scene.came == []
