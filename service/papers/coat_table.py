"""The coats of moulds for a spreadsheet, asked against given: one row a coat of the audit. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from service.papers.cells import Cell
from service.papers.columns import amount, clock_cells, clock_heads, head
from service.records.shop_facts import Site
from service.room.views import Audit, CoatAudit
from service.units import Dimension
from service.words import coat_faults

HOUR_S = 3600.0


def coat_heads(site: Site | None) -> list[str]:
    """The names of the columns."""
    return [
        "mould no.",
        "mould",
        "recipe",
        "from the notebook",
        "coat",
        "kind asked",
        "kind given",
        "tank asked",
        "tank given",
        "hand",
        *clock_heads("dipped", site),
        *clock_heads("ready, by the estimate", site),
        "waited (h)",
        "wet at next dip, by the estimate (%)",
        "early",
        "early because",
        "late",
        head("lowest temperature", Dimension.TEMPERATURE, site),
        head("highest temperature", Dimension.TEMPERATURE, site),
        head("lowest humidity", Dimension.FRACTION, site),
        head("highest humidity", Dimension.FRACTION, site),
        "no air measured (h)",
        "wires asked",
        "wires set",
        "not as asked",
    ]


def coat_rows(audits: Iterable[Audit], site: Site | None) -> Iterator[list[Cell]]:
    """Coats asked and never given stand there too, without a time."""
    for audit in audits:
        for coat in audit.coats:
            yield _row(audit, coat, site)


def _row(audit: Audit, coat: CoatAudit, site: Site | None) -> list[Cell]:
    return [
        audit.now.id,
        audit.now.name,
        audit.now.recipe.title,
        audit.now.from_notebook,
        coat.coat,
        coat.kind_asked,
        coat.kind_given,
        coat.tank_asked,
        coat.tank_given,
        coat.hand,
        *clock_cells(coat.dipped_at, site),
        *clock_cells(coat.ready_at, site),
        _hours(coat.waited_s),
        amount(coat.saturation_at_next_dip, Dimension.FRACTION, site, 1),
        coat.early,
        coat.early_reason,
        coat.late,
        *_range(coat.temperature_range_k, Dimension.TEMPERATURE, site),
        *_range(coat.humidity_range, Dimension.FRACTION, site),
        _hours(coat.air_gap_s) if coat.kind_given else None,
        coat.wires_asked,
        coat.wires_given,
        "; ".join(coat_faults(coat, site)) if coat.kind_given else "not given",
    ]


def _hours(seconds: float | None) -> float | None:
    return None if seconds is None else round(seconds / HOUR_S, 2)


def _range(span: tuple[float, float] | None, dimension: Dimension, site: Site | None) -> list[float | None]:
    return [amount(value, dimension, site, 1) for value in span or (None, None)]
