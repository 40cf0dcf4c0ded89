"""The library's client as both connections use it."""

from __future__ import annotations

from typing import cast

import pytest
from paho.mqtt.client import MQTTMessage

from sensors.address import BrokerAddress
from sensors.mqtt import MOST_UNDER_WAY, make_mqtt, topic_of
from service.errors import BadInput


def test_a_fault_in_a_callback_ends_nothing_and_no_session_is_kept() -> None:
    mqtt = make_mqtt(BrokerAddress(client_id="shellroom"))
    assert mqtt.suppress_exceptions
    assert mqtt._clean_session
    assert mqtt._client_id == b"shellroom"
    assert mqtt.max_queued_messages == MOST_UNDER_WAY


def test_user_and_password_are_given() -> None:
    mqtt = make_mqtt(BrokerAddress(user="bench", password="wet gloves"))
    assert (mqtt.username, mqtt.password) == ("bench", "wet gloves")


@pytest.mark.parametrize("address", [BrokerAddress(host=""), BrokerAddress(port=0)])
def test_what_is_no_address_is_refused(address: BrokerAddress) -> None:
    with pytest.raises(BadInput) as told:
        make_mqtt(address)
    assert told.value.code == "broker_address_wrong"


class _Odd:
    @property
    def topic(self) -> str:
        raise UnicodeDecodeError("utf-8", b"\xff", 0, 1, "invalid start byte")


def test_a_topic_that_is_no_text_has_a_name() -> None:
    assert topic_of(MQTTMessage(topic=b"shop/bench")) == "shop/bench"
    assert topic_of(cast(MQTTMessage, _Odd())) == "(not text)"
