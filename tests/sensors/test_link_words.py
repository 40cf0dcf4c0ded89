"""Every way a broker can fail is told with what to do."""

from __future__ import annotations

import errno
import socket
import ssl
from dataclasses import replace

import pytest

from sensors import link_words
from sensors.address import BrokerAddress

HOME = BrokerAddress("shed.local", 1883, user="bench", password="secret", client_id="shellroom")


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (ConnectionRefusedError(errno.ECONNREFUSED, "refused"), "No broker answers at shed.local:1883."),
        (socket.gaierror(-2, "unknown"), "“shed.local” is not known on this network."),
        (UnicodeError("label too long"), "“shed.local” is not known on this network."),
        (ssl.SSLCertVerificationError("self-signed"), "not trusted"),
        (ssl.SSLError("wrong version number"), "does not answer with TLS"),
        (TimeoutError("timed out"), "cannot be reached: timed out"),
        (OSError(errno.ENETUNREACH, "Network is unreachable"), "Network is unreachable"),
    ],
)
def test_a_failure_to_connect_is_told(error: Exception, words: str) -> None:
    told = link_words.failed(HOME, error)
    assert words in told
    assert "Check" in told


def test_a_connection_reset_during_the_tls_greeting_is_no_tls() -> None:
    reset = ConnectionResetError(errno.ECONNRESET, "Connection reset by peer")
    assert "does not answer with TLS" in link_words.failed(replace(HOME, tls=True), reset)
    assert "Connection reset by peer" in link_words.failed(HOME, reset)


@pytest.mark.parametrize("reason", ["Bad user name or password", "Not authorized"])
def test_a_refused_user_is_told(reason: str) -> None:
    assert "user name or password" in link_words.refused(HOME, reason)


def test_another_refusal_keeps_the_brokers_reason() -> None:
    assert "client identifier not valid" in link_words.refused(HOME, "Client identifier not valid")


def test_the_name_that_is_used_twice_is_told() -> None:
    assert "“shellroom”" in link_words.thrown_out(HOME)


def test_a_topic_that_may_not_be_read_is_told() -> None:
    assert "“shop/#”" in link_words.may_not_listen(HOME, "shop/#")


def test_no_words_hold_the_password() -> None:
    told = [link_words.listening(HOME), link_words.lost(HOME), link_words.no_answer(HOME), repr(HOME)]
    assert all("secret" not in words and "shed.local" in words for words in told)
