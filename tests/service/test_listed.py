"""Several things in one sentence."""

from __future__ import annotations

import pytest

from service.listed import any_of, capital, listed


@pytest.mark.parametrize(
    ("names", "words"),
    [
        ([], ""),
        (["Heron"], "Heron"),
        (["Heron", "Curlew"], "Heron and Curlew"),
        (["Heron", "Curlew", "Avocet"], "Heron, Curlew and Avocet"),
    ],
)
def test_listed(names: list[str], words: str) -> None:
    assert listed(names) == words


@pytest.mark.parametrize(
    ("names", "words"),
    [([], ""), (["Rome"], "Rome"), (["Rome", "Malta"], "Rome or Malta"), (["a", "b", "c"], "a, b or c")],
)
def test_any_of(names: list[str], words: str) -> None:
    assert any_of(names) == words


@pytest.mark.parametrize(("text", "words"), [("", ""), ("coat 3", "Coat 3"), ("árbol", "Árbol"), ("B", "B")])
def test_capital(text: str, words: str) -> None:
    assert capital(text) == words
