"""The MQTT client against the embedded broker, and against hosts that are no broker."""

from __future__ import annotations

import contextlib
import logging
import socket
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from paho.mqtt.client import Client as Mqtt
from paho.mqtt.enums import CallbackAPIVersion

from sensors.address import BrokerAddress
from sensors.broker import EmbeddedBroker
from sensors.client import Client
from sensors.declared import Declared
from sensors.fakes import FakeIntake
from service.clock import SystemClock
from service.errors import BadInput
from service.reading import Freshness, Reading, Reason
from tests.ports import free_port
from tests.sensors.helpers import Publisher, shipped, wait_for

Start = Callable[..., Client]


@pytest.fixture
def intake() -> FakeIntake:
    return FakeIntake()


@pytest.fixture
def start(intake: FakeIntake) -> Iterator[Start]:
    """Starts clients, quick to try again, and stops them in the end."""
    clients: list[Client] = []

    def begin(address: BrokerAddress, declared: Declared | None = None, **more: Any) -> Client:
        waits = {"first_wait_s": 0.05, "longest_wait_s": 0.2}
        client = Client(
            address, declared or shipped(), more.pop("intake", intake), SystemClock(), **waits, **more
        )
        clients.append(client)
        client.start()
        return client

    yield begin
    for client in clients:
        client.stop()


def connected(client: Client) -> bool:
    return wait_for(lambda: client.connected)


def test_a_message_comes_in(broker: EmbeddedBroker, intake: FakeIntake, start: Start) -> None:
    client = start(broker.address())
    assert connected(client)
    publisher = Publisher(broker.address())
    publisher.send("shop/bench/air", '{"temperature": 21, "humidity": 50}')
    assert wait_for(lambda: len(intake.readings) == 2)
    assert [r.value for r in intake.readings] == [pytest.approx(294.15), pytest.approx(0.5)]
    (bench,) = client.watch.snapshot(SystemClock().now())
    assert (bench.name, bench.freshness) == ("bench", Freshness.FRESH)
    publisher.close()


def test_many_messages_come_in_whole_and_in_order(
    broker: EmbeddedBroker, intake: FakeIntake, start: Start
) -> None:
    assert connected(start(broker.address()))
    publisher = Publisher(broker.address())
    for n in range(300):
        publisher.send("shop/bench/weight", str(n))
    assert wait_for(lambda: len(intake.readings) == 300)
    assert [reading.value for reading in intake.readings] == [float(n) for n in range(300)]
    assert intake.rejects == []
    publisher.close()


def test_a_topic_fit_by_two_patterns_comes_once(
    broker: EmbeddedBroker, intake: FakeIntake, start: Start
) -> None:
    weight = {"quantity": "weight", "unit": "kg"}
    declared = Declared.model_validate(
        {
            "listen": ["shop/bench/+"],
            "messages": [{"pattern": "shop/{sensor}/weight", "values": [weight]}],
        }
    )
    assert len(declared.filters) == 2
    assert connected(start(broker.address(), declared))
    publisher = Publisher(broker.address())
    publisher.send("shop/bench/weight", "5")
    publisher.send("shop/bench/weight", "6")
    assert wait_for(lambda: bool(intake.readings) and intake.readings[-1].value == 6.0)
    assert [reading.value for reading in intake.readings] == [5.0, 6.0]
    publisher.close()


def test_what_the_broker_had_kept_is_not_taken(
    broker: EmbeddedBroker, intake: FakeIntake, start: Start
) -> None:
    publisher = Publisher(broker.address())
    publisher.send("shop/bench/temperature", "21", retain=True)
    client = start(broker.address())
    assert wait_for(lambda: len(intake.rejects) == 1)
    assert intake.rejects[0].reason is Reason.RETAINED
    (bench,) = client.watch.snapshot(SystemClock().now())
    assert (bench.freshness, bench.old_values) == (Freshness.NEVER, True)
    publisher.send("shop/bench/temperature", "22", retain=True)
    assert wait_for(lambda: len(intake.readings) == 1)
    publisher.close()


def test_a_broker_that_comes_later_is_found(intake: FakeIntake, start: Start) -> None:
    broker = EmbeddedBroker(port=free_port())
    client = start(broker.address())
    assert wait_for(lambda: bool(intake.links))
    assert not intake.links[0][0]
    assert "No broker answers" in intake.links[0][2]
    broker.start()
    assert connected(client)
    assert [link[0] for link in intake.links] == [False, True]
    broker.stop()


