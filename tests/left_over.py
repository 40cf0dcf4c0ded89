"""English left on a page of another language: pieces of the source's texts whose translation reads otherwise."""

from __future__ import annotations

import re
from functools import cache

from service.voice import Language
from tests.languages import catalogue, entries, forms

LONG = 12
"""Letters and more; what is shorter may be a name, or a word that both languages have."""
BLANK = re.compile(r"\{[^{}]*\}")


def english_in(text: str, language: Language) -> set[str]:
    """Whole pieces between blanks, as they stand in the source, that are on a page."""
    there = " ".join(text.split())
    return {piece for piece in english(language) if piece in there}


@cache
def english(language: Language) -> frozenset[str]:
    there = [
        (english, other) for m in entries(catalogue(language)) for english, other in _pairs(m.id, m.string)
    ]
    told = " ".join(" ".join(other.split()) for _, other in there)
    pieces = {piece for english, _ in there for piece in _pieces(english)}
    return frozenset(piece for piece in pieces if piece not in told)


def _pairs(id_: object, string: object) -> list[tuple[str, str]]:
    return list(zip(forms(id_), forms(string), strict=False))


def _pieces(text: str) -> list[str]:
    return [piece for part in BLANK.split(text) if len(piece := " ".join(part.split())) > LONG]
