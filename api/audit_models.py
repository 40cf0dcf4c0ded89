"""The record of a mould as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from pydantic import Field

from api.fact_models import FactOut, fact_out
from api.models import EXAMPLE_TIME, Out, example
from api.mould_models import MOULD, MouldOut, mould_out
from service import words
from service.records.recipes import CoatKind
from service.records.shop_facts import Room, Site
from service.room.audit_views import Known, Odd, StandsOut, TooWet
from service.room.views import AirWrong, Audit, CoatAudit

AIR_FAULT = {"wrong": "too damp", "worst": 0.64, "wanted": 0.6, "lasted_s": 4800.0}
TANK_CHECKED = {
    "number": 12,
    "at": EXAMPLE_TIME,
    "age_s": 172800.0,
    "flow_s": 14.2,
    "temperature_k": 294.2,
    "density_kg_m3": None,
    "ph": 9.6,
    "made_new": False,
    "text": "",
}
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
    "thickness_m": 0.0011,
    "least_wait_s": 3600.0,
    "longest_wait_s": None,
    "saturation_limit": 0.35,
    "likely_saturation": [0.24, 0.44],
    "too_wet": "perhaps",
    "coldest_surface_k": 287.4,
    "swing_k": None,
    "tank_check": TANK_CHECKED,
    "felt_damp_at": None,
    "wettest_place": "cup",
    "faults": ["Air too damp for a backup coat: 64 % at worst, at most 60 % asked; 1 h 20 min in all"],
}
FINAL = {
    "asked_s": 86400.0,
    "waited_s": 93600.0,
    "water_limit": 0.02,
    "water_share": 0.018,
    "likely_water": [0.015, 0.023],
    "dry_at": EXAMPLE_TIME,
    "still_hangs": False,
    "wettest_place": "cup",
}
PAIR = {
    "since": EXAMPLE_TIME,
    "until": EXAMPLE_TIME,
    "measured_kg": -0.14,
    "computed_kg_m2": -0.32,
    "computed_kg": -0.15,
    "coats": [],
    "wires": False,
}
WEIGHED = {"pairs": [PAIR], "area_m2": 0.47, "fitted": 4, "told_area_m2": 0.24}
AMONG = {"count": 24, "middle": -0.02, "spreads": 5.2}
STANDS_OUT = {
    "odd": "too wet",
    "known": "worked out",
    "distance": 4.2,
    "steps": 2.7,
    "coats": [5],
    "value": 0.62,
    "wanted": 0.35,
    "lasted_s": None,
    "likely": [0.5, 0.71],
    "too_wet": "surely",
    "place": "cup",
    "given": "rain coming",
    "asked": "",
    "of": "",
    "among": AMONG,
    "says": "Coat 5 was surely too wet when coat 6 went on: 62 % (likely 50 to 71 %) full, at most 35 % asked.",
}
POINT = {
    "at": EXAMPLE_TIME,
    "newest_saturation": 0.6,
    "water_share": 0.08,
    "temperature_k": 294.4,
    "humidity": 0.55,
    "surface_temperature_k": 291.2,
    "wet_bulb_k": 289.3,
    "coat_saturations": [0.41, 0.6],
}


class AirFaultOut(Out):
    """How the air of a wait was not as the recipe asks: kelvin, or for humidity a share of 1."""

    model_config = example(AIR_FAULT)
    wrong: AirWrong
    worst: float
    wanted: float
    lasted_s: float


class TankCheckedOut(Out):
    """The last check of a tank before a dip; `age_s`: how old it was then."""

    model_config = example(TANK_CHECKED)
    number: int
    at: datetime
    age_s: float
    flow_s: float | None
    temperature_k: float | None
    density_kg_m3: float | None
    ph: float | None
    made_new: bool
    text: str


class FinalDryOut(Out):
    """After the last coat. Water: kg a kg dry shell in the slowest place; `likely_water`: 10 to 90 %."""

    model_config = example(FINAL)
    asked_s: float
    waited_s: float
    water_limit: float
    water_share: float | None
    likely_water: tuple[float, float] | None
    dry_at: datetime | None
    still_hangs: bool
    wettest_place: str


class WeighedPairOut(Out):
    """Two weighings one after the other: the change on the scale, and as worked out (a m2, and over the area)."""

    model_config = example(PAIR)
    since: datetime
    until: datetime
    measured_kg: float
    computed_kg_m2: float | None
    computed_kg: float | None
    coats: list[int]
    wires: bool


class WeighingsOut(Out):
    """`area_m2`: what fits best the `fitted` pairs with neither dip nor wire between; `told_area_m2`: by its sizes."""

    model_config = example(WEIGHED)
    pairs: list[WeighedPairOut]
    area_m2: float | None
    fitted: int
    told_area_m2: float


class AmongSoundOut(Out):
    """How a number lies among this foundry's sound shells: their middle, and how many spreads beyond it."""

    model_config = example(AMONG)
    count: int
    middle: float
    spreads: float


