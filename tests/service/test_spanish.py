"""That Spanish is complete, and fits what it is said for."""

from __future__ import annotations

import pytest

from service.voice import Language
from tests.languages import OTHERS, blanks, catalogue, entries, forms, msgids, said

NUMBER_FORMS = {Language.SPANISH: 2}


@pytest.mark.parametrize("language", OTHERS)
def test_everything_is_translated_and_nothing_else(language: Language) -> None:
    """Bring it up to date with ``python -m tests.update_languages``."""
    wanted, there = msgids(said()), msgids(catalogue(language))
    assert wanted - there == set()
    assert there - wanted == set()
    assert not catalogue(language).obsolete


@pytest.mark.parametrize("language", OTHERS)
def test_no_translation_is_empty_or_doubtful(language: Language) -> None:
    for message in entries(catalogue(language)):
        assert all(form.strip() for form in forms(message.string)), message.id
        assert not message.fuzzy, message.id


@pytest.mark.parametrize("language", OTHERS)
def test_every_number_has_its_form(language: Language) -> None:
    catalog = catalogue(language)
    assert catalog.num_plurals == NUMBER_FORMS[language]
    for message in entries(catalog):
        wanted = 1 if isinstance(message.id, str) else catalog.num_plurals
        assert len(forms(message.string)) == wanted, message.id


@pytest.mark.parametrize("language", OTHERS)
def test_blanks_are_the_same(language: Language) -> None:
    """A number may be left out where its form says it, such as “one entry”."""
    for message in entries(catalogue(language)):
        wanted = {blank for form in forms(message.id) for blank in blanks(form)}
        for form in forms(message.string):
            assert blanks(form) - {"{number}"} == wanted - {"{number}"}, message.id
            assert blanks(form) <= wanted, message.id


@pytest.mark.parametrize("language", OTHERS)
def test_edges_are_the_same(language: Language) -> None:
    """Blanks at either end and a colon matter where a text goes on in another, or is cut off a title again."""
    for message in entries(catalogue(language)):
        for english, other in zip(forms(message.id), forms(message.string), strict=False):
            assert (
                other[: len(other) - len(other.lstrip())] == english[: len(english) - len(english.lstrip())]
            )
            assert other[len(other.rstrip()) :] == english[len(english.rstrip()) :], message.id
