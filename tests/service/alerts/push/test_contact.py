"""`[push] contact`: whom push services may write to."""

from __future__ import annotations

import pytest

from service.alerts.rules import read_rules, shipped_rules
from service.errors import BadInput


def contact(written: str) -> str | None:
    return read_rules(f'[push]\ncontact = "{written}"').push.contact


@pytest.mark.parametrize(
    "written", ["mailto:shed@example.org", "mailto:o'reed+shed@mail.example.org", "https://example.org/us"]
)
def test_an_address_of_either_kind(written: str) -> None:
    """RFC 8292 section 2.1."""
    assert contact(written) == written


@pytest.mark.parametrize(
    "written",
    [
        "",
        "shed@example.org",
        "mailto:",
        "mailto:shed",
        "mailto:a@b, c@d",
        "http://example.org",
        "https://",
        "ftp://a.b",
    ],
)
def test_anything_else_is_refused_and_named(written: str) -> None:
    with pytest.raises(BadInput, match="contact"):
        contact(written)


def test_none_is_shipped() -> None:
    """Nobody's address is known beforehand: push is off until one is set."""
    assert shipped_rules().push.contact is None
