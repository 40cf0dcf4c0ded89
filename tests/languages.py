"""The words that stand in the source to be said, and the catalogues that say them in other languages."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract, extract_python
from babel.messages.pofile import read_po, write_po
from jinja2.ext import babel_extract

from service.voice import Language

HOUSE = Path(__file__).parents[1]
PYTHON = ("service", "sensors", "api")
TEMPLATES = HOUSE / "api" / "templates"
KEYWORDS: dict[str, Any] = {
    "say": None,
    "held": None,
    "later": None,
    "say_many": (1, 2),
    "later_many": (1, 2),
}
NEVER_KEPT = (
    "Project-Id",
    "POT-Creation",
    "PO-Revision",
    "Last-Translator",
    "Language-Team",
    "Report-Msgid",
    "Generated",
)
"""Lines of a catalogue's head that change by themselves, or would name people."""

Msgid = str | tuple[str, ...]
OTHERS = [language for language in Language if language is not Language.ENGLISH]


def python_files() -> list[Path]:
    return [path for package in PYTHON for path in sorted((HOUSE / package).rglob("*.py"))]


def template_files() -> list[Path]:
    return sorted(TEMPLATES.rglob("*.html"))


def script_files() -> list[Path]:
    return sorted((HOUSE / "api" / "static").glob("*.js"))


def said_in(path: Path) -> Iterator[Msgid]:
    """Every text that a file says, marks to be said, or says by number."""
    method, options = (
        (babel_extract, {"silent": "false", "trim_blocks": "true", "lstrip_blocks": "true"})
        if path.suffix == ".html"
        else (extract_python, {})
    )
    with path.open("rb") as file:
        for _, words, *_ in extract(method, file, KEYWORDS, options=options):
            yield words


@cache
def said() -> Catalog:
    """Everything there is to translate, with the files it stands in."""
    found = Catalog(charset="utf-8")
    for path in [*python_files(), *template_files()]:
        for words in said_in(path):
            found.add(words, locations=[(path.relative_to(HOUSE).as_posix(), 0)])
    return found


def po_file(language: Language) -> Path:
    return HOUSE / "service" / "languages" / f"{language}.po"


def catalogue(language: Language, file: Path | None = None) -> Catalog:
    """What is translated: as it ships, or as it stands in `file`."""
    with (file or po_file(language)).open("rb") as opened:
        return read_po(opened, locale=language.value)


def entries(catalog: Catalog) -> list[Message]:
    """All but the head."""
    return [message for message in catalog if message.id]


def msgids(catalog: Catalog) -> set[Msgid]:
    return {_hashable(message.id) for message in entries(catalog)}


def forms(words: Any) -> tuple[str, ...]:
    """One text, or one a number form."""
    return (words,) if isinstance(words, str) else tuple(words)


def blanks(text: str) -> set[str]:
    """The ``{places}`` of a text that are filled in, with their formats."""
    return set(re.findall(r"\{[^{}]*\}", text))


def renew(language: Language, file: Path) -> None:
    """Bring a catalogue up to date with the source: what is translated stays, what nobody says any more goes."""
    catalog = catalogue(language, file)
    catalog.update(said(), no_fuzzy_matching=True, update_creation_date=False)
    with file.open("wb") as opened:
        write_po(opened, catalog, width=118, ignore_obsolete=True, sort_by_file=True, include_lineno=False)
    _without_what_changes_by_itself(file)


def _without_what_changes_by_itself(file: Path) -> None:
    lines = file.read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [line for line in lines if not line.startswith(tuple(f'"{name}' for name in NEVER_KEPT))]
    file.write_text("".join(kept), encoding="utf-8")


def _hashable(words: Any) -> Msgid:
    return words if isinstance(words, str) else tuple(words)
