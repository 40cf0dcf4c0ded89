"""Line charts as SVG: measured is solid, assumed is dashed, forecast fades out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from markupsafe import Markup

from api.times import nights
from service.local_time import hour_mark, hour_marks, local
from service.records.shop_facts import Site

LONGEST_STEP = timedelta(minutes=35)  # between 10-minute means; a longer one is a gap
FADES = 5
LETTER_W = 8.0

Point = tuple[datetime, float]


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
    limit: float | None = None
    limit_name: str = ""


@dataclass(frozen=True, slots=True)
class Panel:
    """A strip of the chart with its own scale. `show` words a value for the scale's two ends."""

    line: Line
    show: Callable[[float], str]
    least_span: float
    low: float | None = None
    high: float | None = None

    def ends(self) -> tuple[float, float]:
        """Lowest and highest of the scale, never narrower than `least_span`."""
        known = [point for piece in self.line.pieces for point in piece.points]
        values = [v for _, v in (*known, *self.line.forecast)] or [0.0]
        low = min(values) if self.low is None else self.low
        high = max(values) if self.high is None else self.high
        short = max(self.least_span - (high - low), 0.0) / 2
        return low - short, high + short


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the chart lies: time from `start` to `end` over the width, panels one under the other."""

    start: datetime
    end: datetime
    width: float
    panel_height: float
    left: float = 76.0
    bottom: float = 24.0
    gap: float = 14.0

    def x(self, at: datetime) -> float:
        share = (at - self.start) / (self.end - self.start)
        return self.left + share * (self.width - self.left - 4)

    def top(self, index: int) -> float:
        return 4 + index * (self.panel_height + self.gap)

    def height(self, panels: int) -> float:
        return self.top(panels) - self.gap + self.bottom


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment worth a line across all panels: a dip."""

    at: datetime
    text: str


def chart(
    panels: Sequence[Panel],
    frame: Frame,
    site: Site | None,
    label: str,
    marks: Sequence[Mark] = (),
    now: datetime | None = None,
) -> Markup:
    """The panels over one axis of time, nights shaded."""
    height = frame.height(len(panels))
    parts = [
        *_nights(frame, site, height - frame.bottom),
        *_hours(frame, site, height),
        *(_mark(frame, m, height) for m in marks if frame.start <= m.at <= frame.end),
        *(part for i, panel in enumerate(panels) for part in _panel(frame, panel, i)),
        *([_now_line(frame, now, height)] if now else []),
    ]
    return Markup(
        '<svg class="chart" role="img" aria-label="{label}" viewBox="0 0 {w:.0f} {h:.0f}">{parts}</svg>'
    ).format(label=label, w=frame.width, h=height, parts=Markup("").join(parts))


def _panel(frame: Frame, panel: Panel, index: int) -> list[Markup]:
    low, high = panel.ends()
    top, tall = frame.top(index), frame.panel_height

    def place(point: Point) -> tuple[float, float]:
        return frame.x(point[0]), top + tall - (point[1] - low) / (high - low) * tall

    return [
        _scale(frame, panel, index, low, high),
        *_limit(frame, panel, place),
        *(_piece(piece, frame.start, place) for piece in panel.line.pieces),
        *_fading([p for p in panel.line.forecast if p[0] <= frame.end], place),
    ]


Place = Callable[[Point], tuple[float, float]]


def _scale(frame: Frame, panel: Panel, index: int, low: float, high: float) -> Markup:
    top, bottom = frame.top(index), frame.top(index) + frame.panel_height
    return Markup(
        '<path class="axis" d="M{l},{t:.0f} H{r:.0f} M{l},{b:.0f} H{r:.0f}"/>'
        '<text class="scale" x="{tx:.0f}" y="{t2:.0f}">{high}</text>'
        '<text class="scale" x="{tx:.0f}" y="{b:.0f}">{low}</text>'
        '<text class="scale-name" x="{tx:.0f}" y="{m:.0f}">{name}</text>'
    ).format(
        l=frame.left,
        r=frame.width - 4,
        t=top,
        b=bottom,
        tx=frame.left - 8,
        t2=top + 11,
        m=(top + bottom) / 2 + 6,
        high=panel.show(high),
        low=panel.show(low),
        name=panel.line.name,
    )


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
    found: list[list[Point]] = []
    for point in points:
        if found and point[0] - found[-1][-1][0] <= LONGEST_STEP:
            found[-1].append(point)
        else:
            found.append([point])
    bridges = [Piece([a[-1], b[0]], False) for a, b in pairwise(found)]
    return [*(Piece(run) for run in found), *bridges]


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


def _piece(piece: Piece, start: datetime, place: Place) -> Markup:
    points = [p for p in piece.points if p[0] >= start]
    return _path("measured" if piece.measured else "assumed", points, place) if points else Markup("")


def _fading(points: Sequence[Point], place: Place) -> list[Markup]:
    """The forecast in a few pieces, each fainter than the one before."""
    size = max(-(-len(points) // FADES), 1)
    cuts = range(0, max(len(points) - 1, 0), size)
    return [_path(f"forecast fade-{i}", points[c : c + size + 1], place) for i, c in enumerate(cuts)]


def _path(kind: str, points: Sequence[Point], place: Place) -> Markup:
    spots = " L".join(f"{x:.1f},{y:.1f}" for x, y in map(place, points))
    dot = " h0.1" if len(points) == 1 else ""
    return Markup('<path class="{kind}" d="M{spots}{dot}"/>').format(kind=kind, spots=spots, dot=dot)


def _nights(frame: Frame, site: Site | None, height: float) -> list[Markup]:
    shape = Markup('<rect class="night" x="{x:.1f}" y="0" width="{w:.1f}" height="{h:.0f}"/>')
    spells = nights(frame.start, frame.end, site)
    return [shape.format(x=frame.x(a), w=frame.x(b) - frame.x(a), h=height) for a, b in spells]


def _hours(frame: Frame, site: Site | None, height: float) -> list[Markup]:
    """Hours, or days where hours would crowd."""
    span_h = (frame.end - frame.start) / timedelta(hours=1)
    every = next((e for e in (1, 3, 6, 12) if span_h / e <= frame.width / 80), 24)
    thin = max(1, round(span_h / 24 / (frame.width / 80))) if every == 24 else 1
    shape = Markup('<text class="hour-text" x="{x:.1f}" y="{y:.0f}">{t}</text>')
    shown = [(frame.x(at), local(at, site)) for at in hour_marks(frame.start, frame.end, site, every)]
    texts = [(x, _hour_text(at, site)) for x, at in shown[::thin]]
    return [shape.format(x=_inside(frame, x, text), y=height - 5, t=text) for x, text in texts]


def _hour_text(shown: datetime, site: Site | None) -> str:
    return hour_mark(shown, site) if shown.hour else f"{shown:%a} {shown.day}"


def _inside(frame: Frame, x: float, text: str) -> float:
    """So that words round `x` do not stand out over the right edge, where a phone cuts them off."""
    return min(x, frame.width - len(text) * LETTER_W / 2)


def _mark(frame: Frame, mark: Mark, height: float) -> Markup:
    return Markup(
        '<path class="mark" d="M{x:.1f},0 V{h:.0f}"/><text class="mark-text" x="{tx:.1f}" y="13">{t}</text>'
    ).format(x=frame.x(mark.at), tx=frame.x(mark.at) + 4, h=height - frame.bottom, t=mark.text)


def _now_line(frame: Frame, now: datetime, height: float) -> Markup:
    return Markup('<path class="now-line" d="M{x:.1f},0 V{h:.0f}"/>').format(
        x=frame.x(now), h=height - frame.bottom
    )
