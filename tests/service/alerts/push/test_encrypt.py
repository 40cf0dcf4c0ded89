"""Encryption: every number of RFC 8291's worked example, and an independent library that reads what was sealed."""

from __future__ import annotations

import hashlib
import hmac
import os
import struct

import pytest
from cryptography.hazmat.primitives.asymmetric import ec
from hypothesis import given, settings
from hypothesis import strategies as st

from service.alerts.push.base64url import to_bytes, to_text
from service.alerts.push.encrypt import (
    MOST_BYTES,
    content_keys,
    encrypt,
    header,
    input_key,
    point,
    public_bytes,
)
from tests.parts import need

http_ece = need("http_ece")

# RFC 8291, section 5 and appendix A, from memory. They hang together: a wrong letter in any would fail the next step.
PLAIN = "V2hlbiBJIGdyb3cgdXAsIEkgd2FudCB0byBiZSBhIHdhdGVybWVsb24"
AS_PRIVATE = "yfWPiYE-n46HLnH0KqZOF1fJJU3MYrct3AELtAQ-oRw"
AS_PUBLIC = "BP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A8"
UA_PRIVATE = "q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94"
UA_PUBLIC = "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4"
SALT = "DGv6ra1nlYgDCS1FRnbzlw"
AUTH = "BTBZMqHH6r4Tts7J_aSIgg"
ECDH_SECRET = "kyrL1jIIOHEzg3sM2ZWRHDRB62YACZhhSlknJ672kSs"
PRK_KEY = "Snr3JMxaHVDXHWJn5wdC52WjpCtd2EIEGBykDcZW32k"
IKM = "S4lYMb_L0FxCeq0WhDx813KgSYqU26kOyzWUdsXYyrg"
PRK = "09_eUZGrsvxChDCGRCdkLiDXrReGOEVeSCdCcPBSJSc"
CEK = "oIhVW04MRdy2XN9CiKLxTg"
NONCE = "4h_95klXJ5E_qnoN"
HEADER = (
    "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3"
    "jl7A8"
)
SEALED = "8pfeW0KbunFT06SuDKoJH9Ql87S1QUrdirN6GcG7sFz1y1sqLgVi1VhjVkHsUoEsbI_0LpXMuGvnzQ"


def private(number: str) -> ec.EllipticCurvePrivateKey:
    return ec.derive_private_key(int.from_bytes(to_bytes(number), "big"), ec.SECP256R1())


class TestWorkedExample:
    """RFC 8291 appendix A, step by step."""

    own, browser = private(AS_PRIVATE), private(UA_PRIVATE)

    def test_the_points(self) -> None:
        assert to_text(public_bytes(self.own)) == AS_PUBLIC
        assert to_text(public_bytes(self.browser)) == UA_PUBLIC

    def test_the_shared_secret(self) -> None:
        assert to_text(self.own.exchange(ec.ECDH(), point(to_bytes(UA_PUBLIC)))) == ECDH_SECRET

    def test_the_input_key(self) -> None:
        extracted = hmac.digest(to_bytes(AUTH), to_bytes(ECDH_SECRET), hashlib.sha256)
        assert to_text(extracted) == PRK_KEY
        assert to_text(input_key(self.own, to_bytes(UA_PUBLIC), to_bytes(AUTH))) == IKM

    def test_the_keys_of_the_record(self) -> None:
        assert to_text(hmac.digest(to_bytes(SALT), to_bytes(IKM), hashlib.sha256)) == PRK
        assert [to_text(part) for part in content_keys(to_bytes(IKM), to_bytes(SALT))] == [CEK, NONCE]

    def test_the_header(self) -> None:
        assert to_text(header(to_bytes(SALT), to_bytes(AS_PUBLIC))) == HEADER

    def test_the_whole_body(self) -> None:
        body = encrypt(to_bytes(PLAIN), to_bytes(UA_PUBLIC), to_bytes(AUTH), self.own, to_bytes(SALT))
        assert body == to_bytes(HEADER) + to_bytes(SEALED)

    def test_it_says_what_it_says(self) -> None:
        assert to_bytes(PLAIN) == b"When I grow up, I want to be a watermelon"


def opened(body: bytes, browser: ec.EllipticCurvePrivateKey, auth: bytes) -> bytes:
    """By another implementation."""
    return bytes(http_ece.decrypt(body, private_key=browser, auth_secret=auth, version="aes128gcm"))


class TestAnotherLibrary:
    @settings(max_examples=60, deadline=None)
    @given(st.binary(max_size=MOST_BYTES))
    def test_reads_whatever_was_sealed(self, message: bytes) -> None:
        browser, auth = ec.generate_private_key(ec.SECP256R1()), os.urandom(16)
        body = encrypt(message, public_bytes(browser), auth)
        assert opened(body, browser, auth) == message
        assert len(body) == len(message) + 103

    @pytest.mark.parametrize("length", [0, 1, MOST_BYTES - 1, MOST_BYTES])
    def test_at_the_borders(self, length: int) -> None:
        browser, auth = ec.generate_private_key(ec.SECP256R1()), os.urandom(16)
        body = encrypt(b"x" * length, public_bytes(browser), auth)
        assert opened(body, browser, auth) == b"x" * length
        assert len(body) <= 4096

    def test_the_longest_fills_the_body_to_the_last_byte(self) -> None:
        browser = ec.generate_private_key(ec.SECP256R1())
        assert len(encrypt(b"x" * MOST_BYTES, public_bytes(browser), bytes(16))) == 4096

    def test_not_with_another_secret(self) -> None:
        browser = ec.generate_private_key(ec.SECP256R1())
        body = encrypt(b"coat 5", public_bytes(browser), bytes(16))
        with pytest.raises(http_ece.ECEException):
            opened(body, browser, bytes(15) + b"\1")

    def test_not_by_another_browser(self) -> None:
        browser, other = (ec.generate_private_key(ec.SECP256R1()) for _ in range(2))
        body = encrypt(b"coat 5", public_bytes(browser), bytes(16))
        with pytest.raises(http_ece.ECEException):
            opened(body, other, bytes(16))


def test_nothing_is_used_twice() -> None:
    """A salt or key used again would give two messages under one key and nonce."""
    browser = ec.generate_private_key(ec.SECP256R1())
    bodies = [encrypt(b"coat 5", public_bytes(browser), bytes(16)) for _ in range(20)]
    assert len({body[:16] for body in bodies}) == 20
    assert len({body[21:86] for body in bodies}) == 20


def test_the_header_says_how_long_a_record_is() -> None:
    assert struct.unpack("!IB", header(bytes(16), bytes(65))[16:21]) == (4096, 65)


def test_too_long_is_refused() -> None:
    browser = ec.generate_private_key(ec.SECP256R1())
    with pytest.raises(ValueError, match="3994 bytes"):
        encrypt(b"x" * (MOST_BYTES + 1), public_bytes(browser), bytes(16))


@pytest.mark.parametrize("auth", [b"", bytes(15), bytes(17)])
def test_a_secret_of_another_length_is_refused(auth: bytes) -> None:
    browser = ec.generate_private_key(ec.SECP256R1())
    with pytest.raises(ValueError, match="16 bytes"):
        encrypt(b"coat 5", public_bytes(browser), auth)


@pytest.mark.parametrize(
    "public", [b"", bytes(65), b"\4" + bytes(64), b"\2" + bytes(32), to_bytes(UA_PUBLIC)[:64]]
)
def test_what_is_no_point_of_the_curve_is_refused(public: bytes) -> None:
    with pytest.raises(ValueError):  # noqa: PT011
        encrypt(b"coat 5", public, bytes(16))