def test_a_broker_that_goes_and_comes_again_is_told_once_each_time(intake: FakeIntake, start: Start) -> None:
    port = free_port()
    first = EmbeddedBroker(port=port)
    first.start()
    client = start(first.address())
    assert connected(client)
    first.stop()
    assert wait_for(lambda: any("No broker answers" in link[2] for link in intake.links))
    time.sleep(0.5)  # several more attempts
    second = EmbeddedBroker(port=port)
    second.start()
    assert connected(client)
    publisher = Publisher(second.address())
    publisher.send("shop/bench/weight", "5")
    assert wait_for(lambda: len(intake.readings) == 1)
    assert [link[0] for link in intake.links] == [True, False, False, True]
    assert "was lost" in intake.links[1][2]
    assert client.alive
    publisher.close()
    second.stop()


@pytest.mark.parametrize(("user", "password"), [("bench", "dry gloves"), (None, None)])
def test_a_wrong_password_is_told(
    intake: FakeIntake, start: Start, user: str | None, password: str | None
) -> None:
    broker = EmbeddedBroker(port=free_port(), user="bench", password="wet gloves")
    broker.start()
    client = start(BrokerAddress(port=broker.address().port, user=user, password=password))
    assert wait_for(lambda: bool(intake.links))
    assert not client.connected
    assert "refused the user name or password" in intake.links[0][2]
    time.sleep(0.3)
    assert len(intake.links) == 1
    broker.stop()


def test_the_right_password_is_let_in(start: Start) -> None:
    broker = EmbeddedBroker(port=free_port(), user="bench", password="wet gloves")
    broker.start()
    assert connected(start(broker.address()))
    broker.stop()


@pytest.fixture
def scripted() -> Iterator[Callable[..., BrokerAddress]]:
    """Servers that give one answer after another to whatever comes, and then hang up."""
    listeners: list[socket.socket] = []

    def attend(listener: socket.socket, answers: tuple[bytes, ...]) -> None:
        with contextlib.suppress(OSError):  # closed in the end
            while True:
                stranger, _ = listener.accept()
                with stranger, contextlib.suppress(ConnectionError):
                    for answer in answers:
                        stranger.recv(1000)
                        stranger.sendall(answer)

    def serve(*answers: bytes) -> BrokerAddress:
        listener = socket.create_server(("127.0.0.1", 0))
        listeners.append(listener)
        threading.Thread(target=attend, args=(listener, answers), daemon=True).start()
        return BrokerAddress(port=listener.getsockname()[1])

    yield serve
    for listener in listeners:
        listener.shutdown(socket.SHUT_RDWR)
        listener.close()


# Packets as in OASIS MQTT 3.1.1, sections 3.2, 3.3 and 3.9; the first packet id paho uses is 1.
WELCOME = b"\x20\x02\x00\x00"
GRANTED = b"\x90\x03\x00\x01\x01"
DENIED = b"\x90\x03\x00\x01\x80"
TOPIC_NOT_TEXT = b"\x30\x05\x00\x02\xff\xfe1"


@pytest.mark.parametrize("answer", [b"", b"HTTP/1.1 400 Bad Request\r\n\r\n"])
def test_what_is_no_broker_is_told(
    intake: FakeIntake, start: Start, scripted: Callable[..., BrokerAddress], answer: bytes
) -> None:
    client = start(scripted(answer))
    assert wait_for(lambda: bool(intake.links))
    assert "is no MQTT broker" in intake.links[0][2]
    assert client.alive


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (1, "refused the connection: unsupported protocol version"),
        (2, "refused the connection: client identifier not valid"),
        (3, "refused the connection: server unavailable"),
        (4, "refused the user name or password"),
        (5, "refused the user name or password"),
    ],
)
def test_every_refusal_is_told(
    intake: FakeIntake, start: Start, scripted: Callable[..., BrokerAddress], code: int, words: str
) -> None:
    client = start(scripted(b"\x20\x02\x00" + bytes([code])))
    assert wait_for(lambda: bool(intake.links))
    assert words in intake.links[0][2]
    assert not client.connected
    assert client.alive


def test_a_user_without_leave_to_read_is_told(
    intake: FakeIntake, start: Start, scripted: Callable[..., BrokerAddress]
) -> None:
    start(scripted(WELCOME, DENIED, b""))
    assert wait_for(lambda: bool(intake.links))
    assert "does not let coatbell listen to “#”" in intake.links[0][2]
    assert not any(link[0] for link in intake.links)


def test_a_topic_that_is_not_text_is_refused_and_does_not_end_us(
    intake: FakeIntake, start: Start, scripted: Callable[..., BrokerAddress]
) -> None:
    client = start(scripted(WELCOME, GRANTED + TOPIC_NOT_TEXT, b""))
    assert wait_for(lambda: bool(intake.rejects))
    assert (intake.rejects[0].reason, intake.rejects[0].topic) == (Reason.UNKNOWN_TOPIC, "(not text)")
    assert client.alive


