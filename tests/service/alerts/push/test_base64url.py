"""Base64 for addresses, as RFC 4648 writes it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.alerts.push.base64url import to_bytes, to_text


@pytest.mark.parametrize(
    ("data", "text"),
    # RFC 4648 section 10, without the padding; the last two need both letters in which base64url differs (section 5)
    [
        (b"", ""),
        (b"f", "Zg"),
        (b"fo", "Zm8"),
        (b"foobar", "Zm9vYmFy"),
        (b"\xfb\xff", "-_8"),
        (b"\xff\xef", "_-8"),
    ],
)
def test_the_published_examples(data: bytes, text: str) -> None:
    assert to_text(data) == text
    assert to_bytes(text) == data


@given(st.binary(max_size=80))
def test_there_and_back(data: bytes) -> None:
    assert to_bytes(to_text(data)) == data


def test_padding_is_taken() -> None:
    assert to_bytes("Zm8=") == b"fo"


@pytest.mark.parametrize("text", ["a", "Zm+v", "Zm/v", "Zm 8", "Zmö8", "Zm\n8"])
def test_other_letters_are_refused(text: str) -> None:
    with pytest.raises(ValueError):  # noqa: PT011
        to_bytes(text)
