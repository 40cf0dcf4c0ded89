"""Says to a push service who is sending: a token signed with the shop's own key (RFC 8292, ES256 of RFC 7518)."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path
from urllib.parse import urlsplit

from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ec import (
    ECDSA,
    SECP256R1,
    EllipticCurvePrivateKey,
    generate_private_key,
)
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)

from service.alerts.push.base64url import to_text
from service.alerts.push.encrypt import public_bytes
from service.errors import Unavailable
from service.records.files import bytes_of, files_in_words, make_folder
from service.records.secret_file import write_secret
from service.voice import say

KEY_FILE = "push.key"
HOLDS_FOR = timedelta(hours=12)
"""A token may hold for a day at most (RFC 8292 section 2); half of it leaves room for a clock that is off."""
NUMBER_LENGTH = 32


class PushKey:
    """The shop's key for push services, made when it is first used; only its owner may read it.

    Browsers that were switched on with one key take nothing signed with another.
    """

    def __init__(self, folder: Path) -> None:
        """Raises Unavailable where the key cannot be read or made."""
        self.file = folder / KEY_FILE
        with files_in_words(self.file):
            make_folder(folder)
            self._key = self._read() if self.file.exists() else self._make()

    @property
    def public(self) -> str:
        """The public half as browsers want it."""
        return to_text(public_bytes(self._key))

    def authorization(self, endpoint: str, contact: str, now: datetime) -> str:
        """The Authorization header for a push to `endpoint`. `now`: real time, whatever the shop's clock says."""
        claims = {"aud": origin(endpoint), "exp": int((now + HOLDS_FOR).timestamp()), "sub": contact}
        said = f"{_part({'typ': 'JWT', 'alg': 'ES256'})}.{_part(claims)}"
        return f"vapid t={said}.{to_text(self._sign(said.encode()))}, k={self.public}"

    def _sign(self, said: bytes) -> bytes:
        """RFC 7518 section 3.4: both numbers of the signature, each in 32 bytes."""
        numbers = decode_dss_signature(self._key.sign(said, ECDSA(SHA256())))
        return b"".join(number.to_bytes(NUMBER_LENGTH, "big") for number in numbers)

    def _read(self) -> EllipticCurvePrivateKey:
        try:
            key = load_pem_private_key(bytes_of(self.file), password=None)
        except (ValueError, UnsupportedAlgorithm) as error:
            raise _bad_key(self.file) from error
        if not isinstance(key, EllipticCurvePrivateKey) or not isinstance(key.curve, SECP256R1):
            raise _bad_key(self.file)
        return key

    def _make(self) -> EllipticCurvePrivateKey:
        key = generate_private_key(SECP256R1())
        write_secret(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()), self.file)
        return key


def origin(endpoint: str) -> str:
    """Scheme, host and port if it is not the usual one: what a token is meant for (RFC 6454 section 6.1)."""
    parts = urlsplit(endpoint)
    usual = {"https": 443, "http": 80}.get(parts.scheme)
    host = parts.hostname or ""
    host = f"[{host}]" if ":" in host else host
    return f"{parts.scheme}://{host}" + (f":{parts.port}" if parts.port not in (None, usual) else "")


def _part(data: dict[str, object]) -> str:
    return to_text(json.dumps(data, separators=(",", ":")).encode())


def _bad_key(file: Path) -> Unavailable:
    return Unavailable(
        "push_key_unreadable",
        say("The key that browsers know coatbell by, {file}, is damaged.", file=file),
        say(
            "Move it elsewhere and load the page again: a new one is made, and each browser is switched on "
            "once more."
        ),
    )
