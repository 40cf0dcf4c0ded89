"""Ports for servers that tests start."""

from __future__ import annotations

import socket
from contextlib import suppress
from pathlib import Path

from tests.parts import missing
from tests.ports import END, FIRST, free_port


def test_none_is_given_twice_and_none_that_is_taken() -> None:
    given = [free_port() for _ in range(50)]
    assert len(set(given)) == 50
    assert all(FIRST <= port < END for port in given)


def test_one_that_is_taken_is_passed_over() -> None:
    before = free_port()
    following = before + 1 if before + 1 < END else FIRST
    with socket.socket() as holder:
        with suppress(OSError):  # somebody else holds it: as good
            holder.bind(("127.0.0.1", following))
        assert free_port() != following


def test_none_that_a_connection_may_get() -> None:
    told = Path("/proc/sys/net/ipv4/ip_local_port_range")
    if not told.exists():
        missing("Only Linux tells which ports it gives to connections.")
    assert int(told.read_text().split()[0]) >= END
