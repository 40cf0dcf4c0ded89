"""The client against a real Mosquitto: stopped and started in mid-run, with TLS, with passwords."""

from __future__ import annotations

import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from sensors.address import BrokerAddress
from sensors.client import Client
from sensors.fakes import FakeIntake
from service.clock import SystemClock
from service.reading import Freshness, Reason
from tests.parts import need_program
from tests.sensors.helpers import Publisher, shipped, wait_for
from tests.sensors.mosquitto import Mosquitto, system_program

pytestmark = pytest.mark.mosquitto

Begin = Callable[[BrokerAddress], Client]


@pytest.fixture
def intake() -> FakeIntake:
    return FakeIntake()


@pytest.fixture
def begin(intake: FakeIntake) -> Iterator[Begin]:
    clients: list[Client] = []

    def start(address: BrokerAddress) -> Client:
        client = Client(address, shipped(), intake, SystemClock(), first_wait_s=0.05, longest_wait_s=0.2)
        clients.append(client)
        client.start()
        return client

    yield start
    for client in clients:
        client.stop()


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Mosquitto]:
    mosquitto = Mosquitto(tmp_path, "allow_anonymous true")
    mosquitto.start()
    yield mosquitto
    mosquitto.kill()


def freshness(client: Client) -> Freshness:
    (bench,) = client.watch.snapshot(SystemClock().now())
    return bench.freshness


@pytest.mark.parametrize("ending", ["stop", "kill"])
def test_a_broker_stopped_and_started_in_mid_run(
    mosquitto: Mosquitto, intake: FakeIntake, begin: Begin, ending: str
) -> None:
    home = BrokerAddress(port=mosquitto.port)
    client = begin(home)
    assert wait_for(lambda: client.connected)

    sensor = Publisher(home)
    for n in range(100):
        sensor.send("shop/bench/weight", str(n), retain=True)
    assert wait_for(lambda: len(intake.readings) == 100), "a reading was lost while connected"
    sensor.close()

    getattr(mosquitto, ending)()
    assert wait_for(lambda: not client.connected)
    assert client.alive
    last_good = client.watch.snapshot(SystemClock().now())[0].last_good

    mosquitto.start()
    assert wait_for(lambda: client.connected)
    if ending == "stop":  # what is retained is saved on an orderly end only
        assert wait_for(lambda: [r.reason for r in intake.rejects] == [Reason.RETAINED])
    assert len(intake.readings) == 100
    assert client.watch.snapshot(SystemClock().now())[0].last_good == last_good

    sensor = Publisher(home)
    for n in range(100, 200):
        sensor.send("shop/bench/weight", str(n), retain=True)
    assert wait_for(lambda: len(intake.readings) == 200), "the subscription was not renewed"
    assert [reading.value for reading in intake.readings] == [float(n) for n in range(200)]
    assert freshness(client) is Freshness.FRESH
    sensor.close()

    connected = [link[0] for link in intake.links]
    assert connected[0] is True
    assert connected[-1] is True
    assert connected[1:-1]
    assert not any(connected[1:-1])


def test_what_is_retained_before_our_start_is_old(
    mosquitto: Mosquitto, intake: FakeIntake, begin: Begin
) -> None:
    home = BrokerAddress(port=mosquitto.port)
    sensor = Publisher(home)
    sensor.send("shop/bench/temperature", "21", retain=True)
    client = begin(home)
    assert wait_for(lambda: bool(intake.rejects))
    assert freshness(client) is Freshness.NEVER
    sensor.close()


def test_readings_go_on_while_the_broker_restarts_again_and_again(
    mosquitto: Mosquitto, intake: FakeIntake, begin: Begin
) -> None:
    home = BrokerAddress(port=mosquitto.port)
    client = begin(home)
    for turn in range(3):
        assert wait_for(lambda: client.connected)
        sensor = Publisher(home)
        sensor.send("shop/bench/weight", str(turn))
        assert wait_for(lambda turn=turn: len(intake.readings) == turn + 1)
        sensor.close()
        mosquitto.stop()
        assert wait_for(lambda: not client.connected)
        mosquitto.start()
    assert wait_for(lambda: client.connected)
    assert threading.active_count() < 10


def test_it_stops_within_a_second(mosquitto: Mosquitto, begin: Begin) -> None:
    client = begin(BrokerAddress(port=mosquitto.port))
    assert wait_for(lambda: client.connected)
    began = time.monotonic()
    client.stop()
    assert time.monotonic() - began < 1.0


