"""Retained topics at a real Mosquitto: killed and started again, with passwords, with leave for its own topics only."""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from sensors.address import BrokerAddress
from sensors.publisher import Publisher
from tests.sensors.helpers import wait_for
from tests.sensors.lamp import Lamp
from tests.sensors.mosquitto import Mosquitto, system_program

pytestmark = pytest.mark.mosquitto

ROOT = "coatbell/1"
STATE = f"{ROOT}/mould/3/state"
Begin = Callable[[BrokerAddress], Publisher]


@pytest.fixture
def begin() -> Iterator[Begin]:
    publishers: list[Publisher] = []

    def start(address: BrokerAddress) -> Publisher:
        publisher = Publisher(address, ROOT, first_wait_s=0.05, longest_wait_s=0.2)
        publishers.append(publisher)
        publisher.start()
        return publisher

    yield start
    for publisher in publishers:
        publisher.stop()


def seen_by_a_new_lamp(home: BrokerAddress, wanted: dict[str, str]) -> bool:
    lamp = Lamp(home, name="new lamp")
    found = wait_for(lambda: lamp.now == wanted)
    lamp.close()
    return found


def test_killed_ten_times_it_is_told_again_each_time(tmp_path: Path, begin: Begin) -> None:
    """What changed while the broker was away is there afterwards; what went meanwhile is not."""
    mosquitto = Mosquitto(tmp_path, "allow_anonymous true")
    home = BrokerAddress(port=mosquitto.port)
    publisher = begin(home)
    for turn in range(10):
        publisher.show({f"{ROOT}/mould/{turn}/state": "dip", STATE: str(turn)})
        mosquitto.start()
        wanted = {f"{ROOT}/mould/{turn}/state": "dip", STATE: str(turn), f"{ROOT}/alive": "1"}
        assert seen_by_a_new_lamp(home, wanted), turn
        mosquitto.kill()
        assert wait_for(lambda: not publisher.connected)


def test_what_went_while_a_broker_with_a_memory_was_away(tmp_path: Path, begin: Begin) -> None:
    mosquitto = Mosquitto(tmp_path, "allow_anonymous true")
    home = BrokerAddress(port=mosquitto.port)
    mosquitto.start()
    publisher = begin(home)
    publisher.show({STATE: "dewax"})
    assert seen_by_a_new_lamp(home, {STATE: "dewax", f"{ROOT}/alive": "1"})
    mosquitto.stop()  # it keeps what is retained
    assert wait_for(lambda: not publisher.connected)
    publisher.show({})
    mosquitto.start()
    assert wait_for(lambda: seen_by_a_new_lamp(home, {f"{ROOT}/alive": "1"}))
    mosquitto.kill()


def test_an_account_with_leave_for_its_own_topics_only(tmp_path: Path, begin: Begin) -> None:
    passwords, leave = tmp_path / "passwords", tmp_path / "leave"
    subprocess.run(
        [system_program("mosquitto_passwd"), "-c", "-b", str(passwords), "shellroom", "wet gloves"],
        check=True,
        capture_output=True,
    )
    leave.write_text("user shellroom\ntopic readwrite coatbell/#\ntopic read shop/#\n")
    mosquitto = Mosquitto(
        tmp_path, "allow_anonymous false", f"password_file {passwords}", f"acl_file {leave}"
    )
    mosquitto.start()
    home = BrokerAddress(port=mosquitto.port, user="shellroom", password="wet gloves")
    begin(home).show({STATE: "dip"})
    assert seen_by_a_new_lamp(home, {STATE: "dip", f"{ROOT}/alive": "1"})
    wrong = begin(BrokerAddress(port=mosquitto.port, user="shellroom", password="dry", client_id="other"))
    wrong.show({STATE: "wait"})
    assert wait_for(lambda: wrong._trouble is not None)
    assert not wrong.connected
    mosquitto.kill()
