"""Text that must stay in its place on paper: broken and set smaller until it fits.

SVG does not break lines. How wide letters are is told high, for nobody knows which of the page's faces a machine has.
"""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

SLIM, BROAD = set("iljtfrI.,:;'|!()[] -·"), set("mwMW@%—…&")
LEADING = 1.2
BOLDER = 1.08
FIRST_LINE = 0.84  # how far under the top its first line stands, in its size


@dataclass(frozen=True, slots=True)
class Fitted:
    """Lines of one size, in millimetres."""

    lines: tuple[str, ...]
    size: float
    bold: bool = False

    @property
    def height(self) -> float:
        return len(self.lines) * self.size * LEADING

    def drawn(self, x: float, y: float) -> Markup:
        """From its upper left corner on."""
        shape = Markup('<text class="{c}" x="{x:.2f}" y="{y:.2f}" font-size="{s:.2f}">{t}</text>')
        kind = "tag-name" if self.bold else "tag-text"
        return Markup("").join(
            shape.format(c=kind, x=x, y=y + (FIRST_LINE + n * LEADING) * self.size, s=self.size, t=line)
            for n, line in enumerate(self.lines)
        )


def wide(text: str, bold: bool = False) -> float:
    """How wide a text is at most, in its size."""
    return sum(map(_letter, text)) * (BOLDER if bold else 1.0)


def fitted(
    text: str, width: float, height: float, largest: float, smallest: float, bold: bool = False
) -> Fitted:
    """As large as fits; at its smallest, cut with “…”."""
    size = largest
    while size > smallest:
        lines = broken(text, width / size, bold)
        if len(lines) * size * LEADING <= height:
            return Fitted(lines, size, bold)
        size = max(size * 0.93, smallest)
    lines = broken(text, width / smallest, bold)
    return Fitted(
        _cut(lines, max(int(height / smallest / LEADING), 1), width / smallest, bold), smallest, bold
    )


def broken(text: str, width: float, bold: bool = False) -> tuple[str, ...]:
    """Between words where that helps, else within one. `width` is in sizes."""
    lines, line = [], ""
    for word in text.split():
        joined = f"{line} {word}" if line else word
        if wide(joined, bold) <= width:
            line = joined
            continue
        if line:
            lines.append(line)
        *whole, line = _pieces(word, width, bold)
        lines += whole
    return (*lines, line) if line else tuple(lines)


def _pieces(word: str, width: float, bold: bool) -> list[str]:
    found = [""]
    for letter in word:
        if found[-1] and wide(found[-1] + letter, bold) > width:
            found.append("")
        found[-1] += letter
    return found


def _cut(lines: tuple[str, ...], most: int, width: float, bold: bool) -> tuple[str, ...]:
    if len(lines) <= most:
        return lines
    last = lines[most - 1]
    while last and wide(f"{last}…", bold) > width:
        last = last[:-1]
    return (*lines[: most - 1], f"{last}…")


def _letter(letter: str) -> float:
    if letter in SLIM:
        return 0.38
    if letter in BROAD or ord(letter) > 0x2E7F:  # and the scripts whose letters are as wide as high
        return 1.02
    return 0.78 if letter.isupper() else 0.62
