"""Retained topics at the embedded broker, and what is published when."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterator

import pytest

from sensors.address import BrokerAddress
from sensors.broker import EmbeddedBroker
from sensors.publisher import ALIVE, Publisher, changes
from service.errors import BadInput
from tests.ports import free_port
from tests.sensors.helpers import Publisher as Sensor
from tests.sensors.helpers import wait_for
from tests.sensors.lamp import Lamp

ROOT = "coatbell/1"
Start = Callable[..., Publisher]


@pytest.fixture
def start() -> Iterator[Start]:
    publishers: list[Publisher] = []

    def begin(address: BrokerAddress, root: str = ROOT) -> Publisher:
        publisher = Publisher(address, root, first_wait_s=0.05, longest_wait_s=0.2)
        publishers.append(publisher)
        publisher.start()
        return publisher

    yield begin
    for publisher in publishers:
        publisher.stop()


@pytest.fixture
def lamp(broker: EmbeddedBroker) -> Iterator[Lamp]:
    lamp = Lamp(broker.address())
    yield lamp
    lamp.close()


class TestChanges:
    def test_all_of_it_where_nothing_was_shown(self) -> None:
        assert list(changes({"a": "1", "b": "2"}, {}, ())) == [("a", "1"), ("b", "2")]

    def test_nothing_where_nothing_changed(self) -> None:
        assert list(changes({"a": "1"}, {"a": "1"}, ())) == []

    def test_only_what_changed(self) -> None:
        assert list(changes({"a": "1", "b": "3"}, {"a": "1", "b": "2"}, ())) == [("b", "3")]

    def test_what_is_gone_is_taken_away_first(self) -> None:
        assert list(changes({"b": "2"}, {"a": "1"}, ())) == [("a", ""), ("b", "2")]

    def test_so_is_what_an_earlier_run_left(self) -> None:
        assert list(changes({"a": "1"}, {"a": "1"}, {"a", "old"})) == [("old", "")]

    def test_alive_goes_last(self) -> None:
        wanted = {"m": "x", "alive": "1"}
        assert list(changes(wanted, {}, {"gone"}))[-1] == ("alive", "1")


class TestAtTheBroker:
    def test_a_lamp_hears_what_is_shown(self, broker: EmbeddedBroker, start: Start, lamp: Lamp) -> None:
        start(broker.address()).show({f"{ROOT}/mould/3/state": "dip"})
        assert wait_for(lambda: lamp.now == {f"{ROOT}/mould/3/state": "dip", f"{ROOT}/alive": "1"})

    def test_one_that_is_switched_on_later_hears_it_too(self, broker: EmbeddedBroker, start: Start) -> None:
        publisher = start(broker.address())
        publisher.show({f"{ROOT}/room/1/light": "soon"})
        first = Lamp(broker.address())
        assert wait_for(lambda: f"{ROOT}/alive" in first.now)
        late = Lamp(broker.address(), name="late lamp")
        assert wait_for(lambda: late.now.get(f"{ROOT}/room/1/light") == "soon")
        assert all(retained for _, _, retained in late.heard)
        first.close()
        late.close()

    def test_nothing_is_said_before_it_is_known(
        self, broker: EmbeddedBroker, start: Start, lamp: Lamp
    ) -> None:
        publisher = start(broker.address())
        assert wait_for(lambda: publisher.connected)
        sensor = Sensor(broker.address())
        sensor.send("coatbell/mark", "x")
        assert wait_for(lambda: lamp.told("coatbell/mark") == ["x"])
        assert lamp.now == {"coatbell/mark": "x"}
        sensor.close()

    def test_each_change_is_said_once(self, broker: EmbeddedBroker, start: Start, lamp: Lamp) -> None:
        publisher, topic = start(broker.address()), f"{ROOT}/mould/3/state"
        for state in ("wait", "wait", "wait", "soon", "soon", "dip"):
            publisher.show({topic: state})
            assert wait_for(lambda state=state: lamp.now.get(topic) == state)
        assert lamp.told(topic) == ["wait", "soon", "dip"]
        assert lamp.told(f"{ROOT}/alive") == ["1"]

    def test_what_left_is_taken_away(self, broker: EmbeddedBroker, start: Start, lamp: Lamp) -> None:
        publisher = start(broker.address())
        publisher.show({f"{ROOT}/mould/3/state": "dewax", f"{ROOT}/mould/4/state": "wait"})
        assert wait_for(lambda: len(lamp.now) == 3)
        publisher.show({f"{ROOT}/mould/4/state": "wait"})
        assert wait_for(lambda: f"{ROOT}/mould/3/state" not in lamp.now)
        late = Lamp(broker.address(), name="late lamp")
        assert wait_for(lambda: late.now == {f"{ROOT}/mould/4/state": "wait", f"{ROOT}/alive": "1"})
        late.close()

    def test_what_an_earlier_run_left_is_taken_away_and_nothing_else(
        self, broker: EmbeddedBroker, start: Start
    ) -> None:
        """This broker hands over retained messages nobody asked for: a sensor's must stay where they are."""
        sensor = Sensor(broker.address())
        sensor.send(f"{ROOT}/mould/9/state", "dip", retain=True)
        sensor.send("coatbell/2/mould/9/state", "dip", retain=True)
        sensor.send("shop/bench/temperature", "21", retain=True)
        publisher = start(broker.address())
        publisher.show({f"{ROOT}/mould/3/state": "wait"})
        everything = Lamp(broker.address(), "#")
        assert wait_for(lambda: f"{ROOT}/mould/9/state" not in everything.now and len(everything.now) == 4)
        late = Lamp(broker.address(), "#", name="late lamp")
        assert wait_for(lambda: len(late.now) == 4)
        assert late.now == {
            "coatbell/2/mould/9/state": "dip",
            "shop/bench/temperature": "21",
            f"{ROOT}/mould/3/state": "wait",
            f"{ROOT}/alive": "1",
        }
        for client in (sensor, everything, late):
            client.close()

    def test_stopping_says_so(self, broker: EmbeddedBroker, start: Start, lamp: Lamp) -> None:
        publisher = start(broker.address())
        publisher.show({f"{ROOT}/mould/3/state": "wait"})
        assert wait_for(lambda: f"{ROOT}/{ALIVE}" in lamp.now)
        publisher.stop()
        assert wait_for(lambda: lamp.now[f"{ROOT}/{ALIVE}"] == "0")
        assert lamp.now[f"{ROOT}/mould/3/state"] == "wait"

    def test_many_topics_at_once_all_come(self, broker: EmbeddedBroker, start: Start, lamp: Lamp) -> None:
        wanted = {f"{ROOT}/mould/{n}/state": "wait" for n in range(1200)}
        start(broker.address()).show(wanted)
        assert wait_for(lambda: lamp.now == {**wanted, f"{ROOT}/alive": "1"}, 30)

    def test_a_broker_with_a_password(self, start: Start) -> None:
        guarded = EmbeddedBroker(port=free_port(), user="shellroom", password="wet gloves")
        guarded.start()
        start(guarded.address()).show({f"{ROOT}/mould/3/state": "dip"})
        lamp = Lamp(guarded.address())
        assert wait_for(lambda: f"{ROOT}/mould/3/state" in lamp.now)
        lamp.close()
        guarded.stop()


