"""The embedded broker, spoken to by a real MQTT client."""

from __future__ import annotations

import logging
import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import replace

import pytest
from paho.mqtt.client import Client as Mqtt
from paho.mqtt.enums import CallbackAPIVersion

from sensors.address import BrokerAddress
from sensors.broker import EmbeddedBroker
from service.errors import BadInput, Unavailable
from tests.ports import free_port
from tests.sensors.helpers import Publisher, wait_for


class Listener:
    """A plain subscriber that keeps what comes."""

    def __init__(self, address: BrokerAddress, topic: str) -> None:
        self.heard: list[tuple[str, bytes, bool]] = []
        self.code = ""
        self.ready = threading.Event()
        self._mqtt = Mqtt(CallbackAPIVersion.VERSION2, client_id=address.client_id)
        if address.user is not None:
            self._mqtt.username_pw_set(address.user, address.password)
        self._mqtt.on_connect = self._connected
        self._mqtt.on_subscribe = lambda *_: self.ready.set()
        self._mqtt.on_message = lambda _c, _u, m: self.heard.append((m.topic, m.payload, m.retain))
        self._topic = topic
        self._mqtt.connect(address.host, address.port)
        self._mqtt.loop_start()

    def _connected(self, mqtt: Mqtt, _userdata: object, _flags: object, code: object, _more: object) -> None:
        self.code = str(code)
        mqtt.subscribe(self._topic, 1)

    def close(self) -> None:
        self._mqtt.disconnect()
        self._mqtt.loop_stop()


def test_a_message_passes_from_one_client_to_another(broker: EmbeddedBroker) -> None:
    listener, publisher = Listener(broker.address(), "shop/#"), Publisher(broker.address())
    assert listener.ready.wait(5)
    publisher.send("shop/bench/air", "21")
    assert wait_for(lambda: listener.heard == [("shop/bench/air", b"21", False)])
    publisher.close()
    listener.close()


CONNECT = b"\x10\x10\x00\x04MQTT\x04\x02\x00\x3c\x00\x04reed"
PUBLISH = b"\x30\x12\x00\x0eshop/bench/air21"
DISCONNECT = b"\xe0\x00"
"""As MQTT 3.1.1 writes them: sections 3.1, 3.3 (QoS 0) and 3.14."""


@pytest.fixture
def lamps(broker: EmbeddedBroker) -> Iterator[None]:
    """Many retained messages lie there, and somebody listens to everything."""
    publisher, listener = Publisher(broker.address()), Listener(broker.address(), "#")
    assert listener.ready.wait(10)
    for n in range(100):
        publisher.send(f"lamps/{n}", "x" * 300, retain=True)
    assert wait_for(lambda: len(listener.heard) == 100, 60)
    publisher.close()
    yield
    listener.close()


@pytest.mark.usefixtures("lamps")
@pytest.mark.parametrize("goodbye", [DISCONNECT, b""])
def test_a_sensor_that_speaks_and_is_gone_in_one_breath_is_heard(
    broker: EmbeddedBroker, goodbye: bytes
) -> None:
    listener = Listener(broker.address(), "shop/#")
    assert listener.ready.wait(5)
    for n in range(1, 6):
        with socket.create_connection(("127.0.0.1", broker.address().port)) as sensor:
            sensor.sendall(CONNECT)
            assert len(sensor.recv(4)) == 4
            sensor.sendall(PUBLISH + goodbye)
        assert wait_for(lambda n=n: listener.heard == [("shop/bench/air", b"21", False)] * n)  # type: ignore[misc]
    listener.close()


@pytest.mark.usefixtures("lamps")
def test_who_asks_for_nothing_is_told_nothing(broker: EmbeddedBroker) -> None:
    with socket.create_connection(("127.0.0.1", broker.address().port)) as sensor:
        sensor.sendall(CONNECT)
        assert len(sensor.recv(4)) == 4
        sensor.settimeout(0.3)
        with pytest.raises(TimeoutError):
            sensor.recv(1)


@pytest.mark.usefixtures("lamps")
def test_who_asks_is_told_once(broker: EmbeddedBroker) -> None:
    listener, publisher = Listener(broker.address(), "lamps/+"), Publisher(broker.address())
    assert wait_for(lambda: len(listener.heard) >= 100)
    publisher.send("lamps/done", "1")
    assert wait_for(lambda: ("lamps/done", b"1", False) in listener.heard)
    publisher.close()
    listener.close()
    assert len(listener.heard) == 101


def test_a_retained_message_waits_for_those_who_come_later(broker: EmbeddedBroker) -> None:
    publisher = Publisher(broker.address())
    publisher.send("shop/bench/air", "21", retain=True)
    publisher.close()
    listener = Listener(broker.address(), "shop/#")
    assert wait_for(lambda: listener.heard == [("shop/bench/air", b"21", True)])
    listener.close()


def test_it_starts_and_stops_within_a_second_with_clients_on_it() -> None:
    broker = EmbeddedBroker(port=free_port())
    assert not broker.alive
    began = time.monotonic()
    broker.start()
    assert broker.alive
    assert time.monotonic() - began < 1.0
    listener, publisher = Listener(broker.address(), "#"), Publisher(broker.address())
    assert listener.ready.wait(5)
    began = time.monotonic()
    broker.stop()
    assert time.monotonic() - began < 1.1
    assert not broker.alive
    publisher.close()
    listener.close()


