"""What to say when the broker cannot be reached, and what to do about it."""

from __future__ import annotations

import socket
import ssl

from sensors.address import BrokerAddress

BAD_USER = ("Bad user name or password", "Not authorized")


def listening(address: BrokerAddress) -> str:
    return f"Listening at {address.words}."


def lost(address: BrokerAddress) -> str:
    return f"The connection to the broker at {address.words} was lost; trying again."


def no_answer(address: BrokerAddress) -> str:
    return f"What answers at {address.words} is no MQTT broker. Check host and port in site.toml."


def may_not_listen(address: BrokerAddress, topic_filter: str) -> str:
    return (
        f"The broker at {address.words} does not let coatbell listen to “{topic_filter}”. "
        "Give its user leave to read it."
    )


def thrown_out(address: BrokerAddress) -> str:
    return (
        f"The broker at {address.words} ends the connection again and again. Another coatbell may be using the same "
        f"client_id “{address.client_id}”: give each its own in site.toml."
    )


def refused(address: BrokerAddress, reason: str) -> str:
    """`reason`: the name of an MQTT reason code."""
    if reason in BAD_USER:
        return f"The broker at {address.words} refused the user name or password. Check both in site.toml."
    return f"The broker at {address.words} refused the connection: {reason.lower()}."


def failed(address: BrokerAddress, error: Exception) -> str:
    where = address.words
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"The certificate of the broker at {where} is not trusted. Check ca_file, and that the host is its name."
    if isinstance(error, ssl.SSLError) or (address.tls and isinstance(error, ConnectionResetError)):
        return f"The broker at {where} does not answer with TLS. Check its port, and tls in site.toml."
    if isinstance(error, socket.gaierror | UnicodeError):
        return f"“{address.host}” is not known on this network. Check the broker's host in site.toml."
    if isinstance(error, ConnectionRefusedError):
        return f"No broker answers at {where}. Check that it runs, and host and port in site.toml."
    return f"The broker at {where} cannot be reached: {error}. Check the network."
