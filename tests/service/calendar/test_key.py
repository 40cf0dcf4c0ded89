"""The key behind the calendar's address."""

from __future__ import annotations

import base64
import stat
from pathlib import Path

import pytest

from service.calendar.key import KEY_BYTES, KeyFile, MemoryKey, secret_of
from service.errors import Unavailable


def test_it_is_made_once_and_stays_over_a_restart(tmp_path: Path) -> None:
    first = KeyFile(tmp_path).key()
    assert len(first) == KEY_BYTES
    assert KeyFile(tmp_path).key() == first
    assert [path.name for path in tmp_path.iterdir()] == ["calendar.key"]


def test_its_folder_is_made_too(tmp_path: Path) -> None:
    assert KeyFile(tmp_path / "coatbell-data").key()


def test_only_its_owner_may_read_it(tmp_path: Path) -> None:
    keys = KeyFile(tmp_path)
    keys.key()
    keys.renew()
    assert stat.S_IMODE(keys.file.stat().st_mode) == 0o600


def test_a_new_one_takes_its_place_for_good(tmp_path: Path) -> None:
    keys = KeyFile(tmp_path)
    old = keys.key()
    keys.renew()
    assert keys.key() != old
    assert KeyFile(tmp_path).key() == keys.key()


@pytest.mark.parametrize("text", [b"", b"wet gloves", b"\xff\xfe", b"ab" * 31, b"ab" * 33])
def test_a_spoilt_one_is_told_and_a_new_one_mends_it(tmp_path: Path, text: bytes) -> None:
    keys = KeyFile(tmp_path)
    keys.file.write_bytes(text)
    with pytest.raises(Unavailable) as told:
        keys.key()
    assert told.value.code == "calendar_key_unreadable"
    assert "New address" in told.value.todo
    keys.renew()
    assert len(KeyFile(tmp_path).key()) == KEY_BYTES


def test_what_an_earlier_try_left_is_in_nobodys_way(tmp_path: Path) -> None:
    (tmp_path / "calendar.key.part").write_text("half")
    assert KeyFile(tmp_path).key()


def test_a_folder_that_cannot_be_written_is_told_in_words(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(Unavailable):
        KeyFile(tmp_path / "file" / "below").key()


class TestSecret:
    def test_it_is_hmac_sha_256(self) -> None:
        """Worked out with OpenSSL: printf 'coatbell calendar address' | openssl dgst -sha256 -hmac key -binary"""
        assert secret_of(b"key") == OPENSSL.rstrip("=").replace("+", "-").replace("/", "_")

    def test_it_holds_256_bits_and_fits_into_an_address(self) -> None:
        secret = secret_of(bytes(KEY_BYTES))
        assert len(base64.urlsafe_b64decode(f"{secret}=")) == 32
        assert secret.replace("-", "").replace("_", "").isalnum()

    def test_another_key_gives_another(self) -> None:
        key = MemoryKey()
        before = secret_of(key.key())
        key.renew()
        assert secret_of(key.key()) != before


OPENSSL = "R5VDen3jiByVfhNNUWB0FeMRapeoKeXTFMSO4pimwTI="
