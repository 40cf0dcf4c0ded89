"""Text that stays in its place on paper."""

from __future__ import annotations

import pytest

from api.fitted_text import LEADING, broken, fitted, wide

NAMES = (
    "Heron",
    "The very long name of a gate panel with reeds, the left one of two",
    "Oystercatcherontheshorewithoutanyblank",
    "WWWWWWWWWWWWWWWWWWWWWWWWWWWWWWW",
    "鷺と葦の門の左の鋳型",
    "x",
)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(("width", "height"), [(38.0, 5.0), (46.0, 16.0), (20.0, 3.0)])
def test_it_stays_within(name: str, width: float, height: float) -> None:
    found = fitted(name, width, height, 8.0, 2.0, bold=True)
    assert found.height <= height + 1e-9
    assert all(wide(line, bold=True) * found.size <= width + 1e-9 for line in found.lines)
    assert 2.0 <= found.size <= 8.0


def test_as_large_as_it_goes() -> None:
    assert fitted("Heron", 100.0, 8.0 * LEADING, 8.0, 2.0).size == 8.0
    assert fitted("Heron", 100.0, 8.0 * LEADING - 0.01, 8.0, 2.0).size < 8.0


def test_nothing_is_lost_while_it_fits() -> None:
    for name in NAMES:
        assert "".join(broken(name, 6.0)).replace(" ", "") == name.replace(" ", "")


def test_what_does_not_fit_says_so() -> None:
    found = fitted(NAMES[1], 20.0, 3.0, 8.0, 2.0)
    assert len(found.lines) == 1
    assert found.lines[0].startswith("The very long")
    assert found.lines[0].endswith("…")


def test_it_breaks_between_words_where_it_can() -> None:
    assert broken("Gate panel, left", 8.0) == ("Gate panel,", "left")


def test_a_name_with_markup_stays_text() -> None:
    assert "<b>" not in fitted("<b>", 50.0, 9.0, 8.0, 2.0).drawn(0, 0)
