"""The replay speaks as sensors.toml declares, at full steps, to a real broker, and never sends old air late."""

from __future__ import annotations

import json
import math
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from importlib.resources import files

import pytest

from sensors.address import BrokerAddress
from sensors.broker import EmbeddedBroker
from sensors.client import Client
from sensors.declared import Declared, read_declared
from sensors.decode import Measured, decode
from sensors.fakes import FakeIntake
from sensors.message import Message
from sensors.replay import Replay, payload
from service.clock import FakeClock, FastClock
from service.errors import BadInput
from service.reading import Quantity, Reason, Rejected
from service.settings import check_data
from tests.ports import free_port

T, RH = Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY
V, P = Quantity.AIR_SPEED, Quantity.PRESSURE
START = datetime(2026, 6, 10, 8, 0, 7, tzinfo=UTC)
AIR = {T: 294.65, RH: 0.485, V: 1.2, P: 101325.0}
WAIT_S = 10.0
SHIPPED = read_declared(files("configs") / "sensors.toml")
NAMED = [one.pattern for one in SHIPPED.messages if "{sensor}" in one.pattern]


@dataclass
class Pretended:
    """A source that always measures the same, unless told otherwise."""

    sensor: str
    topics: tuple[str, ...]
    values: Mapping[Quantity, float] | None = field(default_factory=lambda: dict(AIR))
    asked: list[datetime] = field(default_factory=list)

    def measure(self, at: datetime) -> Mapping[Quantity, float] | None:
        self.asked.append(at)
        return self.values


def one_json() -> Pretended:
    return Pretended("bench", ("shop/{sensor}/air",))


def plain_numbers() -> Pretended:
    return Pretended("drying-rack", ("shop/{sensor}/temperature", "shop/{sensor}/humidity"))


@pytest.fixture(scope="module")
def declared() -> Declared:
    return SHIPPED


def sent(declared: Declared, *sources: Pretended) -> list[tuple[str, str]]:
    return Replay(declared, sources, FakeClock(START)).messages(START)


def heard(declared: Declared, topic: str, text: str) -> list[Measured | Rejected]:
    return decode(declared, Message(topic, text.encode(), START, 0.0))


def test_one_sensor_sends_one_json_object(declared: Declared) -> None:
    [(topic, text)] = sent(declared, one_json())
    assert topic == "shop/bench/air"
    assert json.loads(text) == {"temperature": 21.5, "humidity": 48.5, "air_speed": 1.2, "pressure": 1013.25}


def test_another_sends_a_plain_number_a_topic(declared: Declared) -> None:
    assert sent(declared, plain_numbers()) == [
        ("shop/drying-rack/temperature", "21.5"),
        ("shop/drying-rack/humidity", "48.5"),
    ]


@pytest.mark.parametrize("topic", NAMED)
def test_every_declared_form_can_be_spoken_and_is_understood(declared: Declared, topic: str) -> None:
    everything = {**AIR, Quantity.SURFACE_TEMPERATURE: 290.0, Quantity.WEIGHT: 4.2}
    [(address, text)] = sent(declared, Pretended("bench", (topic,), everything))
    understood = heard(declared, address, text)
    assert understood
    for one in understood:
        assert isinstance(one, Measured)
        assert one.value == pytest.approx(everything[one.quantity], rel=1e-3)


def test_what_a_sensor_does_not_measure_is_left_out(declared: Declared) -> None:
    [(_, text)] = sent(declared, Pretended("bench", ("shop/{sensor}/air",), {T: 294.65, RH: 0.5}))
    assert json.loads(text) == {"temperature": 21.5, "humidity": 50.0}


def test_nothing_measured_is_no_message(declared: Declared) -> None:
    assert sent(declared, Pretended("bench", ("shop/{sensor}/air", "shop/{sensor}/weight"), {V: 1.0})) == [
        ("shop/bench/air", '{"air_speed": 1.0}')
    ]


def test_a_silent_sensor_sends_nothing_and_the_others_go_on(declared: Declared) -> None:
    silent = one_json()
    silent.values = None
    assert [topic for topic, _ in sent(declared, silent, plain_numbers())] == [
        "shop/drying-rack/temperature",
        "shop/drying-rack/humidity",
    ]


@pytest.mark.parametrize("source", [one_json, plain_numbers])
def test_no_number_is_sent_as_such_and_turned_away_by_the_decoder(
    declared: Declared, source: Callable[[], Pretended]
) -> None:
    broken = source()
    broken.values = {T: 294.65, RH: math.nan}
    refused = [one for topic, text in sent(declared, broken) for one in heard(declared, topic, text)]
    assert [one.reason for one in refused if isinstance(one, Rejected)] == [Reason.NOT_FINITE]


