"""Links by which a message is answered without the shop key: signed with a key of the shop's own, good for a while.

HMAC-SHA256 (RFC 2104), cut to 18 of its 32 bytes for the sake of SMS; its section 5 wants half of them at least.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from itsdangerous import BadData, URLSafeSerializer
from itsdangerous.signer import HMACAlgorithm

from service.errors import ShopError
from service.voice import say

KEY_FILE = "links.key"
SIGNED_BYTES = 18
LONGEST = 2000
"""No longer token is looked at."""
LONGEST_SENT = 400
"""Nor any sent: a message of many moulds (some eighty) would be cut on its way, in the middle of the link."""


class LinkOver(ShopError):
    """It was a good link once."""

    status = 410


class LinkUnknown(ShopError):
    """No link of ours. The words are the same whatever it names, so that nothing can be found out by trying."""

    status = 404


@dataclass(frozen=True, slots=True)
class Link:
    """Who is asked about which alerts (by number), and until when the answer is taken, to the second."""

    alerts: tuple[int, ...]
    person: str
    until: datetime


class _Short(HMACAlgorithm):
    def get_signature(self, key: bytes, value: bytes) -> bytes:
        return super().get_signature(key, value)[:SIGNED_BYTES]


class ReplyLinks:
    """`base`: what links start with, such as http://shed:8321."""

    def __init__(self, key: bytes, base: str) -> None:
        self._base = base.rstrip("/")
        signed = {
            "key_derivation": "hmac",
            "digest_method": hashlib.sha256,
            "algorithm": _Short(hashlib.sha256),
        }
        self._signer = URLSafeSerializer(key, salt="reply link", signer_kwargs=signed)

    def address(self, link: Link, tap: str = "") -> str:
        """Where it leads. `tap`: what opening it says by itself."""
        return "/".join(part for part in (self._base, "r", self.token(link), tap) if part)

    def token(self, link: Link) -> str:
        """The link as one word of letters, digits, ``-``, ``_`` and ``.``."""
        return self._signed([int(link.until.timestamp()), link.person, *link.alerts])

    def fits(self, link: Link) -> bool:
        """Whether it is short enough to be sent."""
        return len(self.token(link)) <= LONGEST_SENT

    def read(self, token: str, now: datetime) -> Link:
        """What a token says. Raises LinkUnknown for any that was not made by `token`; LinkOver from its `until` on."""
        link = _link(self._said(token))
        if now >= link.until:
            raise LinkOver(
                "link_over",
                say("This link has run out."),
                say("Open the newest message, or say it on the mould's page."),
            )
        return link

    def person(self, token: str) -> str | None:
        """Who a token of ours was made for, whether or not it still holds. None: it is not ours."""
        try:
            return _link(self._said(token)).person
        except LinkUnknown:
            return None

    def _signed(self, said: Sequence[object]) -> str:
        return str(self._signer.dumps(list(said)))

    def _said(self, token: str) -> list[int | str]:
        """What was signed. Base64 can be written in several ways, of which only our own counts."""
        try:
            said: list[int | str] = self._signer.loads(token if _plain(token) else "")
        except BadData as error:
            raise unknown() from error
        if not hmac.compare_digest(self._signed(said), token):
            raise unknown()
        return said


def unknown() -> LinkUnknown:
    return LinkUnknown(
        "link_unknown",
        say("This link is not one of this shop's."),
        say(
            "Look whether it was copied whole. Links from before coatbell moved to another machine no "
            "longer hold: open the newest message, or the wall-board."
        ),
    )


def _plain(token: str) -> bool:
    return token.isascii() and len(token) <= LONGEST


def _link(said: Sequence[int | str]) -> Link:
    until, person, *alerts = said
    return Link(tuple(map(int, alerts)), str(person), datetime.fromtimestamp(int(until), UTC))
