"""Who is sending: a token that an independent library accepts, and a key that only its owner may read."""

from __future__ import annotations

import os
import re
import stat
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric import ec, ed25519
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

from service.alerts.push.base64url import to_bytes
from service.alerts.push.encrypt import point
from service.alerts.push.vapid import HOLDS_FOR, KEY_FILE, PushKey, origin
from service.errors import Unavailable
from tests.parts import need

jwt = need("jwt")

NOW = datetime(2026, 3, 2, 8, 15, tzinfo=UTC)
ENDPOINT = "https://push.example.org/v1/long-word?x=1"
CONTACT = "mailto:shed@example.org"


def parts(authorization: str) -> tuple[str, str]:
    found = re.fullmatch(r"vapid t=([\w.-]+), k=([\w-]+)", authorization)
    assert found
    return found[1], found[2]


def claims(authorization: str, audience: str, now: datetime = NOW) -> dict[str, object]:
    token, public = parts(authorization)
    options = {"verify_exp": False}  # by its own clock; held against ours below
    key = point(to_bytes(public))
    told: dict[str, object] = jwt.decode(token, key, algorithms=["ES256"], audience=audience, options=options)
    return told


class TestToken:
    def test_another_library_takes_it(self, tmp_path: Path) -> None:
        key = PushKey(tmp_path)
        told = claims(key.authorization(ENDPOINT, CONTACT, NOW), "https://push.example.org")
        assert told == {
            "aud": "https://push.example.org",
            "exp": int((NOW + HOLDS_FOR).timestamp()),
            "sub": CONTACT,
        }

    def test_its_head_says_how_it_is_signed(self, tmp_path: Path) -> None:
        token, _ = parts(PushKey(tmp_path).authorization(ENDPOINT, CONTACT, NOW))
        assert jwt.get_unverified_header(token) == {"typ": "JWT", "alg": "ES256"}

    def test_it_holds_for_less_than_a_day(self) -> None:
        """RFC 8292 section 2: not more than 24 hours from the request."""
        assert timedelta(hours=1) < HOLDS_FOR < timedelta(hours=24)

    def test_it_names_the_key_it_is_signed_with(self, tmp_path: Path) -> None:
        key = PushKey(tmp_path)
        assert parts(key.authorization(ENDPOINT, CONTACT, NOW))[1] == key.public

    def test_another_key_does_not_open_it(self, tmp_path: Path) -> None:
        token, _ = parts(PushKey(tmp_path / "one").authorization(ENDPOINT, CONTACT, NOW))
        other = point(to_bytes(PushKey(tmp_path / "two").public))
        with pytest.raises(jwt.InvalidSignatureError):
            jwt.decode(token, other, algorithms=["ES256"], audience="https://push.example.org")

    def test_not_for_another_service(self, tmp_path: Path) -> None:
        with pytest.raises(jwt.InvalidAudienceError):
            claims(PushKey(tmp_path).authorization(ENDPOINT, CONTACT, NOW), "https://other.example.org")

    def test_a_hundred_signatures_fit(self, tmp_path: Path) -> None:
        """Each number of a signature is written in 32 bytes; one in 256 begins with a nought."""
        key = PushKey(tmp_path)
        for second in range(300):
            at = NOW + timedelta(seconds=second)
            assert claims(key.authorization(ENDPOINT, CONTACT, at), "https://push.example.org")


@pytest.mark.parametrize(
    ("endpoint", "told"),
    [
        ("https://push.example.org/a/b?c#d", "https://push.example.org"),
        ("https://push.example.org:443/a", "https://push.example.org"),
        ("https://push.example.org:8443/a", "https://push.example.org:8443"),
        ("http://127.0.0.1:9000/a", "http://127.0.0.1:9000"),
        ("https://PUSH.example.org/a", "https://push.example.org"),
        ("https://[2001:db8::1]:444/a", "https://[2001:db8::1]:444"),
    ],
)
def test_the_origin_of_an_endpoint(endpoint: str, told: str) -> None:
    """RFC 6454 section 6.2."""
    assert origin(endpoint) == told


class TestKeyFile:
    def test_only_its_owner_may_read_it(self, tmp_path: Path) -> None:
        key = PushKey(tmp_path / "records")
        assert stat.S_IMODE(key.file.stat().st_mode) == 0o600
        assert sorted(os.listdir(tmp_path / "records")) == [KEY_FILE]

    def test_it_stays_the_same(self, tmp_path: Path) -> None:
        assert PushKey(tmp_path).public == PushKey(tmp_path).public

    def test_browsers_want_a_point(self, tmp_path: Path) -> None:
        assert len(to_bytes(PushKey(tmp_path).public)) == 65

    def test_what_a_power_cut_left_is_no_hindrance(self, tmp_path: Path) -> None:
        (tmp_path / f"{KEY_FILE}.part").write_text("half a k")
        assert PushKey(tmp_path).public == PushKey(tmp_path).public

    @pytest.mark.parametrize(
        "key", [None, ed25519.Ed25519PrivateKey.generate(), ec.generate_private_key(ec.SECP384R1())]
    )
    def test_a_damaged_or_other_one_is_said(
        self, tmp_path: Path, key: ec.EllipticCurvePrivateKey | ed25519.Ed25519PrivateKey | None
    ) -> None:
        written = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()) if key else b"\0" * 40
        (tmp_path / KEY_FILE).write_bytes(written)
        with pytest.raises(Unavailable, match="is damaged"):
            PushKey(tmp_path)
        assert (tmp_path / KEY_FILE).read_bytes() == written, "it is not overwritten"

    def test_a_folder_that_cannot_be_written_is_said(self, tmp_path: Path) -> None:
        (tmp_path / "file").write_text("")
        with pytest.raises(Unavailable):
            PushKey(tmp_path / "file" / "below")