def test_the_number_of_a_loose_probe_arrives_exactly(declared: Declared) -> None:
    """-1000 must stay -1000 on its way through the units, or it is not known for what it is."""
    loose = Pretended("bench", ("shop/{sensor}/air",), {T: 273.15 - 1000.0, RH: 0.5})
    [(_, text)] = sent(declared, loose)
    assert json.loads(text)["temperature"] == -1000.0


def test_nested_fields_are_built() -> None:
    table = {
        "pattern": "a/{sensor}",
        "values": [{"quantity": "pressure", "unit": "Pa", "field": "air.now.p"}],
    }
    nested = check_data({"messages": [table]}, "sensors.toml", Declared)
    text = payload(nested.messages[0], AIR)
    assert text is not None
    assert json.loads(text) == {"air": {"now": {"p": 101325.0}}}


def test_a_topic_nobody_declared_is_told_at_once(declared: Declared) -> None:
    with pytest.raises(BadInput, match="barn") as caught:
        Replay(declared, [Pretended("bench", ("barn/{sensor}",))], FakeClock(START))
    assert caught.value.code == "topic_undeclared"


# Over a real broker


def until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + WAIT_S
    while not true():
        assert time.monotonic() < end, "it did not happen in time"
        time.sleep(0.02)


@pytest.fixture
def stop() -> Iterator[threading.Event]:
    event = threading.Event()
    yield event
    event.set()


def play(replay: Replay, address: BrokerAddress, stop: threading.Event) -> threading.Thread:
    thread = threading.Thread(target=replay.run, args=(address, stop), daemon=True)
    thread.start()
    return thread


def test_its_readings_come_in_through_a_real_broker(
    declared: Declared, broker: EmbeddedBroker, stop: threading.Event
) -> None:
    clock = FastClock(START, 600.0)  # a step every half second
    intake = FakeIntake()
    client = Client(broker.address("listener"), declared, intake, clock)
    client.start()
    until(lambda: client.connected)
    thread = play(Replay(declared, [one_json(), plain_numbers()], clock), broker.address("unused"), stop)
    try:
        until(lambda: len(intake.readings) >= 12)
    finally:
        stop.set()
        thread.join(WAIT_S)
        client.stop()
    assert not thread.is_alive()
    assert {(r.sensor, r.quantity) for r in intake.readings} == {
        *(("bench", quantity) for quantity in AIR),
        ("drying-rack", T),
        ("drying-rack", RH),
    }
    assert all(r.value == pytest.approx(AIR[r.quantity], rel=1e-4) for r in intake.readings)
    assert intake.rejects == []


def test_it_speaks_once_a_step_and_only_on_full_steps(
    declared: Declared, broker: EmbeddedBroker, stop: threading.Event
) -> None:
    clock, source = FakeClock(START), one_json()
    play(Replay(declared, [source], clock), broker.address("unused"), stop)
    until(lambda: len(source.asked) == 1)
    clock.advance(292.999)  # to a blink before 8:05
    time.sleep(0.3)
    assert source.asked == [START.replace(second=0)]
    clock.advance(0.001)
    until(lambda: len(source.asked) == 2)
    assert source.asked[-1] == START.replace(minute=5, second=0)


def test_steps_that_passed_unseen_are_left_out(
    declared: Declared, broker: EmbeddedBroker, stop: threading.Event
) -> None:
    clock, source = FakeClock(START), one_json()
    play(Replay(declared, [source], clock), broker.address("unused"), stop)
    until(lambda: len(source.asked) == 1)
    clock.advance(3600.0)
    until(lambda: len(source.asked) == 2)
    assert source.asked[1] - source.asked[0] == timedelta(hours=1)


def test_while_the_broker_is_away_nothing_is_measured_and_it_ends_when_told(
    declared: Declared, stop: threading.Event
) -> None:
    source = one_json()
    replay = Replay(declared, [source], FakeClock(START))
    thread = play(replay, BrokerAddress(port=free_port()), stop)
    time.sleep(0.3)
    assert source.asked == []
    stop.set()
    thread.join(3.0)
    assert not thread.is_alive()


def test_it_finds_a_broker_that_comes_up_later(declared: Declared, stop: threading.Event) -> None:
    port, source = free_port(), one_json()
    play(Replay(declared, [source], FakeClock(START)), BrokerAddress(port=port), stop)
    time.sleep(0.2)
    broker = EmbeddedBroker(port=port)
    broker.start()
    try:
        until(lambda: len(source.asked) == 1)
    finally:
        stop.set()
        broker.stop()


def test_it_gives_the_brokers_name_and_password(declared: Declared, stop: threading.Event) -> None:
    broker = EmbeddedBroker(port=free_port(), user="shellroom", password="low tide")
    broker.start()
    source = one_json()
    try:
        play(Replay(declared, [source], FakeClock(START)), broker.address("unused"), stop)
        until(lambda: len(source.asked) == 1)
    finally:
        stop.set()
        broker.stop()
