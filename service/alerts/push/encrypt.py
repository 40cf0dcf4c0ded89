"""Encrypts a message for one browser (RFC 8291), in one record of `aes128gcm` (RFC 8188). Pure but for its chance."""

from __future__ import annotations

import os
import struct

from cryptography.hazmat.primitives.asymmetric.ec import (
    ECDH,
    SECP256R1,
    EllipticCurvePrivateKey,
    EllipticCurvePublicKey,
    generate_private_key,
)
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

RECORD_SIZE = 4096
SALT_LENGTH, AUTH_LENGTH, POINT_LENGTH = 16, 16, 65
LAST_RECORD = b"\x02"
MOST_BYTES = 3993
"""The longest message that fits a body of 4096 bytes, which every push service must take (RFC 8291 section 4)."""


def encrypt(
    message: bytes,
    browser_public: bytes,
    auth: bytes,
    own: EllipticCurvePrivateKey | None = None,
    salt: bytes | None = None,
) -> bytes:
    """The body to push: header and one sealed record.

    browser_public: its point on P-256, uncompressed. auth: its 16 secret bytes. own, salt: made anew for each message;
    given only by tests. Raises ValueError for a message over `MOST_BYTES` and for keys that are none.
    """
    if len(message) > MOST_BYTES:
        raise ValueError(f"{len(message)} bytes are more than a push may carry")
    own, salt = own or generate_private_key(SECP256R1()), salt or os.urandom(SALT_LENGTH)
    key, nonce = content_keys(input_key(own, browser_public, auth), salt)
    sealed = AESGCM(key).encrypt(nonce, message + LAST_RECORD, None)
    return header(salt, public_bytes(own)) + sealed


def input_key(own: EllipticCurvePrivateKey, browser_public: bytes, auth: bytes) -> bytes:
    """What both sides can work out and nobody else (RFC 8291 section 3.4)."""
    if len(auth) != AUTH_LENGTH:
        raise ValueError("the authentication secret has 16 bytes")
    shared = own.exchange(ECDH(), point(browser_public))
    return _derived(shared, auth, b"WebPush: info\0" + browser_public + public_bytes(own), 32)


def content_keys(input_key: bytes, salt: bytes) -> tuple[bytes, bytes]:
    """Key and nonce of the one record (RFC 8188 sections 2.2 and 2.3; the first record's number is nought)."""
    key = _derived(input_key, salt, b"Content-Encoding: aes128gcm\0", 16)
    return key, _derived(input_key, salt, b"Content-Encoding: nonce\0", 12)


def header(salt: bytes, own_public: bytes) -> bytes:
    """RFC 8188 section 2.1: salt, size of a record, and the sender's key as its name."""
    return salt + struct.pack("!IB", RECORD_SIZE, len(own_public)) + own_public


def point(public: bytes) -> EllipticCurvePublicKey:
    """A public key of P-256 from its uncompressed point. Raises ValueError if it is none."""
    if len(public) != POINT_LENGTH:
        raise ValueError("an uncompressed point of P-256 has 65 bytes")
    return EllipticCurvePublicKey.from_encoded_point(SECP256R1(), public)


def public_bytes(key: EllipticCurvePrivateKey) -> bytes:
    """The public half as an uncompressed point."""
    return key.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)


def _derived(secret: bytes, salt: bytes, info: bytes, length: int) -> bytes:
    return HKDF(SHA256(), length, salt, info).derive(secret)