def test_after_a_stop_the_port_is_free_again() -> None:
    port = free_port()
    for _ in range(3):
        broker = EmbeddedBroker(port=port)
        broker.start()
        Publisher(broker.address()).close()
        broker.stop()


def test_stopping_twice_or_before_a_start_does_nothing(broker: EmbeddedBroker) -> None:
    broker.stop()
    broker.stop()
    EmbeddedBroker(port=free_port()).stop()


def test_a_taken_port_is_told_with_what_to_do() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(Unavailable, match=f"cannot listen at 127.0.0.1:{port}") as told:
            EmbeddedBroker(port=port).start()
    assert told.value.code == "broker_port_taken"
    assert "external" in told.value.todo


def test_a_second_broker_on_the_same_port_is_told(broker: EmbeddedBroker) -> None:
    with pytest.raises(Unavailable, match="in use"):
        EmbeddedBroker(port=broker.address().port).start()
    assert broker.alive


def test_a_host_that_is_not_ours_is_told() -> None:
    # 192.0.2.0/24 is set aside for documentation (RFC 5737): no machine has it.
    with pytest.raises(Unavailable, match="cannot listen"):
        EmbeddedBroker("192.0.2.1", free_port(), "bench", "secret").start()


@pytest.mark.parametrize("port", [0, -1, 65536])
def test_a_port_that_is_none_is_told(port: int) -> None:
    with pytest.raises(BadInput, match="There is no port"):
        EmbeddedBroker(port=port)


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.1", "shed.local"])
@pytest.mark.parametrize(
    ("user", "password"), [(None, None), ("bench", None), (None, "secret"), ("bench", "")]
)
def test_off_this_machine_it_demands_a_password(host: str, user: str | None, password: str | None) -> None:
    with pytest.raises(BadInput, match="could send readings"):
        EmbeddedBroker(host, 1883, user, password)


def test_only_the_shops_user_is_let_in() -> None:
    broker = EmbeddedBroker(port=free_port(), user="bench", password="wet gloves")
    broker.start()
    home = broker.address()
    assert (home.user, home.password) == ("bench", "wet gloves")
    right = Listener(home, "#")
    assert wait_for(lambda: right.code == "Success")
    right.close()
    for user, password in [("bench", "dry gloves"), ("other", "wet gloves"), ("bench", ""), (None, None)]:
        wrong = Listener(BrokerAddress(port=home.port, user=user, password=password), "#")
        assert wait_for(lambda wrong=wrong: wrong.code != ""), (user, password)
        assert wrong.code in ("Not authorized", "Bad user name or password")
        assert not wrong.ready.is_set()
        wrong.close()
    broker.stop()


def test_for_our_own_client_any_host_is_this_machine() -> None:
    found = EmbeddedBroker("0.0.0.0", 1883, "bench", "secret").address("x")
    wanted = BrokerAddress("127.0.0.1", 1883, user="bench", password="secret", client_id="x")
    assert replace(found, client_id="x") == wanted
    assert EmbeddedBroker("::", 1883, "bench", "secret").address().host == "::1"


def test_nobody_else_has_the_name_of_our_own_client(broker: EmbeddedBroker) -> None:
    """Such a one would get our messages from then on, and nothing would tell us."""
    names = {broker.address("coatbell").client_id for _ in range(20)}
    assert len(names) == 20
    assert all(name.startswith("coatbell-") for name in names)


def test_it_is_quiet_about_comings_and_goings(
    broker: EmbeddedBroker, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.NOTSET):
        for _ in range(3):
            Publisher(broker.address()).close()
        broker.stop()
    assert [r for r in caplog.records if r.name.split(".")[0] in ("amqtt", "transitions")] == []


def test_rubbish_on_the_port_does_not_stop_it(broker: EmbeddedBroker) -> None:
    port = broker.address().port
    for rubbish in (b"", b"GET / HTTP/1.1\r\n\r\n", b"\x10\xff\xff\xff\x7f", b"\x00" * 100):
        with socket.create_connection(("127.0.0.1", port)) as stranger:
            stranger.sendall(rubbish)
    listener, publisher = Listener(broker.address(), "shop/#"), Publisher(broker.address())
    assert listener.ready.wait(5)
    publisher.send("shop/bench/air", "21")
    assert wait_for(lambda: len(listener.heard) == 1)
    publisher.close()
    listener.close()


def test_a_broker_that_fails_to_start_is_told(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    async def fail(_: object) -> None:
        raise OSError("no room")

    monkeypatch.setattr("amqtt.broker.Broker.start", fail)
    broker = EmbeddedBroker(port=free_port())
    with pytest.raises(Unavailable, match=r"could not start at .*: no room"):
        broker.start()
    assert not broker.alive
    assert "the broker ended" in caplog.text


def test_one_connection_too_many_is_turned_away(
    broker: EmbeddedBroker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sensors.broker.MOST_CONNECTIONS", 1)
    first = Publisher(broker.address())
    with socket.create_connection(("127.0.0.1", broker.address().port)) as second:
        second.settimeout(5)
        assert second.recv(1) == b""
    first.send("shop/bench/air", "21")
    first.close()


def test_free_ports_can_be_bound() -> None:
    with socket.create_server(("127.0.0.1", free_port())):
        pass
