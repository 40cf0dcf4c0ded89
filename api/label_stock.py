"""Label stock by its measures: where on a sheet the labels lie, in millimetres.

The layouts are common practice, no source: sheets are sold by these measures under many names. The margins follow from
them, for the labels lie in the middle of the sheet.
"""

from __future__ import annotations

from dataclasses import dataclass

from service.errors import BadInput
from service.voice import later, say

INCH_MM = 25.4
A4_MM, LETTER_MM = (210.0, 297.0), (8.5 * INCH_MM, 11.0 * INCH_MM)
HANGER_MM = (54.0, 102.0)

Size = tuple[float, float]
Spot = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Stock:
    """across, down: how many labels lie beside and under each other. gap: the strip between two, sideways and down.

    inset: how far from a label's edge ink stays, for no printer hits a label exactly and most leave the edge of a sheet
    white. hole: where a hanger tag is punched, from its own corner. cut: its edge is printed, to be cut along.
    """

    key: str
    title: str
    sheet: Size
    label: Size
    across: int = 1
    down: int = 1
    gap: Size = (0.0, 0.0)
    inset: float = 3.0
    hole: Spot | None = None
    cut: bool = False

    @property
    def on_a_sheet(self) -> int:
        return self.across * self.down

    def spot(self, n: int) -> Spot:
        """The upper left corner of the `n`-th label of a sheet, counted from 0 along the rows."""
        down, across = divmod(n, self.across)
        return self._at(0, across, self.across), self._at(1, down, self.down)

    def _at(self, way: int, n: int, of: int) -> float:
        pitch = self.label[way] + self.gap[way]
        margin = (self.sheet[way] - of * pitch + self.gap[way]) / 2
        return margin + n * pitch


STOCKS = (
    Stock("a4-3x8", later("A4, 3 × 8 labels of 70 × 37 mm"), A4_MM, (70.0, 37.0), 3, 8, inset=5.0),
    Stock("a4-2x7", later("A4, 2 × 7 labels of 99.1 × 38.1 mm"), A4_MM, (99.1, 38.1), 2, 7, (2.5, 0.0)),
    Stock("a4-2x4", later("A4, 2 × 4 labels of 99.1 × 67.7 mm"), A4_MM, (99.1, 67.7), 2, 4, (2.5, 0.0), 4.0),
    Stock(
        "letter-3x10",
        later("US letter, 3 × 10 labels of 2 5/8 × 1 in"),
        LETTER_MM,
        (2.625 * INCH_MM, INCH_MM),
        3,
        10,
        (INCH_MM / 8, 0.0),
        2.2,
    ),
    Stock(
        "letter-2x5",
        later("US letter, 2 × 5 labels of 4 × 2 in"),
        LETTER_MM,
        (4.0 * INCH_MM, 2.0 * INCH_MM),
        2,
        5,
        (0.1875 * INCH_MM, 0.0),
    ),
    Stock(
        "a4-hanger",
        later("Hanger tags of 54 × 102 mm to cut out of A4 card"),
        A4_MM,
        HANGER_MM,
        3,
        2,
        (6.0, 6.0),
        4.0,
        (27.0, 8.0),
        True,
    ),
    Stock(
        "letter-hanger",
        later("Hanger tags of 54 × 102 mm to cut out of US letter card"),
        LETTER_MM,
        HANGER_MM,
        3,
        2,
        (6.0, 6.0),
        4.0,
        (27.0, 8.0),
        True,
    ),
    Stock(
        "hanger",
        later("One hanger tag of 54 × 102 mm a page"),
        HANGER_MM,
        HANGER_MM,
        inset=4.0,
        hole=(27.0, 8.0),
    ),
)


def stock_named(key: str) -> Stock:
    """Raises BadInput."""
    found = next((stock for stock in STOCKS if stock.key == key), None)
    if found is None:
        raise BadInput(
            "stock_unknown",
            say("There is no label stock “{name}”.", name=key),
            say("Choose one of the list."),
            "stock",
        )
    return found
