"""A link as a QR code (ISO/IEC 18004) at the highest error correction: read though slurry hides part of it."""

from __future__ import annotations

from dataclasses import dataclass

import segno
from markupsafe import Markup

QUIET = 4  # modules that stay white around it (ISO/IEC 18004, from memory)


@dataclass(frozen=True, slots=True)
class Code:
    """The dark modules, row by row. `side`: how many there are to a side."""

    rows: tuple[bytes, ...]

    @property
    def side(self) -> int:
        return len(self.rows)

    def drawn(self, x: float, y: float, wide: float) -> Markup:
        """Its dark part `wide` wide, from its upper left corner on. The quiet zone is left to the place around it."""
        return Markup(
            '<path class="qr" shape-rendering="crispEdges" transform="translate({x:.3f} {y:.3f}) scale({s:.5f})" '
            'd="{d}"/>'
        ).format(x=x, y=y, s=wide / self.side, d="".join(_row(n, row) for n, row in enumerate(self.rows)))


def code_of(link: str) -> Code:
    """The smallest code that holds the link."""
    made = segno.make(link, error="h", micro=False, boost_error=False)
    return Code(tuple(bytes(row) for row in made.matrix))


def _row(n: int, row: bytes) -> str:
    """Dark modules that touch as one, so that no hairline shows between them."""
    found, start = [], None
    for x, dark in enumerate((*row, 0)):
        if dark and start is None:
            start = x
        elif not dark and start is not None:
            found.append(f"M{start},{n}h{x - start}v1h-{x - start}z")
            start = None
    return "".join(found)
