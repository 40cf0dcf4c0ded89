"""In which language and units somebody is spoken to, and the words of coatbell in that language.

Whatever a person can read goes through `say`: English stands in the source, the other languages in `languages/*.po`
(GNU gettext). Who is spoken to is set once, where a request or a tick begins.
"""

from __future__ import annotations

import gettext
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from io import BytesIO
from typing import TYPE_CHECKING, Any

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from markupsafe import Markup

if TYPE_CHECKING:
    from service.units import Units


class Language(StrEnum):
    """The languages coatbell speaks, by their ISO 639-1 code."""

    ENGLISH = "en"
    SPANISH = "es"


@dataclass(frozen=True, slots=True)
class Voice:
    """How somebody is spoken to. units None: in the shop's."""

    language: Language = Language.ENGLISH
    units: Units | None = None


_voice: ContextVar[Voice] = ContextVar("voice", default=Voice())  # noqa: B039 (it is frozen)


def voice() -> Voice:
    """How whoever asks now is spoken to."""
    return _voice.get()


@contextmanager
def speaking(wanted: Voice) -> Iterator[None]:
    """Speak to somebody so, until this ends."""
    token = _voice.set(wanted)
    try:
        yield
    finally:
        _voice.reset(token)


def say(text: str, /, **values: object) -> str:
    """A sentence in the language of whoever is spoken to, ``{name}`` filled in from `values`.

    Where a value is markup so is the sentence, everything else in it escaped.
    """
    # An empty text is the catalogue's own head.
    return _filled(_catalogue(voice().language).gettext(text), values) if text else text


def say_many(one: str, many: str, /, number: int, **values: object) -> str:
    """The same where it depends on a number, which the text may name as ``{number}``."""
    return _filled(_catalogue(voice().language).ngettext(one, many, number), {"number": number, **values})


def later(text: str) -> str:
    """Marks a text that is said elsewhere, so that it is found for translation; it stays as it is."""
    return text


def later_many(one: str, many: str) -> tuple[str, str]:
    """The same for a text that depends on a number: ``say_many(*TEXT, number)``."""
    return one, many


def in_every_language(text: str) -> tuple[str, ...]:
    """A text as every language says it, for what was written down in one of them."""
    return tuple(_catalogue(language).gettext(text) for language in Language)


def _filled(text: str, values: dict[str, Any]) -> str:
    if not values:
        return text
    if any(isinstance(value, Markup) for value in values.values()):
        return Markup(text).format(**values)
    return text.format(**values)


@cache
def _catalogue(language: Language) -> gettext.NullTranslations:
    """English is what stands in the source."""
    if language is Language.ENGLISH:
        return gettext.NullTranslations()
    with (files("service") / "languages" / f"{language}.po").open("rb") as file:
        catalogue = read_po(file, locale=language.value)
    compiled = BytesIO()
    write_mo(compiled, catalogue)
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)
