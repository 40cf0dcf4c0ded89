"""Ports for servers that tests start: none that the system gives to a connection, and none twice.

A port that is merely free just now may be some connection's own a moment later, when the server comes to take it.
Linux gives connections ports from 32768 on; these lie below.
"""

from __future__ import annotations

import os
import random
import socket
from itertools import cycle, islice

FIRST, END = 20_000, 32_000
_ports = cycle(range(FIRST, END))
_begin = random.Random(os.getpid()).randrange(END - FIRST)
next(islice(_ports, _begin, _begin), None)  # each process begins somewhere else


def free_port(host: str = "127.0.0.1") -> int:
    """One nobody listens on, and that no other test of this process was given lately."""
    return next(port for port in _ports if _bindable(host, port))


def _bindable(host: str, port: int) -> bool:
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
        try:
            probe.bind((host, port))
        except OSError:
            return False
    return True
