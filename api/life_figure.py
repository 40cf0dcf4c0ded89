"""A mould's life as a chart: its coats growing and drying, water in the shell, air, face and wet bulb, humidity."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from markupsafe import Markup

from api.charts import AnyPanel, Frame, Line, Mark, Panel, Piece, by_flag, chart, runs
from api.figures import figure
from api.shell_strip import ShellStrip
from service import words
from service.records.shop_facts import Site
from service.room.views import Audit, DrynessPoint
from service.units import Dimension, show
from service.voice import say

POINTS_A_PX = 1.3
TABLE_ROWS = 16


def life_figure(audit: Audit, site: Site | None) -> Markup | None:
    """None before there is something to draw."""
    if len(audit.chart) < 2:
        return None
    start = audit.chart[0].at
    end = max(audit.chart[-1].at, start + timedelta(hours=1))
    return figure(lambda frame: _life(audit, site, frame), start, end)


def _life(audit: Audit, site: Site | None, frame: Frame) -> Markup:
    points = thinned(audit.chart, int(frame.width * POINTS_A_PX))
    panels = [ShellStrip(points, audit.coats), *_lines(audit, points, site)]
    marks = [Mark(c.dipped_at, str(c.coat)) for c in audit.coats if c.dipped_at]
    label = say(
        "{name}: how dry its coats and its shell were, and the air, from the first dip on",
        name=audit.now.name,
    )
    return chart(panels, frame, site, label, marks)


def _lines(audit: Audit, points: Sequence[DrynessPoint], site: Site | None) -> list[AnyPanel]:
    recipe, measured = audit.now.recipe, [(p, p.temperature_k is not None) for p in points]
    newest = Line(
        say("newest"),
        by_flag((p.at, p.newest_saturation, m) for p, m in measured),
        limit=recipe.coats[-1].ready_saturation,
        limit_name=say("ready for the next coat"),
    )
    water = Line(
        say("shell"),
        by_flag((p.at, p.water_share, m) for p, m in measured),
        limit=recipe.final_dry.water_limit,
        limit_name=say("dry for dewax"),
    )
    panels = [Panel(newest, words.percent, 1.0, 0.0, 1.0), Panel(water, words.percent, 0.04, 0.0)]
    damp = Line(say("humidity"), by_flag((p.at, p.humidity, True) for p in points))
    aired = [_warmth(audit, points, site), Panel(damp, words.percent, 0.2)]
    return [*panels, *(panel for panel in aired if panel.line.pieces)]


def _warmth(audit: Audit, points: Sequence[DrynessPoint], site: Site | None) -> Panel:
    """Between face and wet bulb lies the drying: at the wet bulb a face is wet, at the air's it is dry."""
    units = words.units_of(site)
    air = Line(say("air"), by_flag((p.at, p.temperature_k, True) for p in points))
    face = [(p.at, p.surface_temperature_k) for p in points if p.surface_temperature_k is not None]
    bulb = by_flag((p.at, p.wet_bulb_k, True) for p in points)
    beside = [
        Line(say("wet bulb"), [piece for piece in bulb if piece.measured], kind="wet-bulb"),
        Line(say("face"), [Piece(face, False)] if face else [], kind="assumed face"),
        *(Line(felt.sensor, runs(felt.points), kind="measured felt") for felt in audit.surfaces),
    ]
    return Panel(air, lambda v: show(v, Dimension.TEMPERATURE, units, 0), 4.0, beside=beside, rows=2)


def thinned(points: Sequence[DrynessPoint], most: int) -> list[DrynessPoint]:
    """Few enough points for a page, the last one kept."""
    step = max(1, -(-len(points) // most))
    kept = list(points[::step])
    return kept if not points or kept[-1] is points[-1] else [*kept, points[-1]]


Row = tuple[str, str, str, str, str, str, str]


def life_table(audit: Audit, site: Site | None) -> list[Row]:
    """The same in words: when, each coat, the shell, air, humidity, face, wet bulb."""
    return [_row(point, site) for point in thinned(audit.chart, TABLE_ROWS)]


def _row(point: DrynessPoint, site: Site | None) -> Row:
    return (
        words.dated(point.at, site),
        ", ".join(words.percent(each) for each in point.coat_saturations),
        words.water_share(point.water_share),
        _warm(point.temperature_k, site),
        words.percent(point.humidity) if point.humidity is not None else say("no reading"),
        _warm(point.surface_temperature_k, site),
        _warm(point.wet_bulb_k, site),
    )


def _warm(kelvin: float | None, site: Site | None) -> str:
    return words.temperature(kelvin, site) if kelvin is not None else say("no reading")
