"""Line charts as SVG: measured is solid, assumed is dashed, forecast fades out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import accumulate, pairwise
from typing import Protocol

from markupsafe import Markup

from api.times import nights
from service.local_time import day_mark, hour_mark, hour_marks, local
from service.records.shop_facts import Site
from service.voice import say

LONGEST_STEP = timedelta(minutes=35)  # between 10-minute means; a longer one is a gap
FADES = 5
LETTER_W = 8.0

Point = tuple[datetime, float]
Between = tuple[datetime, float, float]
Place = Callable[[Point], tuple[float, float]]


class Across(Protocol):
    """Time from left to right."""

    @property
    def start(self) -> datetime: ...

    @property
    def end(self) -> datetime: ...

    def x(self, at: datetime) -> float: ...


@dataclass(frozen=True, slots=True)
class Piece:
    """Part of a line."""

    points: Sequence[Point]
    measured: bool = True


@dataclass(frozen=True, slots=True)
class Line:
    """One quantity over time, in pieces that hang together: measured, or assumed where nothing was."""

    name: str
    pieces: Sequence[Piece]
    forecast: Sequence[Point] = ()
    doubt: Sequence[Between] = ()
    limit: float | None = None
    limit_name: str = ""
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Band:
    """What is wanted, from `low` to `high`; None: open to that side."""

    name: str
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Panel:
    """A strip of the chart with its own scale. `show` words a value for the scale's two ends.

    beside: more lines on the same scale, each named where it ends. gaps: from when to when nothing was read.
    """

    line: Line
    show: Callable[[float], str]
    least_span: float
    low: float | None = None
    high: float | None = None
    beside: Sequence[Line] = ()
    bands: Sequence[Band] = ()
    gaps: Sequence[tuple[datetime, datetime]] = ()
    rows: int = 1

    @property
    def name(self) -> str:
        return self.line.name

    def ends(self) -> tuple[float, float]:
        """Lowest and highest of the scale, never narrower than `least_span`."""
        lines = (self.line, *self.beside)
        known = [point for line in lines for piece in line.pieces for point in piece.points]
        values = [v for _, v in (*known, *self.line.forecast)] or [0.0]
        values += [edge for _, *edges in self.line.doubt for edge in edges]
        values += [edge for band in self.bands for edge in (band.low, band.high) if edge is not None]
        low = min(values) if self.low is None else self.low
        high = max(values) if self.high is None else self.high
        short = max(self.least_span - (high - low), 0.0) / 2
        return low - short, high + short


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the chart lies: time from `start` to `end` over the width, panels one under the other.

    narrow: for a phone, with each panel's name above it instead of at its left. kind: a class of its own.
    """

    start: datetime
    end: datetime
    width: float
    panel_height: float
    left: float = 76.0
    bottom: float = 24.0
    gap: float = 14.0
    first: float = 4.0
    letter: float = LETTER_W
    narrow: bool = False
    kind: str = ""

    def x(self, at: datetime) -> float:
        share = (at - self.start) / (self.end - self.start)
        return self.left + share * (self.width - self.left - 4)

    def top(self, index: int) -> float:
        return self.first + index * (self.panel_height + self.gap)

    def tall(self, rows: int) -> float:
        """Of a panel that takes so many rows."""
        return rows * (self.panel_height + self.gap) - self.gap

    def height(self, panels: int) -> float:
        return self.top(panels) - self.gap + self.bottom


class OwnPanel(Protocol):
    """A panel that draws itself."""

    @property
    def rows(self) -> int: ...

    def drawn(self, frame: Frame, row: int) -> list[Markup]: ...


