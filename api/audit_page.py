"""The record of a mould: asked against given, every fact, and a chart of air and dryness."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from markupsafe import Markup

from api.change_words import room_name
from api.charts import Frame, Line, Mark, Panel, by_flag, chart
from api.coat_rows import coat_row
from api.fact_words import fact_line, fate
from api.mould_page import drawing_scale
from api.photo_list import photos_of
from api.put_right import put_right
from api.weight_rows import weight_line, weight_rows
from service import words
from service.records.facts import CheckBody, EndedBody, NoteBody, WiresBody, live
from service.records.shop_facts import Room, Site
from service.room.audit_views import Known, StandsOut
from service.room.views import Audit, DrynessPoint
from service.units import Dimension, show

WIDTH_PX, TALL_PX = 900.0, 78.0
MOST_POINTS = 1200
MOST_STAND_OUT = 8


def audit_context(audit: Audit, site: Site | None, rooms: Sequence[Room]) -> dict[str, Any]:
    """Everything its template needs."""
    mould = audit.now
    return {
        "audit": audit,
        "mould": mould,
        "stays": stays_line(audit, site, rooms),
        "drawing": drawing_scale(mould),
        "result": result_line(audit, site),
        "photos": photos_of(audit.facts),
        "compared": words.compared_line(audit.sound_shells),
        "stands_out": [_standing(item, site) for item in audit.stands_out[:MOST_STAND_OUT]],
        "more_stand_out": max(len(audit.stands_out) - MOST_STAND_OUT, 0),
        "coats": [coat_row(coat, audit, site) for coat in audit.coats],
        "thickness": thickness_line(audit, site),
        "water_at_end": water_at_end(audit),
        "final": final_lines(audit, site),
        "weights": weight_rows(audit, site),
        "weight_line": weight_line(audit.weighings, site) if audit.weighings else "",
        "put_right": put_right(audit.facts, site, rooms),
        "said": said(audit, site, rooms),
        "facts": [
            (fact, fact_line(fact, site, audit.facts, rooms), fate(fact, audit.facts)) for fact in audit.facts
        ],
        "chart": life_chart(audit, site),
    }


def result_line(audit: Audit, site: Site | None) -> str:
    """``Came out failed: run-out at the base, coat 3``, who said so and when. Empty: nobody has said yet."""
    if audit.result is None:
        return ""
    by = f", {audit.result.hand}" if audit.result.hand else ""
    at = words.dated(audit.result.at, site, True)
    return f"{fact_line(audit.result, site).rstrip('.')} ({at}{by})."


def _standing(item: StandsOut, site: Site | None) -> tuple[str, str, bool]:
    """The sentence, how it is known, and whether that is an inference."""
    return words.stands_out_line(item, site), words.known_words(item.known), item.known is Known.WORKED_OUT


def thickness_line(audit: Audit, site: Site | None) -> str:
    """``All coats given: 8.9 mm``, as the recipe has them."""
    thick = sum(coat.thickness_m or 0.0 for coat in audit.coats if coat.kind_given is not None)
    shown = show(thick, Dimension.LENGTH, words.units_of(site))
    return f"All coats given: {shown} by the recipe's own numbers; nobody measured it." if thick else ""


def final_lines(audit: Audit, site: Site | None) -> list[str]:
    """The final dry, asked against given."""
    final = audit.final
    if final is None:
        return []
    hangs = "so far it hung" if final.still_hangs else "it hung"
    waited = words.span(final.waited_s)
    lines = [f"At least {words.span(final.asked_s)} asked after the last coat; {hangs} {waited}."]
    if final.dry_at is not None:
        lines.append(f"Every place was dry enough from {words.dated(final.dry_at, site)} on.")
    elif final.water_share is not None and not final.still_hangs:
        lines.append("It left before every place was dry enough.")
    return lines


def said(audit: Audit, site: Site | None, rooms: Sequence[Room]) -> list[tuple[str, str, str]]:
    """Notes, and what hands felt: what stands in no other table of the sheet."""
    held = live(list(audit.facts))
    return [
        (words.dated(fact.at, site), fact_line(fact, site, audit.facts, rooms), fact.hand)
        for fact in held
        if isinstance(fact.body, NoteBody | CheckBody | WiresBody | EndedBody)
    ]


def stays_line(audit: Audit, site: Site | None, rooms: Sequence[Room]) -> str:
    """``Shell room until Mon 09:30, then Lean-to``. Empty: it was never moved."""
    if len(audit.stays) < 2:
        return ""
    names = [room_name(room_id, rooms) for _, room_id in audit.stays]
    left = [f" until {words.dated(since, site)}" for since, _ in audit.stays[1:]]
    return ", then ".join(name + until for name, until in zip(names, [*left, ""], strict=True))


def water_at_end(audit: Audit) -> str:
    """How much water was in the shell when it left: what a failure in the dewax is first asked. Empty: it hangs."""
    final = audit.final
    if audit.now.ended_at is None or final is None or final.water_share is None:
        return ""
    at = f" (“{final.wettest_place}”)" if final.wettest_place else ""
    held = words.likely_water(final.water_share, final.likely_water)
    return (
        f"Its slowest place{at} then held {held} water by weight, by the estimate; "
        f"dry enough is {100 * final.water_limit:g} %."
    )


def life_chart(audit: Audit, site: Site | None) -> Markup | None:
    """Dryness of the slowest zone and, where any was measured, the room's air. None before the first dip."""
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
    panels = [panel for panel in panels if panel.line.pieces]
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
