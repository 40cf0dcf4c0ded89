"""The record of a mould: asked against given, every fact, and a chart of air and dryness."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from markupsafe import Markup

from api.change_words import room_name
from api.charts import Frame, Line, Mark, Panel, by_flag, chart
from api.fact_words import fact_line, fate
from api.mould_page import drawing_scale
from service import words
from service.records.shop_facts import Room, Site
from service.room.views import Audit, CoatAudit, DrynessPoint, MouldNow, Stage
from service.units import Dimension, show

WIDTH_PX, TALL_PX = 900.0, 110.0
MOST_POINTS = 1200


def audit_context(audit: Audit, site: Site | None, rooms: Sequence[Room], now: datetime) -> dict[str, Any]:
    """Everything its template needs."""
    mould = audit.now
    return {
        "audit": audit,
        "mould": mould,
        "stays": stays_line(audit, site, rooms, now),
        "drawing": drawing_scale(mould),
        "coats": [(coat, _ready_words(coat, audit.now, site, now)) for coat in audit.coats],
        "water_at_end": water_at_end(audit),
        "facts": [
            (fact, fact_line(fact, site, audit.facts, rooms), fate(fact, audit.facts)) for fact in audit.facts
        ],
        "chart": life_chart(audit, site),
    }


def stays_line(audit: Audit, site: Site | None, rooms: Sequence[Room], now: datetime) -> str:
    """``Shell room until Mon 09:30, then Lean-to``. Empty: it was never moved."""
    if len(audit.stays) < 2:
        return ""
    names = [room_name(room_id, rooms) for _, room_id in audit.stays]
    left = [f" until {words.clock_time(since, site, now)}" for since, _ in audit.stays[1:]]
    return ", then ".join(name + until for name, until in zip(names, [*left, ""], strict=True))


def _ready_words(coat: CoatAudit, mould: MouldNow, site: Site | None, now: datetime) -> str:
    if coat.dipped_at is None or mould.from_notebook:
        return ""
    if coat.ready_at:
        return words.clock_time(coat.ready_at, site, now)
    drying = coat.coat == mould.coats_given and mould.stage is not Stage.ENDED
    return "not yet" if drying else "not in that time"


def water_at_end(audit: Audit) -> str:
    """How much water was in the shell when it left: what a failure in the dewax is first asked. Empty: it hangs."""
    if audit.now.ended_at is None or not audit.chart:
        return ""
    held, limit = audit.chart[-1].water_share, 100 * audit.now.recipe.final_dry.water_limit
    return (
        f"Its slowest place then held {words.water_share(held)} water by weight, by the estimate; "
        f"dry enough is {limit:g} %."
    )


def life_chart(audit: Audit, site: Site | None) -> Markup | None:
    """Dryness of the slowest zone and the room's air, from first dip to last. None before the first dip."""
    points = thinned(audit.chart)
    if len(points) < 2:
        return None
    units, recipe = words.units_of(site), audit.now.recipe
    measured = [(p, p.temperature_k is not None) for p in points]
    wet = Line(
        "coat",
        by_flag((p.at, p.newest_saturation, m) for p, m in measured),
        limit=recipe.coats[-1].ready_saturation,
        limit_name="ready for the next coat",
    )
    water = Line(
        "shell",
        by_flag((p.at, p.water_share, m) for p, m in measured),
        limit=recipe.final_dry.water_limit,
        limit_name="dry for dewax",
    )
    warm = Line("air", by_flag((p.at, p.temperature_k, True) for p in points))
    damp = Line("humidity", by_flag((p.at, p.humidity, True) for p in points))
    panels = [
        Panel(wet, words.percent, 1.0, 0.0, 1.0),
        Panel(water, words.percent, 0.04, 0.0),
        Panel(warm, lambda v: show(v, Dimension.TEMPERATURE, units, 0), 4.0),
        Panel(damp, words.percent, 0.2),
    ]
    end = max(points[-1].at, points[0].at + timedelta(hours=1))
    frame = Frame(points[0].at, end, WIDTH_PX, TALL_PX)
    marks = [Mark(c.dipped_at, str(c.coat)) for c in audit.coats if c.dipped_at]
    label = (
        f"{audit.now.name}: how dry the newest coat and the shell were, and the air, from the first dip on"
    )
    return chart(panels, frame, site, label, marks)


def thinned(points: tuple[DrynessPoint, ...]) -> list[DrynessPoint]:
    """Few enough points for a page, the last one kept."""
    step = max(1, -(-len(points) // MOST_POINTS))
    kept = list(points[::step])
    return kept if not points or kept[-1] is points[-1] else [*kept, points[-1]]