AnyPanel = Panel | OwnPanel


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment worth a line across all panels: a dip."""

    at: datetime
    text: str


def chart(
    panels: Sequence[AnyPanel],
    frame: Frame,
    site: Site | None,
    label: str,
    marks: Sequence[Mark] = (),
    now: datetime | None = None,
) -> Markup:
    """The panels over one axis of time, nights shaded."""
    rows = list(accumulate((panel.rows for panel in panels), initial=0))
    height, there = frame.height(rows[-1]), [m for m in marks if frame.start <= m.at <= frame.end]
    parts = [
        *night_bands(frame, site, height - frame.bottom),
        *_hours(frame, site, height),
        *(_mark(frame, m, height) for m in there),
        *(part for row, panel in zip(rows, panels, strict=False) for part in _drawn(frame, panel, row)),
        *(_mark_text(frame, m) for m in there),
        *([_now_line(frame, now, height)] if now else []),
    ]
    return Markup(
        '<svg class="chart{kind}" role="img" aria-label="{label}" viewBox="0 0 {w:.0f} {h:.0f}">{parts}</svg>'
    ).format(
        kind=f" {frame.kind}" if frame.kind else "",
        label=label,
        w=frame.width,
        h=height,
        parts=Markup("").join(parts),
    )


def _drawn(frame: Frame, panel: AnyPanel, row: int) -> list[Markup]:
    return _panel(frame, panel, row) if isinstance(panel, Panel) else panel.drawn(frame, row)


def _panel(frame: Frame, panel: Panel, index: int) -> list[Markup]:
    low, high = panel.ends()
    top, tall = frame.top(index), frame.tall(panel.rows)

    def place(point: Point) -> tuple[float, float]:
        return frame.x(point[0]), top + tall - (point[1] - low) / (high - low) * tall

    return [
        *(part for band in panel.bands for part in _band(frame, band, place, (low, high))),
        *(part for gap in panel.gaps for part in _gap(frame, gap, top, tall)),
        *scale(frame, index, panel.rows, panel.name, panel.show(low), panel.show(high)),
        *_limit(frame, panel, place),
        *widening([p for p in panel.line.doubt if p[0] <= frame.end], place),
        *(_piece(piece, frame.start, place) for piece in panel.line.pieces),
        *(part for line in panel.beside for part in _named(frame, line, place)),
        *fading([p for p in panel.line.forecast if p[0] <= frame.end], place),
    ]


def scale(frame: Frame, index: int, rows: int, name: str, low: str, high: str) -> list[Markup]:
    """The lines above and under a panel, its name, and what its two ends say."""
    top, bottom = frame.top(index), frame.top(index) + frame.tall(rows)
    axis = Markup('<path class="axis" d="M{l},{t:.0f} H{r:.0f} M{l},{b:.0f} H{r:.0f}"/>').format(
        l=frame.left, r=frame.width - 4, t=top, b=bottom
    )
    return [
        axis,
        *(
            _above(frame, top, bottom, name, low, high)
            if frame.narrow
            else _beside(frame, top, bottom, name, low, high)
        ),
    ]


def _beside(frame: Frame, top: float, bottom: float, name: str, low: str, high: str) -> list[Markup]:
    x, shape = frame.left - 8, Markup('<text class="{kind}" x="{x:.0f}" y="{y:.0f}">{t}</text>')
    return [
        shape.format(kind="scale", x=x, y=top + 11, t=high),
        shape.format(kind="scale", x=x, y=bottom, t=low),
        shape.format(kind="scale-name", x=x, y=(top + bottom) / 2 + 6, t=name),
    ]


def _above(frame: Frame, top: float, bottom: float, name: str, low: str, high: str) -> list[Markup]:
    right, shape = frame.width - 4, Markup('<text class="{kind}" x="{x:.0f}" y="{y:.0f}">{t}</text>')
    return [
        shape.format(kind="scale-name", x=0, y=top - 6, t=name),
        shape.format(kind="scale", x=right, y=top - 6, t=high),
        shape.format(kind="scale inside", x=right, y=bottom - 5, t=low),
    ]


def _band(frame: Frame, band: Band, place: Place, ends: tuple[float, float]) -> list[Markup]:
    """Shaded, its edges drawn where it has any, its name at the upper one."""
    low, high = (at if at is not None else end for at, end in zip((band.low, band.high), ends, strict=True))
    top, bottom = place((frame.start, high))[1], place((frame.start, low))[1]
    edges = "".join(
        f"M{frame.left},{y:.1f} H{frame.width - 4:.0f} "
        for y, at in ((top, band.high), (bottom, band.low))
        if at is not None
    )
    return [
        Markup('<rect class="wanted" x="{x}" y="{y:.1f}" width="{w:.1f}" height="{h:.1f}"/>').format(
            x=frame.left, y=top, w=frame.width - 4 - frame.left, h=max(bottom - top, 0.0)
        ),
        Markup('<path class="wanted-edge" d="{d}"/>').format(d=edges),
        Markup('<text class="wanted-name" x="{x:.0f}" y="{y:.1f}">{t}</text>').format(
            x=frame.left + 6, y=top + 1.1 * frame.letter * 1.6, t=band.name
        ),
    ]


def _gap(frame: Frame, gap: tuple[datetime, datetime], top: float, tall: float) -> list[Markup]:
    """Hatched; in words where there is room for them."""
    a, b = (frame.x(at) for at in gap)
    words = say("no reading")
    hatched = Markup(
        '<rect class="no-reading" x="{x:.1f}" y="{y:.0f}" width="{w:.1f}" height="{h:.0f}"/>'
    ).format(x=a, y=top, w=b - a, h=tall)
    if b - a < len(words) * frame.letter:
        return [hatched]
    text = Markup('<text class="no-reading-text" x="{x:.1f}" y="{y:.1f}">{t}</text>')
    return [hatched, text.format(x=(a + b) / 2, y=top + tall / 2 + 5, t=words)]


def _named(frame: Frame, line: Line, place: Place) -> list[Markup]:
    """Another line, with its name where it ends."""
    drawn = [_piece(piece, frame.start, place, line.kind) for piece in line.pieces]
    last = max((piece.points[-1] for piece in line.pieces), default=None)
    if last is None:
        return drawn
    x, y = place(last)
    text = Markup('<text class="line-name" x="{x:.1f}" y="{y:.1f}">{t}</text>')
    room = frame.left + len(line.name) * frame.letter  # it ends at x: what has just begun leaves it none
    return [*drawn, text.format(x=min(max(x, room), frame.width - 6), y=y - 5, t=line.name)]


def _limit(frame: Frame, panel: Panel, place: Place) -> list[Markup]:
    if panel.line.limit is None:
        return []
    _, y = place((frame.start, panel.line.limit))
    return [
        Markup(
            '<path class="limit" d="M{l},{y:.1f} H{r:.0f}"/>'
            '<text class="limit-text" x="{r2:.0f}" y="{ty:.1f}">{t}</text>'
        ).format(l=frame.left, r=frame.width - 4, r2=frame.width - 8, y=y, ty=y - 5, t=panel.line.limit_name)
    ]


def by_time(points: Sequence[Point]) -> list[Piece]:
    """Measured pieces, cut where a gap is too long, and the dashed bridges between them."""
    found = runs(points)
    bridges = [Piece([a.points[-1], b.points[0]], False) for a, b in pairwise(found)]
    return [*found, *bridges]


def runs(points: Sequence[Point]) -> list[Piece]:
    """Measured pieces alone: a gap stays a gap."""
    found: list[list[Point]] = []
    for point in points:
        if found and point[0] - found[-1][-1][0] <= LONGEST_STEP:
            found[-1].append(point)
        else:
            found.append([point])
    return [Piece(run) for run in found]


def gaps(points: Sequence[Point], start: datetime, end: datetime) -> list[tuple[datetime, datetime]]:
    """From when to when nothing was read, between `start` and `end`."""
    edges = [start, *(at for at, _ in points if start <= at <= end), end]
    return [(a, b) for a, b in pairwise(edges) if b - a > LONGEST_STEP]


def by_flag(points: Iterable[tuple[datetime, float | None, bool]]) -> list[Piece]:
    """Pieces by whether each point rests on measured air. A value not known is bridged by a dashed line."""
    found: list[tuple[bool, list[Point]]] = []
    last: Point | None = None
    solid = True
    for at, value, measured in points:
        solid = solid and measured and value is not None
        if value is None:
            continue
        if last is not None and (not found or found[-1][0] != solid):
            found.append((solid, [last]))
        if last is not None:
            found[-1][1].append((at, value))
        last, solid = (at, value), measured
    return [Piece(run, whole) for whole, run in found]


def _piece(piece: Piece, start: datetime, place: Place, kind: str = "") -> Markup:
    points = [p for p in piece.points if p[0] >= start]
    how = kind or ("measured" if piece.measured else "assumed")
    return line_path(how, points, place) if points else Markup("")


def fading(points: Sequence[Point], place: Place) -> list[Markup]:
    """The forecast in a few pieces, each fainter than the one before."""
    size = max(-(-len(points) // FADES), 1)
    cuts = range(0, max(len(points) - 1, 0), size)
    return [line_path(f"forecast fade-{i}", points[c : c + size + 1], place) for i, c in enumerate(cuts)]


def widening(points: Sequence[Between], place: Place) -> list[Markup]:
    """Between which two the forecast lies, in as many pieces, fading with it."""
    size = max(-(-len(points) // FADES), 1)
    cuts = range(0, max(len(points) - 1, 0), size)
    return [_doubt(i, points[c : c + size + 1], place) for i, c in enumerate(cuts)]


def _doubt(fade: int, points: Sequence[Between], place: Place) -> Markup:
    there = [place((at, high)) for at, _, high in points]
    back = [place((at, low)) for at, low, _ in reversed(points)]
    spots = " L".join(f"{x:.1f},{y:.1f}" for x, y in (*there, *back))
    return Markup('<path class="doubt fade-{fade}" d="M{spots} Z"/>').format(fade=fade, spots=spots)


def line_path(kind: str, points: Sequence[Point], place: Place) -> Markup:
    """A line through the points, of that class; a single one is a dot."""
    spots = " L".join(f"{x:.1f},{y:.1f}" for x, y in map(place, points))
    dot = " h0.1" if len(points) == 1 else ""
    return Markup('<path class="{kind}" d="M{spots}{dot}"/>').format(kind=kind, spots=spots, dot=dot)


def night_bands(frame: Across, site: Site | None, height: float) -> list[Markup]:
    """The nights, shaded over the whole height."""
    shape = Markup('<rect class="night" x="{x:.1f}" y="0" width="{w:.1f}" height="{h:.0f}"/>')
    spells = nights(frame.start, frame.end, site)
    return [shape.format(x=frame.x(a), w=frame.x(b) - frame.x(a), h=height) for a, b in spells]


def _hours(frame: Frame, site: Site | None, height: float) -> list[Markup]:
    """Hours, or days where hours would crowd."""
    span_h = (frame.end - frame.start) / timedelta(hours=1)
    every = next((e for e in (1, 3, 6, 12) if span_h / e <= frame.width / (10 * frame.letter)), 24)
    thin = max(1, round(span_h / 24 / (frame.width / (10 * frame.letter)))) if every == 24 else 1
    shape = Markup('<text class="hour-text" x="{x:.1f}" y="{y:.0f}">{t}</text>')
    shown = [(frame.x(at), local(at, site)) for at in hour_marks(frame.start, frame.end, site, every)]
    texts = [(x, _hour_text(at, site)) for x, at in shown[::thin]]
    return [shape.format(x=_inside(frame, x, text), y=height - 5, t=text) for x, text in texts]


def _hour_text(shown: datetime, site: Site | None) -> str:
    return hour_mark(shown, site) if shown.hour else f"{day_mark(shown)} {shown.day}"


def _inside(frame: Frame, x: float, text: str) -> float:
    """So that words round `x` do not stand out over the edges, where a phone cuts them off."""
    half = len(text) * frame.letter / 2
    return max(half, min(x, frame.width - half))


def _mark(frame: Frame, mark: Mark, height: float) -> Markup:
    return Markup('<path class="mark" d="M{x:.1f},0 V{h:.0f}"/>').format(
        x=frame.x(mark.at), h=height - frame.bottom
    )


def _mark_text(frame: Frame, mark: Mark) -> Markup:
    return Markup('<text class="mark-text" x="{x:.1f}" y="{y:.0f}">{t}</text>').format(
        x=frame.x(mark.at) + 4, y=frame.first + 9, t=mark.text
    )


def _now_line(frame: Frame, now: datetime, height: float) -> Markup:
    return Markup('<path class="now-line" d="M{x:.1f},0 V{h:.0f}"/>').format(
        x=frame.x(now), h=height - frame.bottom
    )
