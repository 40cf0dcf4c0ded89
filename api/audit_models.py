"""The record of a mould as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from api.fact_models import FactOut, fact_out
from api.models import EXAMPLE_TIME, Out, example
from api.mould_models import MOULD, MouldOut, mould_out
from service import words
from service.records.recipes import CoatKind
from service.records.shop_facts import Room, Site
from service.room.views import AirWrong, Audit, CoatAudit

AIR_FAULT = {"wrong": "too damp", "worst": 0.64, "wanted": 0.6, "lasted_s": 4800.0}
COAT = {
    "coat": 3,
    "kind_asked": "backup",
    "kind_given": "backup",
    "tank_asked": "grey",
    "tank_given": "grey",
    "hand": "bench 1",
    "dipped_at": EXAMPLE_TIME,
    "ready_at": EXAMPLE_TIME,
    "waited_s": 10800.0,
    "saturation_at_next_dip": 0.33,
    "early": False,
    "early_reason": None,
    "late": False,
    "temperature_range_k": [293.9, 294.9],
    "humidity_range": [0.51, 0.64],
    "air_gap_s": 0.0,
    "air_faults": [AIR_FAULT],
    "wires_asked": False,
    "wires_given": False,
    "faults": ["Air too damp for a backup coat: 64 % at worst, at most 60 % asked; 1 h 20 min in all"],
}
POINT = {
    "at": EXAMPLE_TIME,
    "newest_saturation": 0.6,
    "water_share": 0.08,
    "temperature_k": 294.4,
    "humidity": 0.55,
}


class AirFaultOut(Out):
    """How the air of a wait was not as the recipe asks: kelvin, or for humidity a share of 1."""

    model_config = example(AIR_FAULT)
    wrong: AirWrong
    worst: float
    wanted: float
    lasted_s: float


class CoatAuditOut(Out):
    """One coat: asked against given. `faults`: what was not as asked, in sentences."""

    model_config = example(COAT)
    coat: int
    kind_asked: CoatKind | None
    kind_given: CoatKind | None
    tank_asked: str | None
    tank_given: str | None
    hand: str | None
    dipped_at: datetime | None
    ready_at: datetime | None
    waited_s: float | None
    saturation_at_next_dip: float | None
    early: bool
    early_reason: str | None
    late: bool
    temperature_range_k: tuple[float, float] | None
    humidity_range: tuple[float, float] | None
    air_gap_s: float
    air_faults: list[AirFaultOut]
    wires_asked: bool
    wires_given: bool
    faults: list[str]


class DrynessPointOut(Out):
    """The slowest zone and the air at one moment. Air null: none was measured."""

    model_config = example(POINT)
    at: datetime
    newest_saturation: float
    water_share: float
    temperature_k: float | None
    humidity: float | None


class AuditOut(Out):
    """A mould's whole life. `chain_intact` false: a line of the ledger was changed or lost outside coatbell.

    `air_by_the_hour_s`: for how long only hourly means of the air are left.
    """

    model_config = example(
        {
            "mould": MOULD,
            "coats": [COAT],
            "facts": [],
            "chart": [POINT],
            "chain_intact": True,
            "chain_checked_at": EXAMPLE_TIME,
            "air_by_the_hour_s": 0.0,
        }
    )
    mould: MouldOut
    coats: list[CoatAuditOut]
    facts: list[FactOut]
    chart: list[DrynessPointOut]
    chain_intact: bool
    chain_checked_at: datetime | None
    air_by_the_hour_s: float


def audit_out(audit: Audit, site: Site | None, rooms: Sequence[Room], now: datetime) -> AuditOut:
    return AuditOut(
        mould=mould_out(audit.now, site, now),
        coats=[_coat_out(coat, site) for coat in audit.coats],
        facts=[fact_out(fact, site, audit.facts, rooms) for fact in audit.facts],
        chart=[DrynessPointOut.model_validate(point) for point in audit.chart],
        chain_intact=audit.chain_intact,
        chain_checked_at=audit.chain_checked_at,
        air_by_the_hour_s=audit.air_by_the_hour_s,
    )


def _coat_out(coat: CoatAudit, site: Site | None) -> CoatAuditOut:
    plain = {name: getattr(coat, name) for name in CoatAuditOut.model_fields if name != "faults"}
    return CoatAuditOut.model_validate(
        {**plain, "faults": words.coat_faults(coat, site) if coat.kind_given else []}
    )