class TestWithoutABroker:
    def test_showing_waits_for_nobody(self, start: Start) -> None:
        publisher = start(BrokerAddress(port=free_port()))
        for n in range(10_000):
            publisher.show({f"{ROOT}/mould/{n}/state": "wait"})
        assert not publisher.connected

    def test_it_is_logged_once_in_words(self, start: Start, caplog: pytest.LogCaptureFixture) -> None:
        caplog.set_level(logging.WARNING)
        start(BrokerAddress(port=free_port()))
        assert wait_for(lambda: "No broker answers" in caplog.text)
        assert wait_for(lambda: caplog.text.count("No broker answers") > 1, 0.5) is False

    def test_a_refused_password_is_told(self, start: Start, caplog: pytest.LogCaptureFixture) -> None:
        guarded = EmbeddedBroker(port=free_port(), user="shellroom", password="wet gloves")
        guarded.start()
        publisher = start(BrokerAddress(port=guarded.address().port, user="shellroom", password="dry"))
        assert wait_for(lambda: "nothing can be published" in caplog.text)
        assert not publisher.connected
        guarded.stop()

    def test_no_host_is_no_address(self) -> None:
        with pytest.raises(BadInput) as told:
            Publisher(BrokerAddress(host=""), ROOT)
        assert told.value.code == "broker_address_wrong"

    def test_the_broker_may_come_later(self, start: Start) -> None:
        port = free_port()
        start(BrokerAddress(port=port)).show({f"{ROOT}/mould/3/state": "dip"})
        late = EmbeddedBroker(port=port)
        late.start()
        lamp = Lamp(late.address())
        assert wait_for(lambda: lamp.now.get(f"{ROOT}/mould/3/state") == "dip")
        lamp.close()
        late.stop()


def test_a_fault_of_its_own_does_not_end_it(
    broker: EmbeddedBroker, start: Start, lamp: Lamp, monkeypatch: pytest.MonkeyPatch
) -> None:
    stumbles = iter([True])

    def once(*_: object) -> Iterator[tuple[str, str]]:
        if next(stumbles, False):
            raise RuntimeError("stumbled")
        return changes(*_)  # type: ignore[arg-type]

    monkeypatch.setattr("sensors.publisher.changes", once)
    start(broker.address()).show({f"{ROOT}/mould/3/state": "dip"})
    assert wait_for(lambda: lamp.now.get(f"{ROOT}/mould/3/state") == "dip")


def test_its_thread_ends(broker: EmbeddedBroker, start: Start) -> None:
    publisher = start(broker.address())
    assert wait_for(lambda: publisher.connected)
    publisher.stop()
    assert "topics" not in {thread.name for thread in threading.enumerate()}
