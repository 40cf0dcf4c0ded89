"""A client of the MQTT library, set up to speak with the broker at an address."""

from __future__ import annotations

from paho.mqtt.client import Client as Mqtt
from paho.mqtt.client import MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from sensors.address import BrokerAddress
from service.errors import BadInput
from service.voice import say

KEEP_ALIVE_S = 30
CONNECT_S = 5.0
MOST_UNDER_WAY = 500  # messages the library holds for the broker at a time


def make_mqtt(address: BrokerAddress) -> Mqtt:
    """Not connected yet; what goes wrong in a callback is logged and ends nothing.

    The session is a clean one: what a broker keeps for us while we are away would come late, without its hour, and
    be taken for air of now. Raises BadInput for an address that cannot be one.
    """
    mqtt = Mqtt(CallbackAPIVersion.VERSION2, client_id=address.client_id, clean_session=True)
    mqtt.suppress_exceptions = True
    mqtt.connect_timeout = CONNECT_S
    mqtt.max_queued_messages = MOST_UNDER_WAY
    if address.user is not None:
        mqtt.username_pw_set(address.user, address.password)
    context = address.tls_context()
    if context is not None:
        mqtt.tls_set_context(context)
    try:
        mqtt.connect_async(address.host, address.port, KEEP_ALIVE_S)
    except ValueError as error:
        raise BadInput(
            "broker_address_wrong",
            say("“{address}” is no broker's address.", address=address.words),
            say("Write a host and a port."),
        ) from error
    return mqtt


def topic_of(message: MQTTMessage) -> str:
    try:
        return message.topic
    except UnicodeDecodeError:
        return "(not text)"
