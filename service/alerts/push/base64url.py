"""Base64 as addresses and keys of web push are written: letters for addresses, without padding (RFC 4648 section 5)."""

from __future__ import annotations

import base64
import binascii


def to_text(data: bytes) -> str:
    """As text, unpadded."""
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def to_bytes(text: str) -> bytes:
    """From text, padded or not. Raises ValueError for anything but its letters."""
    if "+" in text or "/" in text:  # the library would take them for their counterparts
        raise ValueError("not base64url")
    bare = text.rstrip("=")
    try:
        return base64.b64decode(bare + "=" * (-len(bare) % 4), altchars=b"-_", validate=True)
    except binascii.Error as error:
        raise ValueError("not base64url") from error