def test_a_host_nobody_knows_is_told(intake: FakeIntake, start: Start) -> None:
    # .invalid never resolves (RFC 2606); a label of 64 letters is no name at all (RFC 1035).
    start(BrokerAddress("x" * 64 + ".invalid"))
    assert wait_for(lambda: bool(intake.links))
    assert "is not known on this network" in intake.links[0][2]


@pytest.mark.parametrize(("host", "port"), [("", 1883), ("127.0.0.1", 0), ("127.0.0.1", -1)])
def test_an_address_that_is_none_is_told_at_once(host: str, port: int, intake: FakeIntake) -> None:
    with pytest.raises(BadInput, match="is no broker's address"):
        Client(BrokerAddress(host, port), shipped(), intake, SystemClock())


def test_it_stops_within_a_second_when_connected(
    broker: EmbeddedBroker, intake: FakeIntake, start: Start
) -> None:
    client = start(broker.address())
    assert connected(client)
    began = time.monotonic()
    client.stop()
    assert time.monotonic() - began < 1.0
    assert not client.alive
    assert not client.connected
    assert [link[0] for link in intake.links] == [True]  # our own leaving is not a lost broker


def test_it_stops_within_a_second_when_waiting_to_try_again(intake: FakeIntake) -> None:
    client = Client(BrokerAddress(port=free_port()), shipped(), intake, SystemClock(), first_wait_s=30.0)
    client.start()
    assert wait_for(lambda: bool(intake.links))
    began = time.monotonic()
    client.stop()
    assert time.monotonic() - began < 1.0
    assert not client.alive


def test_stopping_before_a_start_or_twice_does_nothing(intake: FakeIntake) -> None:
    client = Client(BrokerAddress(), shipped(), intake, SystemClock())
    assert not client.alive
    client.stop()
    client.stop()


def test_what_came_before_a_stop_is_worked_through(
    broker: EmbeddedBroker, intake: FakeIntake, start: Start
) -> None:
    client = start(broker.address())
    assert connected(client)
    publisher = Publisher(broker.address())
    for n in range(50):
        publisher.send("shop/bench/weight", str(n), qos=0)
    publisher.send("shop/bench/weight", "50")
    assert wait_for(lambda: bool(intake.readings))
    client.stop()
    taken = [reading.value for reading in intake.readings]
    assert taken == [float(n) for n in range(len(taken))]
    publisher.close()


class StuckIntake(FakeIntake):
    """Takes nothing until let go."""

    def __init__(self) -> None:
        super().__init__()
        self.go = threading.Event()

    def accept(self, reading: Reading) -> None:
        self.go.wait(10)
        super().accept(reading)


def test_what_comes_faster_than_it_can_be_taken_is_counted(broker: EmbeddedBroker, start: Start) -> None:
    intake = StuckIntake()
    client = start(broker.address(), intake=intake, queue_size=10)
    assert connected(client)
    publisher = Publisher(broker.address())
    for n in range(100):
        publisher.send("shop/bench/weight", str(n))
    time.sleep(0.2)
    intake.go.set()
    assert wait_for(lambda: bool(intake.rejects))
    publisher.send("shop/bench/weight", "1000")
    assert wait_for(lambda: intake.readings[-1].value == 1000.0)
    left_out = sum(int(r.words.split()[0]) for r in intake.rejects if r.reason is Reason.OVERFLOW)
    assert left_out >= 80
    assert len(intake.readings) - 1 + left_out == 100
    publisher.close()


def test_a_stranger_under_our_name_takes_nothing_from_us(
    broker: EmbeddedBroker, intake: FakeIntake, start: Start
) -> None:
    client = start(broker.address("coatbell"))
    assert connected(client)
    stranger = Mqtt(CallbackAPIVersion.VERSION2, client_id="coatbell")
    stranger.connect("127.0.0.1", broker.address().port)
    stranger.loop_start()
    assert wait_for(stranger.is_connected)
    publisher = Publisher(broker.address())
    publisher.send("shop/bench/weight", "5")
    assert wait_for(lambda: len(intake.readings) == 1)
    publisher.close()
    stranger.disconnect()
    stranger.loop_stop()


class BrokenIntake(FakeIntake):
    def accept(self, reading: Reading) -> None:
        raise RuntimeError("the store is gone")


def test_a_worker_that_dies_is_noticed(
    broker: EmbeddedBroker, start: Start, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.ERROR):
        client = start(broker.address(), intake=BrokenIntake())
        assert connected(client)
        assert client.alive
        publisher = Publisher(broker.address())
        publisher.send("shop/bench/weight", "5")
        assert wait_for(lambda: not client.alive)
    assert "no readings come in any more" in caplog.text
    assert "the store is gone" in caplog.text
    publisher.close()


