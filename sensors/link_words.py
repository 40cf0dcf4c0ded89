"""What to say when the broker cannot be reached, and what to do about it."""

from __future__ import annotations

import socket
import ssl

from sensors.address import BrokerAddress
from service.held import held

BAD_USER = ("Bad user name or password", "Not authorized")


def listening(address: BrokerAddress) -> str:
    return held("Listening at {address}.", address=address.words)


def lost(address: BrokerAddress) -> str:
    return held("The connection to the broker at {address} was lost; trying again.", address=address.words)


def no_answer(address: BrokerAddress) -> str:
    return held(
        "What answers at {address} is no MQTT broker. Check host and port in site.toml.",
        address=address.words,
    )


def may_not_listen(address: BrokerAddress, topic_filter: str) -> str:
    return held(
        "The broker at {address} does not let coatbell listen to “{topic_filter}”. Give its user leave "
        "to read it.",
        address=address.words,
        topic_filter=topic_filter,
    )


def thrown_out(address: BrokerAddress) -> str:
    return held(
        "The broker at {address} ends the connection again and again. Another coatbell may be using the "
        "same client_id “{client_id}”: give each its own in site.toml.",
        address=address.words,
        client_id=address.client_id,
    )


def refused(address: BrokerAddress, reason: str) -> str:
    """`reason`: the name of an MQTT reason code."""
    if reason in BAD_USER:
        return held(
            "The broker at {address} refused the user name or password. Check both in site.toml.",
            address=address.words,
        )
    return held(
        "The broker at {address} refused the connection: {reason}.",
        address=address.words,
        reason=reason.lower(),
    )


def failed(address: BrokerAddress, error: Exception) -> str:
    where = address.words
    if isinstance(error, ssl.SSLCertVerificationError):
        return held(
            "The certificate of the broker at {where} is not trusted. Check ca_file, and that the host is "
            "its name.",
            where=where,
        )
    if isinstance(error, ssl.SSLError) or (address.tls and isinstance(error, ConnectionResetError)):
        return held(
            "The broker at {where} does not answer with TLS. Check its port, and tls in site.toml.",
            where=where,
        )
    if isinstance(error, socket.gaierror | UnicodeError):
        return held(
            "“{host}” is not known on this network. Check the broker's host in site.toml.", host=address.host
        )
    if isinstance(error, ConnectionRefusedError):
        return held(
            "No broker answers at {where}. Check that it runs, and host and port in site.toml.", where=where
        )
    return held(
        "The broker at {where} cannot be reached: {error}. Check the network.", where=where, error=error
    )
