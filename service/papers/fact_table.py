"""Facts flattened for a spreadsheet: one row a fact. Pure."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from service.papers.cells import Cell
from service.papers.columns import amount, clock_cells, clock_heads, head
from service.records.ledger import Line
from service.records.ledger_pages import Entry
from service.records.shop_facts import Site
from service.units import Dimension

WHAT = {
    "mould": "hung up",
    "dip": "coat given",
    "wires": "wires set",
    "check": "felt by hand",
    "note": "note",
    "weight": "weighed",
    "face": "face temperature",
    "sensor on": "sensor on the mould",
    "ended": "left the shell room",
    "result": "came out",
    "photo": "photo",
    "tank check": "tank checked",
    "told": "message told",
    "learn anew": "to be learned anew",
    "withdrawn": "taken back",
}
MEASURED = {
    "mass_kg": ("weight", Dimension.MASS, 3),
    "temperature_k": ("temperature", Dimension.TEMPERATURE, 1),
    "water_added_kg": ("water added", Dimension.MASS, 3),
}
Body = Mapping[str, Any]


def fact_heads(site: Site | None) -> list[str]:
    """The names of the columns."""
    measured = [head(name, dimension, site) for name, dimension, _ in MEASURED.values()]
    return [
        "no.",
        *clock_heads("when", site),
        "mould no.",
        "mould",
        "what",
        "coat",
        "kind",
        "tank",
        "zone",
        "finding",
        *measured,
        "flow (s)",
        "density (kg/m³)",
        "pH",
        "remark",
        "hand",
        "recorded (UTC)",
        "in place of",
        "corrected by",
        "taken back by",
    ]


def fact_rows(
    lines: Iterable[Line], names: Mapping[int, str], later: Mapping[int, Entry], site: Site | None
) -> Iterator[list[Cell]]:
    """names: of the moulds, by number. later: what corrected a fact or took it back, by its number."""
    for line in lines:
        yield _row(line, _body(line), names, later.get(line.number), site)


def _row(
    line: Line, body: Body, names: Mapping[int, str], gone: Entry | None, site: Site | None
) -> list[Cell]:
    back = gone is not None and gone.kind == "withdrawn"
    measured = [
        amount(_number(body.get(key)), dimension, site, digits)
        for key, (_, dimension, digits) in MEASURED.items()
    ]
    return [
        line.number,
        *clock_cells(line.at, site),
        line.mould_id,
        names.get(line.mould_id) if line.mould_id is not None else None,
        WHAT.get(line.kind, line.kind),
        body.get("coat") or body.get("after_coat"),
        body.get("coat_kind"),
        body.get("tank"),
        body.get("zone"),
        finding(body),
        *measured,
        _number(body.get("flow_s")),
        _number(body.get("density_kg_m3")),
        _number(body.get("ph")),
        remark(line.kind, body),
        line.hand,
        clock_cells(line.recorded_at, site)[1],
        line.replaces,
        gone.number if gone and not back else None,
        gone.number if gone and back else None,
    ]


def finding(body: Body) -> str | None:
    """What was found: a hand's verdict, how it left, how it came out and what was wrong with it; a sensor on or off."""
    said = body.get("verdict") or body.get("outcome") or _problem(body) or _put(body)
    failings = [_failing(failing) for failing in body.get("failings") or ()]
    return f"{said}: {'; '.join(failings)}" if failings else said


def _problem(body: Body) -> str | None:
    """What a note says is wrong, or was put right."""
    problem = body.get("problem")
    return f"put right: {problem}" if problem and body.get("over") else problem


def _put(body: Body) -> str | None:
    if not body.get("sensor"):
        return None
    return "taken off" if body.get("off") else "put on"


def _failing(failing: Body) -> str:
    zone, coat = failing.get("zone"), failing.get("coat")
    return f"{failing.get('fault')}{f' at {zone}' if zone else ''}{f', coat {coat}' if coat else ''}"


def remark(kind: str, body: Body) -> str | None:
    """The words that were written down with it."""
    if kind == "mould":
        recipe = (body.get("recipe") or {}).get("title", "")
        notebook = "from the notebook" if body.get("from_notebook") else ""
        return "; ".join(part for part in (body.get("piece"), f"recipe {recipe}", notebook) if part)
    if kind == "told":
        return f"{body.get('recipient')}: {body.get('title')}"
    made_new = "made new" if body.get("made_new") else ""
    said = (made_new, body.get("sensor"), body.get("scale"), _learned(kind, body))
    return "; ".join(part for part in (*said, body.get("text"), body.get("early_reason")) if part)


def _learned(kind: str, body: Body) -> str:
    """``draught of room 2, hook 3``: what is to be learned anew."""
    if kind != "learn anew":
        return ""
    effect, of = body.get("effect") or "everything", body.get("of")
    return f"{effect} of {of}" if of else str(effect)


def _number(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) else None


def _body(line: Line) -> Body:
    """What it says; nothing where that cannot be read."""
    try:
        body = json.loads(line.body)
    except (ValueError, RecursionError):
        return {}
    return body if isinstance(body, dict) else {}


def names_in(lines: Iterable[Line]) -> dict[int, str]:
    """The name of each mould, by its number, from the facts that say what they are."""
    return {line.mould_id: str(_body(line).get("name", "")) for line in lines if line.mould_id is not None}
