"""One thing, several things."""

from __future__ import annotations

import pytest

from service.counted import counted


@pytest.mark.parametrize(
    ("number", "many", "words"),
    [
        (0, "", "0 heads"),
        (1, "", "1 head"),
        (2, "", "2 heads"),
        (1, "entries", "1 head"),
        (0, "entries", "0 entries"),
    ],
)
def test_only_one_is_one(number: int, many: str, words: str) -> None:
    assert counted(number, "head", many) == words