class StandsOutOut(Out):
    """One thing that stands out, the farthest first. `known`: recorded and measured are facts; worked out is inferred.

    `distance` ranks it: `steps` beyond the recipe, and how far beyond the sound shells. `says`: the sentence.
    """

    model_config = example(STANDS_OUT)
    odd: Odd
    known: Known
    distance: float
    steps: float
    coats: list[int]
    value: float | None
    wanted: float | None
    lasted_s: float | None
    likely: tuple[float, float] | None
    too_wet: TooWet | None
    place: str
    given: str
    asked: str
    of: str
    among: AmongSoundOut | None
    says: str


class CoatAuditOut(Out):
    """One coat: asked against given. `faults`: what was not as asked, in sentences.

    `likely_saturation`: 10 to 90 % of `saturation_at_next_dip`. `thickness_m`: as the recipe has it.
    """

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
    thickness_m: float | None
    least_wait_s: float | None
    longest_wait_s: float | None
    saturation_limit: float | None
    likely_saturation: tuple[float, float] | None
    too_wet: TooWet | None
    coldest_surface_k: float | None
    swing_k: float | None
    tank_check: TankCheckedOut | None
    felt_damp_at: datetime | None
    wettest_place: str
    faults: list[str]


class DrynessPointOut(Out):
    """The slowest zone and the air at one moment. Air null: none was measured.

    `coat_saturations`: of each coat that is on, innermost first.
    """

    model_config = example(POINT)
    at: datetime
    newest_saturation: float
    water_share: float
    temperature_k: float | None
    humidity: float | None
    surface_temperature_k: float | None
    wet_bulb_k: float | None
    coat_saturations: list[float]


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
            "from_notebook": False,
            "result": None,
            "final": FINAL,
            "weighings": WEIGHED,
            "sound_shells": 24,
            "stands_out": [STANDS_OUT],
            "chain_checked_at": EXAMPLE_TIME,
            "air_by_the_hour_s": 0.0,
            "heard": 7,
            "learned": True,
        }
    )
    mould: MouldOut
    coats: list[CoatAuditOut]
    facts: list[FactOut]
    chart: list[DrynessPointOut]
    chain_intact: bool
    from_notebook: bool
    result: FactOut | None
    final: FinalDryOut | None
    weighings: WeighingsOut | None
    sound_shells: int
    stands_out: list[StandsOutOut]
    chain_checked_at: datetime | None
    air_by_the_hour_s: float
    heard: int = Field(
        description="how many weights, faces, hands and redips of its own it was worked out with"
    )
    learned: bool = Field(description="it was worked out with other numbers than the usual ones")


def audit_out(audit: Audit, site: Site | None, rooms: Sequence[Room], now: datetime) -> AuditOut:
    return AuditOut(
        mould=mould_out(audit.now, site, now),
        coats=[_coat_out(coat, site) for coat in audit.coats],
        facts=[fact_out(fact, site, audit.facts, rooms) for fact in audit.facts],
        chart=[DrynessPointOut.model_validate(point) for point in audit.chart],
        chain_intact=audit.chain_intact,
        from_notebook=audit.from_notebook,
        result=fact_out(audit.result, site, audit.facts, rooms) if audit.result else None,
        final=FinalDryOut.model_validate(audit.final) if audit.final else None,
        weighings=WeighingsOut.model_validate(audit.weighings) if audit.weighings else None,
        sound_shells=audit.sound_shells,
        stands_out=[_stands_out(item, site) for item in audit.stands_out],
        chain_checked_at=audit.chain_checked_at,
        air_by_the_hour_s=audit.air_by_the_hour_s,
        heard=audit.heard,
        learned=audit.learned,
    )


def _stands_out(item: StandsOut, site: Site | None) -> StandsOutOut:
    plain = {name: getattr(item, name) for name in StandsOutOut.model_fields if name != "says"}
    return StandsOutOut.model_validate({**plain, "says": words.stands_out_line(item, site)})


def _coat_out(coat: CoatAudit, site: Site | None) -> CoatAuditOut:
    plain = {name: getattr(coat, name) for name in CoatAuditOut.model_fields if name != "faults"}
    return CoatAuditOut.model_validate(
        {**plain, "faults": words.coat_faults(coat, site) if coat.kind_given else []}
    )
