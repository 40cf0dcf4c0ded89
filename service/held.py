"""Sentences that are kept for whoever looks later: on the board, in a list of what was left out."""

from __future__ import annotations

from collections.abc import Callable

from markupsafe import Markup, escape

from service.voice import say


class Held(str):
    """Reads as it was said when it was made; shown or put into another sentence it is said anew, in the language
    and units of whoever is spoken to then.
    """

    _again: Callable[[], str]

    def __new__(cls, words: Callable[[], str]) -> Held:
        held = super().__new__(cls, words())
        held._again = words
        return held

    def __str__(self) -> str:
        return self._again()

    def __format__(self, spec: str) -> str:
        return format(self._again(), spec)

    def __html__(self) -> Markup:
        return escape(self._again())


def held(text: str, /, **values: object) -> Held:
    """``say``, kept for later; a value that is held itself is said anew too."""
    return Held(lambda: say(text, **values))
