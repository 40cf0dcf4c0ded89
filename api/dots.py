"""Failed and sound shells along one axis as SVG: failed ones hang above the line as filled diamonds, sound ones below
as open rings; each leads to its record. Where there are too many to tell apart, bars take their place."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from service.failures.views import Dot
from service.voice import later, say

WIDTH, LEFT, RIGHT = 360.0, 62.0, 352.0
PITCH = 8.0
TALL, LOW = 84.0, 3.0
MOST_ROWS = int(TALL / LOW)
MOST_DOTS = 150
MOST_COLUMNS = int((RIGHT - LEFT) / PITCH)
EDGE = 20.0
GAP = 0.99
DIAMOND = "m0,-4 l3.6,4 -3.6,4 -3.6,-4z"
RING = "m-3.1,0 a3.1,3.1 0 1 0 6.2,0 a3.1,3.1 0 1 0 -6.2,0"

NAMES = {"failed": later("failed"), "sound": later("sound")}

Shown = Callable[[float], str]


@dataclass(frozen=True, slots=True)
class Axis:
    """Values in equal columns; whole numbers have one each."""

    low: float
    high: float
    columns: int

    def column(self, value: float) -> int:
        if self.columns == 1:
            return 0
        return min(int((value - self.low) / (self.high - self.low) * self.columns), self.columns - 1)

    def left(self, column: int) -> float:
        return LEFT + column * self.wide

    @property
    def wide(self) -> float:
        return (RIGHT - LEFT) / self.columns


def axis_of(values: Sequence[float], whole: bool) -> Axis:
    """From the lowest to the highest."""
    low, high = min(values), max(values)
    if whole and high - low < MOST_COLUMNS:
        return Axis(low - 0.5, high + 0.5, int(high - low) + 1)
    return Axis(low, high, MOST_COLUMNS if high > low else 1)


@dataclass(frozen=True, slots=True)
class Pile:
    """The dots of one column, side by side as far as it is wide."""

    column: int
    dots: tuple[Dot, ...]

    def rows(self, across: int) -> int:
        return -(-len(self.dots) // across)


def piles(dots: Sequence[Dot], axis: Axis) -> list[Pile]:
    found: dict[int, list[Dot]] = {}
    for dot in sorted(dots, key=lambda d: d.value):
        found.setdefault(axis.column(dot.value), []).append(dot)
    return [Pile(column, tuple(some)) for column, some in sorted(found.items())]


@dataclass(frozen=True, slots=True)
class Side:
    """Failed (up) or sound (down) shells, laid out."""

    name: str
    up: bool
    axis: Axis
    piles: tuple[Pile, ...]

    @property
    def across(self) -> int:
        return max(int(self.axis.wide / PITCH - GAP), 1)

    @property
    def rows(self) -> int:
        return max(pile.rows(self.across) for pile in self.piles)

    @property
    def as_bars(self) -> bool:
        return self.rows > MOST_ROWS or sum(len(pile.dots) for pile in self.piles) > MOST_DOTS

    @property
    def height(self) -> float:
        return TALL if self.as_bars else min(self.rows * PITCH, TALL)

    def y(self, line: float, off: float) -> float:
        return line - off if self.up else line + off


def dots(
    failed: Sequence[Dot], sound: Sequence[Dot], shown: Shown, label: str, address: str, whole: bool = False
) -> Markup:
    """shown: a value in words. address: where all shells are listed. whole: the values are counts."""
    axis = axis_of([dot.value for dot in (*failed, *sound)], whole)
    above = Side("failed", True, axis, tuple(piles(failed, axis)))
    below = Side("sound", False, axis, tuple(piles(sound, axis)))
    line = max(above.height, EDGE) + 6
    height = line + max(below.height, EDGE) + 30
    parts = [
        *_frame(line, height, axis, shown, whole),
        *(
            part
            for side in (above, below)
            for part in (_name(side, line), *_marks(side, line, shown, address))
        ),
    ]
    return Markup(
        '<svg class="dots" role="group" aria-label="{label}" viewBox="0 0 {w:.0f} {h:.0f}">{parts}</svg>'
    ).format(label=label, w=WIDTH, h=height, parts=Markup("").join(parts))


def _frame(line: float, height: float, axis: Axis, shown: Shown, whole: bool) -> list[Markup]:
    rule = Markup('<path class="dots-line" d="M{l},{y:.1f} H{r}"/>').format(l=LEFT, r=RIGHT, y=line)
    text = Markup('<text class="dots-scale{end}" x="{x:.1f}" y="{y:.1f}">{t}</text>')
    if whole and axis.columns < 12:
        numbers = range(axis.columns)
        middles = [(axis.left(i) + axis.wide / 2, shown(axis.low + 0.5 + i)) for i in numbers]
        return [rule, *(text.format(end=" middle", x=x, y=height - 6, t=t) for x, t in middles)]
    if axis.columns == 1:
        return [rule, text.format(end="", x=LEFT, y=height - 6, t=shown(axis.low))]
    ends = [("", LEFT, axis.low), (" end", RIGHT, axis.high)]
    return [rule, *(text.format(end=end, x=x, y=height - 6, t=shown(value)) for end, x, value in ends)]


def _name(side: Side, line: float) -> Markup:
    y = side.y(line, 9 if side.up else 13)
    mark = Markup('<path class="dot {name}" d="M6,{y:.1f} {shape}"/>').format(
        name=side.name, y=y - 4, shape=DIAMOND if side.up else RING
    )
    return mark + Markup('<text class="dots-name" x="14" y="{y:.1f}">{name}</text>').format(
        y=y, name=say(NAMES[side.name])
    )


def _marks(side: Side, line: float, shown: Shown, address: str) -> list[Markup]:
    if side.as_bars:
        most = max(len(pile.dots) for pile in side.piles)
        return [_bar(pile, side, line, TALL * len(pile.dots) / most, shown, address) for pile in side.piles]
    step = min(PITCH, TALL / side.rows)
    return [
        _dot(dot, side, pile, i, line, step, shown) for pile in side.piles for i, dot in enumerate(pile.dots)
    ]


def _dot(dot: Dot, side: Side, pile: Pile, i: int, line: float, step: float, shown: Shown) -> Markup:
    row, place = divmod(i, side.across)
    in_row = min(side.across, len(pile.dots) - row * side.across)
    middle = side.axis.left(pile.column) + side.axis.wide / 2
    return Markup(
        '<a href="/mould/{id}/audit" tabindex="-1"><title>{title}</title>'
        '<path class="dot {side}" d="M{x:.1f},{y:.1f} {shape}"/></a>'
    ).format(
        id=dot.mould_id,
        title=say(
            "{name}: {value}, {side}", name=dot.name, value=shown(dot.value), side=say(NAMES[side.name])
        ),
        side=side.name,
        x=middle + (place - (in_row - 1) / 2) * PITCH,
        y=side.y(line, 6 + row * step),
        shape=DIAMOND if side.up else RING,
    )


def _bar(pile: Pile, side: Side, line: float, tall: float, shown: Shown, address: str) -> Markup:
    wide = min(side.axis.wide, 60) - 1.5
    low, high = shown(pile.dots[0].value), shown(pile.dots[-1].value)
    return Markup(
        '<a href="{address}" tabindex="-1"><title>{title}</title>'
        '<rect class="dots-bar {side}" x="{x:.1f}" y="{y:.1f}" width="{w:.1f}" height="{h:.1f}"/></a>'
    ).format(
        address=address,
        title=say(
            "{count} {side}: {values}",
            count=len(pile.dots),
            side=say(NAMES[side.name]),
            values=low if low == high else say("{low} to {high}", low=low, high=high),
        ),
        side=side.name,
        x=side.axis.left(pile.column) + (side.axis.wide - wide) / 2,
        y=side.y(line, tall) if side.up else line,
        w=wide,
        h=tall,
    )
