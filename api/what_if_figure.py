"""The air as it would be, beside the air as it is to be, over the hours that were reckoned."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from markupsafe import Markup

from api.charts import Frame, Point, chart, line_path, scale
from api.figures import figure
from service import words
from service.records.shop_facts import Site
from service.room.what_if_views import AirThen, WhatThen
from service.units import Dimension, show
from service.voice import say

LEAST_K, LEAST_HUMIDITY = 3.0, 0.12


def what_if_figure(then: WhatThen, site: Site | None) -> Markup | None:
    """None where nothing was reckoned."""
    if len(then.air) < 2:
        return None
    units = words.units_of(site)

    def warm(value: float) -> str:
        return show(value, Dimension.TEMPERATURE, units, 0)

    panels = [
        _Panel(say("humidity"), words.percent, LEAST_HUMIDITY, [_damp(each) for each in then.air], rows=2),
        _Panel(say("air"), warm, LEAST_K, [_warm(each) for each in then.air]),
    ]

    def drawn(frame: Frame) -> Markup:
        label = say("{room}: the air as it is to be and as it would be", room=then.room.name)
        return chart(panels, frame, site, label, now=then.at)

    return figure(drawn, then.air[0].at, then.air[-1].at)


@dataclass(frozen=True, slots=True)
class _Both:
    """One quantity at one time: as it is to be, as it would be, and between what that may lie."""

    at: datetime
    now: float
    then: float
    low: float
    high: float


def _warm(air: AirThen) -> _Both:
    return _Both(
        air.at, air.temperature_now_k, air.temperature_k, air.temperature_low_k, air.temperature_high_k
    )


def _damp(air: AirThen) -> _Both:
    return _Both(air.at, air.humidity_now, air.humidity, air.humidity_low, air.humidity_high)


@dataclass(frozen=True)
class _Panel:
    """As it is to be dashed, as it would be solid, its doubt shaded."""

    name: str
    show: Callable[[float], str]
    least_span: float
    points: Sequence[_Both]
    rows: int = 1

    def drawn(self, frame: Frame, row: int) -> list[Markup]:
        low, high = self._ends()
        top, tall = frame.top(row), frame.tall(self.rows)

        def place(point: Point) -> tuple[float, float]:
            return frame.x(point[0]), top + tall - (point[1] - low) / (high - low) * tall

        return [
            *scale(frame, row, self.rows, self.name, self.show(low), self.show(high)),
            _doubt(self.points, place),
            line_path("assumed", [(p.at, p.now) for p in self.points], place),
            line_path("forecast", [(p.at, p.then) for p in self.points], place),
        ]

    def _ends(self) -> tuple[float, float]:
        low = min(min(p.now, p.low) for p in self.points)
        high = max(max(p.now, p.high) for p in self.points)
        short = max(self.least_span - (high - low), 0.0) / 2
        return low - short, high + short


def _doubt(points: Sequence[_Both], place: Callable[[Point], tuple[float, float]]) -> Markup:
    edge = [(p.at, p.high) for p in points] + [(p.at, p.low) for p in reversed(points)]
    spots = " L".join(f"{x:.1f},{y:.1f}" for x, y in map(place, edge))
    return Markup('<path class="then-doubt" d="M{spots} Z"/>').format(spots=spots)
