"""A room's air on the wall-board: the last day and the hours ahead, between the limits that the coats there ask for.

Drawn for four metres: two lines, two pairs of limits, and no figures but those of the limits.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from markupsafe import Markup

from api.charts import Between, Piece, Point, by_time, fading, line_path, night_bands, widening
from service import words
from service.records.recipes import AirLimits
from service.records.shop_facts import Site
from service.room.views import AirAhead, AirPoint, Freshness, RoomNow
from service.units import Dimension, show
from service.voice import say
from service.words.numbers import units_of

BEHIND, AHEAD = timedelta(hours=24), timedelta(hours=12)
LEFT, GAP, EDGE = 74.0, 12.0, 4.0
LEAST_APART = 18.0  # between two figures of one panel, so that both can be read
LEAST_SPAN_K, LEAST_SPAN = 3.0, 0.15
NO_LIMITS = AirLimits()


@dataclass(frozen=True, slots=True)
class Panel:
    """One quantity over time with its limits. `show` words a value."""

    measured: Sequence[Piece]
    forecast: Sequence[Point]
    doubt: Sequence[Between]
    lowest: float | None
    highest: float | None
    least_span: float
    show: Callable[[float], str]

    def ends(self) -> tuple[float, float]:
        """Lowest and highest of the scale: everything drawn lies between, limits too."""
        drawn = [value for piece in self.measured for _, value in piece.points]
        drawn += [value for _, *edges in self.doubt for value in edges]
        drawn += [limit for limit in (self.lowest, self.highest) if limit is not None]
        low, high = min(drawn), max(drawn)
        short = max(self.least_span - (high - low), 0.0) / 2
        return low - short, high + short

    def figures(self) -> list[float]:
        """The values written beside it: its limits, or where there are none its least and most."""
        limits = [limit for limit in (self.highest, self.lowest) if limit is not None]
        values = [value for piece in self.measured for _, value in piece.points]
        return limits or [max(values), min(values)]


@dataclass(frozen=True, slots=True)
class Frame:
    """Where one panel lies."""

    start: datetime
    end: datetime
    width: float
    top: float
    tall: float
    low: float
    high: float

    def x(self, at: datetime) -> float:
        return LEFT + (at - self.start) / (self.end - self.start) * (self.width - LEFT - EDGE)

    def y(self, value: float) -> float:
        return self.top + self.tall - (value - self.low) / (self.high - self.low) * self.tall

    def place(self, point: Point) -> tuple[float, float]:
        return self.x(point[0]), self.y(point[1])


def air_strip(
    room: RoomNow, site: Site | None, now: datetime, width: float = 430.0, tall: float = 54.0
) -> Markup | None:
    """The picture. None before anything was measured."""
    if room.freshness is Freshness.NEVER or not room.last_day:
        return None
    panels = _panels(room, site, now)
    frames = [_frame(panel, i, now, width, tall) for i, panel in enumerate(panels)]
    height = frames[-1].top + tall + EDGE
    parts = [
        *night_bands(frames[0], site, height),
        *(part for panel, frame in zip(panels, frames, strict=True) for part in _drawn(panel, frame)),
        Markup('<path class="now-line" d="M{x:.1f},0 V{h:.0f}"/>').format(x=frames[0].x(now), h=height),
    ]
    return Markup(
        '<svg class="air-strip" role="img" aria-label="{label}" viewBox="0 0 {w:.0f} {h:.0f}">{parts}</svg>'
    ).format(label=_label(room, site, now), w=width, h=height, parts=Markup("").join(parts))


def _label(room: RoomNow, site: Site | None, now: datetime) -> str:
    air = words.air_line(room, site, now)
    return say("{room}: air over the last day and the next hours. {air}", room=room.room.name, air=air)


def _panels(room: RoomNow, site: Site | None, now: datetime) -> list[Panel]:
    limits, units = room.asked or NO_LIMITS, units_of(site)
    ahead = [p for p in room.forecast if p.at <= now + AHEAD]

    def panel(
        of: Callable[[AirPoint | AirAhead], float],
        between: Callable[[AirAhead], tuple[float, float]],
        lowest: float | None,
        highest: float | None,
        least_span: float,
        figure: Callable[[float], str],
    ) -> Panel:
        past = [(p.at, of(p)) for p in room.last_day if p.at >= now - BEHIND]
        past = past or [(p.at, of(p)) for p in room.last_day[-1:]]
        line, doubt = [(p.at, of(p)) for p in ahead], [(p.at, *between(p)) for p in ahead]
        return Panel(by_time(past), line, doubt, lowest, highest, least_span, figure)

    return [
        panel(
            lambda p: p.temperature_k,
            lambda p: (p.temperature_low_k, p.temperature_high_k),
            limits.lowest_temperature_k,
            limits.highest_temperature_k,
            LEAST_SPAN_K,
            lambda v: show(v, Dimension.TEMPERATURE, units, 0),
        ),
        panel(
            lambda p: p.humidity,
            lambda p: (p.humidity_low, p.humidity_high),
            limits.lowest_humidity,
            limits.highest_humidity,
            LEAST_SPAN,
            lambda v: show(v, Dimension.FRACTION, units),
        ),
    ]


def _frame(panel: Panel, index: int, now: datetime, width: float, tall: float) -> Frame:
    low, high = panel.ends()
    return Frame(now - BEHIND, now + AHEAD, width, EDGE + index * (tall + GAP), tall, low, high)


def _drawn(panel: Panel, frame: Frame) -> list[Markup]:
    return [
        *_wanted(panel, frame),
        *_figures(panel, frame),
        *widening(panel.doubt, frame.place),
        *(line_path("measured" if p.measured else "assumed", p.points, frame.place) for p in panel.measured),
        *fading(panel.forecast, frame.place),
    ]


def _wanted(panel: Panel, frame: Frame) -> list[Markup]:
    """The band the air should lie in, and its limits as lines."""
    if panel.lowest is None and panel.highest is None:
        return []
    top = frame.top if panel.highest is None else frame.y(panel.highest)
    foot = frame.top + frame.tall if panel.lowest is None else frame.y(panel.lowest)
    edges = [frame.y(limit) for limit in (panel.highest, panel.lowest) if limit is not None]
    line = Markup('<path class="limit" d="M{l},{y:.1f} H{r:.0f}"/>')
    right = frame.width - EDGE
    band = Markup('<rect class="wanted" x="{l}" y="{y:.1f}" width="{w:.0f}" height="{h:.1f}"/>').format(
        l=LEFT, y=top, w=right - LEFT, h=max(foot - top, 0.0)
    )
    return [band, *(line.format(l=LEFT, y=y, r=right) for y in edges)]


def _figures(panel: Panel, frame: Frame) -> list[Markup]:
    """Each at its height, moved apart where they would stand in each other."""
    top, foot = frame.top + EDGE, frame.top + frame.tall - EDGE
    spots = [(min(max(frame.y(value), top), foot), panel.show(value)) for value in panel.figures()]
    if len(spots) == 2 and spots[1][0] - spots[0][0] < LEAST_APART:
        half = LEAST_APART / 2
        middle = min(max((spots[0][0] + spots[1][0]) / 2, top + half), foot - half)
        spots = [(middle - half, spots[0][1]), (middle + half, spots[1][1])]
    shape = Markup('<text class="scale" x="{x:.0f}" y="{y:.1f}">{t}</text>')
    return [shape.format(x=LEFT - 7, y=y + 6, t=text) for y, text in spots]
