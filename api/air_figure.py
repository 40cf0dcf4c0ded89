"""A room's air over days as a chart: what hangs there wants it within bands; where nothing was read it is hatched."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from markupsafe import Markup

from api.charts import Band, Frame, Line, Panel, Piece, Point, chart, gaps, runs
from api.figures import figure
from service import words
from service.errors import BadInput
from service.records.recipes import AirLimits, CoatKind
from service.records.shop_facts import Site
from service.room.views import AirPoint, MouldNow, RoomNow
from service.units import Dimension, show
from service.voice import say, say_many

DAYS = (1, 3, 7, 14)
AHEAD = {1: timedelta(hours=12), 3: timedelta(hours=24)}
MOST_AHEAD = timedelta(hours=48)
POINTS_A_PX = 1.3
ROWS_OF = {1: timedelta(hours=2), 3: timedelta(hours=6)}


def days_of(asked: int) -> int:
    """Raises BadInput for another number than the page offers."""
    if asked not in DAYS:
        raise BadInput(
            "days_unknown",
            say("The air is not drawn over {number} days.", number=asked),
            say("Choose 1, 3, 7 or 14."),
            "days",
        )
    return asked


@dataclass(frozen=True, slots=True)
class Wanted:
    """The air that is wanted by the coats that are on, the tightest where several want it."""

    warm: Band
    damp: Band


def wanted_by(moulds: Sequence[MouldNow], room_id: int) -> list[Wanted]:
    """What the newest coats of the moulds in a room want."""
    there = [mould for mould in moulds if mould.room.id == room_id and mould.coats_given]
    primed = [m.recipe.prime_air for m in there if words.newest_kind(m) is CoatKind.PRIME]
    backed = [m.recipe.backup_air for m in there if words.newest_kind(m) is not CoatKind.PRIME]
    named = ((say("wanted by prime coats"), primed), (say("wanted by backup coats"), backed))
    return [_tightest(name, limits) for name, limits in named if limits]


def _tightest(name: str, limits: Sequence[AirLimits]) -> Wanted:
    return Wanted(
        Band(
            name,
            max(_known(w.lowest_temperature_k for w in limits), default=None),
            min(_known(w.highest_temperature_k for w in limits), default=None),
        ),
        Band(
            name,
            max(_known(w.lowest_humidity for w in limits), default=None),
            min(_known(w.highest_humidity for w in limits), default=None),
        ),
    )


def _known(values: Iterable[float | None]) -> list[float]:
    return [value for value in values if value is not None]


def air_figure(
    room: RoomNow,
    points: Sequence[AirPoint],
    wanted: Sequence[Wanted],
    site: Site | None,
    now: datetime,
    days: int,
) -> Markup | None:
    """None before anything was measured in these days."""
    if not points:
        return None
    start, end = now - timedelta(days=days), now + AHEAD.get(days, MOST_AHEAD)

    def drawn(frame: Frame) -> Markup:
        panels = _panels(room, points, wanted, site, frame, now)
        label = say("{room}: air over {days}", room=room.room.name, days=days_said(days))
        return chart(panels, frame, site, label, now=now)

    return figure(drawn, start, end)


def days_said(days: int) -> str:
    return say_many("{number} day", "{number} days", days)


def _panels(
    room: RoomNow,
    points: Sequence[AirPoint],
    wanted: Sequence[Wanted],
    site: Site | None,
    frame: Frame,
    now: datetime,
) -> list[Panel]:
    units, silent = words.units_of(site), gaps([(p.at, 0.0) for p in points], frame.start, now)
    ahead = [p for p in room.forecast if p.at <= frame.end]
    warm = Line(
        say("air"),
        _pieces([(p.at, p.temperature_k) for p in points], frame),
        [(p.at, p.temperature_k) for p in ahead],
        [(p.at, p.temperature_low_k, p.temperature_high_k) for p in ahead],
    )
    damp = Line(
        say("humidity"),
        _pieces([(p.at, p.humidity) for p in points], frame),
        [(p.at, p.humidity) for p in ahead],
        [(p.at, p.humidity_low, p.humidity_high) for p in ahead],
    )
    return [
        Panel(
            warm,
            lambda v: show(v, Dimension.TEMPERATURE, units, 0),
            4.0,
            bands=_bounded(each.warm for each in wanted),
            gaps=silent,
            rows=2,
        ),
        Panel(damp, words.percent, 0.2, bands=_bounded(each.damp for each in wanted), gaps=silent, rows=2),
    ]


def _bounded(bands: Iterable[Band]) -> list[Band]:
    return [band for band in bands if band.low is not None or band.high is not None]


def _pieces(points: Sequence[Point], frame: Frame) -> list[Piece]:
    """As many points as the width can show."""
    step = max(1, -(-len(points) // int(frame.width * POINTS_A_PX)))
    return [Piece([*piece.points[:-1:step], piece.points[-1]]) for piece in runs(points)]


AirRow = tuple[str, str, str]


def air_table(points: Sequence[AirPoint], site: Site | None, now: datetime, days: int) -> list[AirRow]:
    """The same in words: until when, from the lowest to the highest temperature and humidity."""
    every = ROWS_OF.get(days, timedelta(hours=24))
    ends = [now - n * every for n in range(timedelta(days=days) // every)]
    return [
        _row([p for p in points if end - every < p.at <= end], end - every, site) for end in reversed(ends)
    ]


def _row(points: Sequence[AirPoint], since: datetime, site: Site | None) -> AirRow:
    when = words.dated(since, site)
    if not points:
        return when, say("no reading"), say("no reading")
    warm, damp = [p.temperature_k for p in points], [p.humidity for p in points]
    return (
        when,
        words.temperature_range((min(warm), max(warm)), site),
        words.humidity_range((min(damp), max(damp))),
    )