def test_two_clients_of_one_name_are_told_why_they_are_thrown_out(
    mosquitto: Mosquitto, intake: FakeIntake, begin: Begin
) -> None:
    for _ in range(2):
        begin(BrokerAddress(port=mosquitto.port, client_id="shellroom"))
    assert wait_for(lambda: any("same client_id “shellroom”" in link[2] for link in intake.links), 10)


def test_users_and_passwords(tmp_path: Path, intake: FakeIntake, begin: Begin) -> None:
    passwords = tmp_path / "passwords"
    subprocess.run(
        [system_program("mosquitto_passwd"), "-c", "-b", str(passwords), "bench", "wet gloves"],
        check=True,
        capture_output=True,
    )
    mosquitto = Mosquitto(tmp_path, "allow_anonymous false", f"password_file {passwords}")
    mosquitto.start()
    wrong = begin(BrokerAddress(port=mosquitto.port, user="bench", password="dry gloves"))
    assert wait_for(lambda: bool(intake.links))
    assert "refused the user name or password" in intake.links[0][2]
    wrong.stop()
    right = begin(BrokerAddress(port=mosquitto.port, user="bench", password="wet gloves"))
    assert wait_for(lambda: right.connected)
    right.stop()
    mosquitto.kill()


def make_certificate(folder: Path, name: str, alternative: str) -> Path:
    """A certificate that signs itself, with its key beside it."""
    subprocess.run(
        [
            need_program("openssl"), "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2",
            "-subj", f"/CN={name}", "-addext", f"subjectAltName={alternative}",
            "-keyout", str(folder / f"{name}.key"), "-out", str(folder / f"{name}.pem"),
        ],
        check=True,
        capture_output=True,
    )  # fmt: skip
    return folder / f"{name}.pem"


@pytest.fixture
def secure(tmp_path: Path) -> Iterator[tuple[Mosquitto, Path]]:
    """A broker with TLS, and the certificate that vouches for it."""
    certificate = make_certificate(tmp_path, "broker", "IP:127.0.0.1")
    lines = [f"cafile {certificate}", f"certfile {certificate}", f"keyfile {certificate.with_suffix('.key')}"]
    mosquitto = Mosquitto(tmp_path, *lines, "allow_anonymous true")
    mosquitto.start()
    yield mosquitto, certificate
    mosquitto.kill()


def test_readings_come_in_over_tls(secure: tuple[Mosquitto, Path], intake: FakeIntake, begin: Begin) -> None:
    mosquitto, certificate = secure
    home = BrokerAddress(port=mosquitto.port, tls=True, ca_file=certificate)
    client = begin(home)
    assert wait_for(lambda: client.connected)
    sensor = Publisher(home)
    sensor.send("shop/bench/weight", "5")
    assert wait_for(lambda: len(intake.readings) == 1)
    sensor.close()


def test_a_certificate_of_somebody_else_is_not_trusted(
    secure: tuple[Mosquitto, Path], tmp_path: Path, intake: FakeIntake, begin: Begin
) -> None:
    other = make_certificate(tmp_path, "other", "IP:127.0.0.1")
    client = begin(BrokerAddress(port=secure[0].port, tls=True, ca_file=other))
    assert wait_for(lambda: bool(intake.links))
    assert "is not trusted" in intake.links[0][2]
    assert not client.connected


def test_a_certificate_for_another_host_is_not_trusted(
    secure: tuple[Mosquitto, Path], intake: FakeIntake, begin: Begin
) -> None:
    client = begin(BrokerAddress("localhost", secure[0].port, tls=True, ca_file=secure[1]))
    assert wait_for(lambda: bool(intake.links))
    assert "is not trusted" in intake.links[0][2]
    assert not client.connected


def test_tls_to_a_broker_without_it_is_told(mosquitto: Mosquitto, intake: FakeIntake, begin: Begin) -> None:
    client = begin(BrokerAddress(port=mosquitto.port, tls=True))
    assert wait_for(lambda: bool(intake.links))
    assert "does not answer with TLS" in intake.links[0][2]
    assert client.alive


def test_a_broker_with_tls_spoken_to_without_it_is_told(
    secure: tuple[Mosquitto, Path], intake: FakeIntake, begin: Begin
) -> None:
    client = begin(BrokerAddress(port=secure[0].port))
    assert wait_for(lambda: bool(intake.links))
    assert "is no MQTT broker" in intake.links[0][2]
    assert client.alive
