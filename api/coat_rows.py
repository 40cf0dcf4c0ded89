"""One coat of the audit as a row: what was recorded, what was measured, and what is worked out, apart."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from service import words
from service.records.shop_facts import Site
from service.room.audit_views import TooWet
from service.room.views import Audit, CoatAudit, MouldNow, Stage
from service.units import Dimension, show
from service.voice import later, say

KINDS = {"prime": later("prime"), "backup": later("backup"), "seal": later("seal")}
TOO_WET = {
    TooWet.SURELY: later("surely too wet"),
    TooWet.LIKELY: later("likely too wet"),
    TooWet.PERHAPS: later("perhaps too wet"),
}
NO_BREAK = "\u00a0"
BEFORE_A_UNIT = re.compile(r"(?<=\d) (?=[^\W\d_]|[%°])")


@dataclass(frozen=True, slots=True)
class CoatRow:
    """Cells in words; empty where there is nothing to say. `lines`: what was not as asked."""

    coat: int
    given: bool
    asked: str
    got: str
    tank: str
    when: str
    waited: str
    wires: str
    air: str
    swing: str
    gap: str
    ready: str
    wet: str
    too_wet: str
    coldest: str
    lines: tuple[str, ...]


def coat_row(coat: CoatAudit, audit: Audit, site: Site | None) -> CoatRow:
    """What the table tells of one coat."""
    there = coat.kind_given is not None
    return CoatRow(
        coat=coat.coat,
        given=there,
        asked=_asked(coat, site),
        got=_dip(coat.kind_given, coat.tank_given) if there else say("not recorded"),
        tank=_tank(coat, site) if there else "",
        when=_when(coat, audit, site),
        waited=together(words.span(coat.waited_s)) if coat.waited_s is not None else "",
        wires=_wires(coat),
        air=_ranges_together(_air(coat, site)),
        swing=together(words.temperature_difference(coat.swing_k, site)) if coat.swing_k is not None else "",
        gap=_gap(coat) if there else "",
        ready=_ready(coat, audit.now, site),
        wet=_wet(coat),
        too_wet=say(TOO_WET[coat.too_wet]) if coat.too_wet else "",
        coldest=words.temperature(coat.coldest_surface_k, site) if coat.coldest_surface_k else "",
        lines=_lines(coat, audit, site) if there else (),
    )


def together(text: str) -> str:
    """The same, so that no narrow column parts a number from its unit."""
    return BEFORE_A_UNIT.sub(NO_BREAK, text)


def _lines(coat: CoatAudit, audit: Audit, site: Site | None) -> tuple[str, ...]:
    """What was not as asked. That nothing was measured is said once for a mould from a notebook."""
    told = replace(coat, air_gap_s=0.0) if audit.from_notebook else coat
    return tuple(words.coat_faults(told, site))


def _asked(coat: CoatAudit, site: Site | None) -> str:
    """``backup, grey tank, 1.1 mm``."""
    if coat.kind_asked is None:
        return say("nothing")
    thick = show(coat.thickness_m, Dimension.LENGTH, words.units_of(site)) if coat.thickness_m else ""
    return ", ".join(part for part in (_dip(coat.kind_asked, coat.tank_asked), thick) if part)


def _dip(kind: str | None, tank: str | None) -> str:
    named = words.bare_tank(tank) if tank else ""
    return ", ".join(part for part in (say(KINDS[kind]) if kind else "", named) if part)


def _tank(coat: CoatAudit, site: Site | None) -> str:
    return words.tank_before_line(coat.tank_check, site) if coat.tank_check else say("no check recorded")


def _when(coat: CoatAudit, audit: Audit, site: Site | None) -> str:
    """``Tue 14:20, bench 1``; marked where it was put right later."""
    if coat.dipped_at is None:
        return ""
    corrected = any(f.number == coat.dip_number and f.replaces is not None for f in audit.facts)
    parts = (words.dated(coat.dipped_at, site), coat.hand, say("put right") if corrected else "")
    return ", ".join(part for part in parts if part)


def _wires(coat: CoatAudit) -> str:
    if coat.wires_given:
        return say("set") if coat.wires_asked else say("set, not asked")
    if not coat.wires_asked:
        return ""
    return say("none, asked") if coat.kind_given else say("asked")


def _air(coat: CoatAudit, site: Site | None) -> str:
    if coat.temperature_range_k is None:
        return ""
    warm = words.temperature_range(coat.temperature_range_k, site)
    return f"{warm}, {words.humidity_range(coat.humidity_range)}" if coat.humidity_range else warm


def _ranges_together(air: str) -> str:
    """``34 to 37 %`` is one thing."""
    between = say("{low} to {high}", low="", high="")
    return together(air.replace(between, between.replace(" ", NO_BREAK)))


def _gap(coat: CoatAudit) -> str:
    """How much of the wait was measured, and how much assumed."""
    waited = coat.waited_s or 0.0
    if coat.air_gap_s < 60.0:
        return say("all measured")
    if coat.air_gap_s >= waited:
        return say("none measured")
    measured, assumed = words.span(waited - coat.air_gap_s), words.span(coat.air_gap_s)
    return say("{measured} measured, {assumed} assumed", measured=measured, assumed=assumed)


def _ready(coat: CoatAudit, mould: MouldNow, site: Site | None) -> str:
    if coat.dipped_at is None:
        return ""
    if coat.ready_at:
        return words.dated(coat.ready_at, site)
    if (
        coat.coldest_surface_k is None
        and coat.saturation_at_next_dip is None
        and coat.temperature_range_k is None
    ):
        return ""
    drying = coat.coat == mould.coats_given and mould.stage is not Stage.ENDED
    return say("not yet") if drying else say("not in that time")


def _wet(coat: CoatAudit) -> str:
    if coat.saturation_at_next_dip is None:
        return ""
    return words.likely_percent(coat.saturation_at_next_dip, coat.likely_saturation)
