"""Where a push may go: an address that a browser gave us, so never into the shop's own network."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Callable
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address
from urllib.parse import urlsplit

from service.errors import BadInput
from service.voice import say

LONGEST = 2000
PORTS = {"https": 443, "http": 80}
TRANSLATED = ipaddress.IPv6Network("64:ff9b::/96")
"""Where a network without IPv4 shows the IPv4 internet (RFC 6052 section 2.1)."""
Resolve = Callable[[str, int], list[str]]


@dataclass(frozen=True, slots=True)
class Endpoint:
    """A push service's address, taken apart. host: as its certificate names it. path: with its query."""

    host: str
    port: int
    path: str
    encrypted: bool


def resolve(host: str, port: int) -> list[str]:
    """The addresses of a name. Raises OSError."""
    found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    return list(dict.fromkeys(str(entry[4][0]) for entry in found))


def read_endpoint(url: str, loopback: bool = False) -> Endpoint:
    """The parts of an https address. loopback: for tests, one on this machine, which may do without encryption.

    Raises BadInput.
    """
    endpoint = _parts(url)
    if endpoint is None or (not endpoint.encrypted and not loopback):
        raise _not_one(say("It must be an https address."))
    number = _number(endpoint.host)
    if number is not None and not may_go_to(number, loopback):
        raise _not_one(say("It leads into a network of one's own."))
    return endpoint


def _parts(url: str) -> Endpoint | None:
    if not url.isascii() or not url.isprintable() or " " in url or len(url) > LONGEST:
        return None
    try:
        parts = urlsplit(url)
        port = parts.port or PORTS[parts.scheme]
    except (ValueError, KeyError):
        return None
    if not parts.hostname or parts.username is not None or parts.password is not None:
        return None
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    return Endpoint(parts.hostname, port, path, parts.scheme == "https")


def addresses_of(endpoint: Endpoint, loopback: bool = False, find: Resolve = resolve) -> list[str]:
    """The numbers to connect to. A name is asked for once, so that it cannot mean another machine a moment later.

    Raises OSError where nobody knows the name, BadInput where one of its numbers leads into a network of one's own.
    """
    numbers = find(endpoint.host, endpoint.port)
    if not all(_may_get(endpoint, number, loopback) for number in numbers):
        raise _not_one(say("It leads into a network of one's own."))
    return numbers


def _may_get(endpoint: Endpoint, number: str, loopback: bool) -> bool:
    return may_go_to(number, loopback) and (endpoint.encrypted or _here(number))


def may_go_to(number: str, loopback: bool = False) -> bool:
    """Whether an IP address is one of the whole internet. Those that wrap another count as what they wrap."""
    address = ipaddress.ip_address(number.partition("%")[0])
    wrapped = _wrapped(address)
    if wrapped is not None:
        return may_go_to(str(wrapped), loopback)
    if address.is_loopback:
        return loopback
    return address.is_global and not address.is_multicast and not address.is_reserved


def _wrapped(address: IPv4Address | IPv6Address) -> IPv4Address | None:
    if isinstance(address, IPv4Address):
        return None
    inside = IPv4Address(address.packed[-4:]) if address in TRANSLATED else None
    return address.ipv4_mapped or address.sixtofour or inside


def _here(number: str) -> bool:
    return ipaddress.ip_address(number.partition("%")[0]).is_loopback


def _number(host: str) -> str | None:
    """The host itself where it is a number and no name."""
    try:
        return str(ipaddress.ip_address(host))
    except ValueError:
        return None


def _not_one(why: str) -> BadInput:
    return BadInput(
        "endpoint_wrong",
        say("That is no address messages can be pushed to. {why}", why=why),
        say("Switch it on by the button on the page “Messages”, in the browser that is to ring."),
        "endpoint",
    )