class DeafIntake(FakeIntake):
    def broker(self, connected: bool, at: object, words: str) -> None:
        raise RuntimeError("nobody listens")


def test_a_network_thread_that_dies_is_noticed(
    broker: EmbeddedBroker, start: Start, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.ERROR):
        client = start(broker.address(), intake=DeafIntake())
        assert wait_for(lambda: not client.alive)
    assert "nobody listens" in caplog.text


def test_a_payload_that_is_not_text_does_not_end_it(
    broker: EmbeddedBroker, intake: FakeIntake, start: Start
) -> None:
    client = start(broker.address())
    assert connected(client)
    publisher = Publisher(broker.address())
    publisher.send("shop/bench/weight", b"\xff\x00")
    publisher.send("shop/bench/weight", "5")
    assert wait_for(lambda: len(intake.readings) == 1)
    assert [rejected.reason for rejected in intake.rejects] == [Reason.UNREADABLE]
    assert client.alive
    publisher.close()


def test_what_coatbell_itself_publishes_is_no_sensors(
    broker: EmbeddedBroker, intake: FakeIntake, start: Start
) -> None:
    """However wide it listens, and even where a pattern would read it; a neighbour's topic is heard."""
    wide = {"pattern": "+/{sensor}/weight", "values": [{"quantity": "weight", "unit": "kg"}]}
    declared = Declared.model_validate({"listen": ["#"], "messages": [wide]})
    assert connected(start(broker.address(), declared, ours="coatbell"))
    publisher = Publisher(broker.address())
    publisher.send("coatbell/1/weight", "4")
    publisher.send("coatbell/bench/weight", "5", retain=True)
    publisher.send("coatbell", "6")
    publisher.send("coatbells/bench/weight", "7")
    assert wait_for(lambda: bool(intake.readings))
    assert [reading.value for reading in intake.readings] == [7.0]
    assert intake.rejects == []
    publisher.close()


KILN = {
    "pattern": "attic/kiln",
    "sensor": "kiln",
    "values": [{"quantity": "weight", "unit": "kg", "field": "w"}],
}


def test_what_is_set_up_while_it_runs_loses_and_doubles_nothing(
    broker: EmbeddedBroker, intake: FakeIntake, start: Start
) -> None:
    """The newest message before counts too, if nobody read it; each is read once, and as one thing."""
    client = start(broker.address())
    assert connected(client)
    publisher = Publisher(broker.address())
    for n in range(60):
        publisher.send("attic/kiln", f'{{"w": {n}}}')
        if n in (20, 40):  # set up, and set up otherwise
            assert wait_for(
                lambda n=n: client.adopting.heard() and client.adopting.heard()[0].payload == f'{{"w": {n}}}'
            )  # type: ignore[misc]
            client.adopting.read_so([KILN | {"sensor": "kiln" if n == 20 else "oven"}])
    assert wait_for(lambda: bool(intake.readings) and intake.readings[-1].value == 59.0)
    assert [(r.sensor, r.value) for r in intake.readings] == [
        ("kiln" if n <= 40 else "oven", float(n)) for n in range(20, 60)
    ]
    publisher.close()


def test_subscriptions_follow_what_is_set_up(
    broker: EmbeddedBroker, intake: FakeIntake, start: Start
) -> None:
    narrow = Declared.model_validate({"listen": ["shop/#"], "messages": [{**KILN, "pattern": "shop/x"}]})
    client = start(broker.address(), narrow)
    assert connected(client)
    publisher = Publisher(broker.address())

    def hears() -> bool:
        publisher.send("attic/kiln", '{"w": 5}')
        return any(reading.sensor == "kiln" for reading in intake.readings)

    client.adopting.read_so([KILN])
    assert wait_for(hears)
    client.adopting.read_so([])

    def deaf() -> bool:
        before = client.adopting.heard()
        publisher.send("attic/kiln", '{"w": 6}')
        publisher.send("shop/x", '{"w": 1}')
        time.sleep(0.05)
        return [(one.topic, one.at) for one in before if one.topic == "attic/kiln"] == [
            (one.topic, one.at) for one in client.adopting.heard() if one.topic == "attic/kiln"
        ]

    assert wait_for(deaf)
    assert client.connected
    publisher.close()


def test_what_was_set_up_before_is_read_from_the_start(
    broker: EmbeddedBroker, intake: FakeIntake, start: Start
) -> None:
    assert connected(start(broker.address(), own=[KILN]))
    publisher = Publisher(broker.address())
    publisher.send("attic/kiln", '{"w": 5}')
    assert wait_for(lambda: len(intake.readings) == 1)
    publisher.close()
