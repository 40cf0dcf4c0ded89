"""Label stock: the measures add up to the sheets they are cut from."""

from __future__ import annotations

import pytest

from api.label_stock import A4_MM, INCH_MM, LETTER_MM, STOCKS, Stock, stock_named
from service.errors import BadInput

EVERY = pytest.mark.parametrize("stock", STOCKS, ids=[stock.key for stock in STOCKS])


@EVERY
def test_every_label_lies_on_its_sheet_and_on_no_other(stock: Stock) -> None:
    spots = [stock.spot(n) for n in range(stock.on_a_sheet)]
    assert len(set(spots)) == len(spots)
    for x, y in spots:
        assert x >= -1e-9
        assert y >= -1e-9
        assert x + stock.label[0] <= stock.sheet[0] + 1e-9
        assert y + stock.label[1] <= stock.sheet[1] + 1e-9
    for n, (x, y) in enumerate(spots):
        beside = [s for s in spots[n + 1 :] if abs(s[0] - x) < stock.label[0] - 1e-9]
        assert all(abs(other - y) >= stock.label[1] - 1e-9 for _, other in beside)


@EVERY
def test_as_much_is_left_at_the_left_as_at_the_right_and_above_as_below(stock: Stock) -> None:
    (x, y), (last_x, last_y) = stock.spot(0), stock.spot(stock.on_a_sheet - 1)
    assert x == pytest.approx(stock.sheet[0] - last_x - stock.label[0])
    assert y == pytest.approx(stock.sheet[1] - last_y - stock.label[1])


@pytest.mark.parametrize(
    ("key", "first", "second", "below"),
    [  # margins and pitch in mm, as such sheets are commonly described (common practice, no source)
        ("a4-3x8", (0.0, 0.5), (70.0, 0.5), (0.0, 37.5)),
        ("a4-2x7", (4.65, 15.15), (106.25, 15.15), (4.65, 53.25)),
        ("a4-2x4", (4.65, 13.1), (106.25, 13.1), (4.65, 80.8)),
        ("letter-3x10", (0.1875 * INCH_MM, 0.5 * INCH_MM), (2.9375 * INCH_MM, 12.7), (4.7625, 38.1)),
        ("letter-2x5", (0.15625 * INCH_MM, 12.7), (4.34375 * INCH_MM, 12.7), (3.96875, 63.5)),
    ],
)
def test_where_labels_lie(
    key: str, first: tuple[float, float], second: tuple[float, float], below: tuple[float, float]
) -> None:
    stock = stock_named(key)
    assert stock.spot(0) == pytest.approx(first)
    assert stock.spot(1) == pytest.approx(second)
    assert stock.spot(stock.across) == pytest.approx(below)


def test_sheets_are_paper_that_is_sold() -> None:
    assert pytest.approx((215.9, 279.4)) == LETTER_MM
    assert {stock.sheet for stock in STOCKS} == {A4_MM, LETTER_MM, (54.0, 102.0)}


def test_an_unknown_one() -> None:
    with pytest.raises(BadInput, match="no label stock “wall paper”"):
        stock_named("wall paper")
