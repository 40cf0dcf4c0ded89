"""The stand-ins do what the real ones do."""

from __future__ import annotations

import pytest

from sensors.fakes import FakeBroker, FakeClient, FakeIntake
from service.clock import FakeClock
from service.reading import Freshness, Reason
from tests.sensors.helpers import NOW, shipped


def make() -> tuple[FakeBroker, FakeClient, FakeIntake, FakeClock]:
    broker, intake, clock = FakeBroker(), FakeIntake(), FakeClock(NOW)
    return broker, FakeClient(shipped(), intake, clock, broker), intake, clock


def test_a_message_goes_from_broker_to_intake() -> None:
    broker, client, intake, _ = make()
    client.start()
    broker.publish("shop/bench/temperature", "21")
    assert [reading.value for reading in intake.readings] == [pytest.approx(294.15)]
    assert client.alive
    assert client.connected
    assert intake.links == [(True, NOW, "Listening.")]


def test_a_client_without_a_broker_is_fed_by_hand() -> None:
    intake = FakeIntake()
    client = FakeClient(shipped(), intake, FakeClock(NOW))
    client.start()
    client.hear("shop/bench/weight", b"4.2")
    client.stop()
    assert [reading.value for reading in intake.readings] == [4.2]
    assert not client.alive


def test_a_retained_message_comes_again_on_each_return_and_is_never_fresh() -> None:
    broker, client, intake, _ = make()
    broker.publish("shop/bench/temperature", "21", retain=True)
    client.start()
    broker.go_down()
    assert not client.connected
    broker.come_back()
    assert intake.readings == []
    assert [rejected.reason for rejected in intake.rejects] == [Reason.RETAINED]
    assert [link[0] for link in intake.links] == [True, False, True]
    assert client.watch.snapshot(NOW)[0].freshness is Freshness.NEVER


def test_a_retained_message_counts_while_it_is_live() -> None:
    broker, client, intake, _ = make()
    client.start()
    broker.publish("shop/bench/temperature", "21", retain=True)
    assert len(intake.readings) == 1


def test_nothing_comes_while_the_broker_is_down_or_after_leaving() -> None:
    broker, client, intake, clock = make()
    client.start()
    broker.go_down()
    broker.publish("shop/bench/weight", "1")
    broker.come_back()
    client.stop()
    clock.advance(10.0)
    broker.publish("shop/bench/weight", "1")
    assert intake.readings == []


def test_joining_a_broker_that_is_down_waits_for_it() -> None:
    broker, client, intake, _ = make()
    broker.go_down()
    client.start()
    assert intake.links == []
    broker.come_back()
    assert client.connected


def test_topics_outside_the_subscription_do_not_come() -> None:
    _, client, intake, _ = make()
    client.hear("$SYS/broker/uptime", "5")
    assert intake.rejects == []
