"""One mould of the demo as it is planned: what it is, when it was hung up, and what befell it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from service.local_time import local, start_of_day
from service.records.facts import Failing, MouldBody, ResultBody, Zone, ZoneKind
from service.records.recipes import Recipe
from service.records.shop_facts import Site

SHELL_ROOM, LEAN_TO = "Shell room", "Lean-to"


@dataclass(frozen=True, slots=True)
class Plan:
    """One mould, and what of its past is more than the recipe.

    days_ago, hour: when it was hung up, in whole local days before the demo begins.
    wanted_in_days: counted likewise, at noon. Keys of the mappings are coats, from 1, and tell what came after them:
    early: the next coat went on when this share of the wait was over, for the reason given;
    damp: felt still damp at this share of the wait, if the shop was open; dry: felt dry just before the next coat;
    notes: written down; weighed: on the scale after this coat and again before the next;
    slips: written down with this tank at first; unwired: the wires asked for were left out, for the reason given.
    fails: how it ended, in words, where it did not even come through the dewax.
    failings, told: what was wrong with the piece, if anything was, and what was said of it.
    """

    name: str
    piece: str
    customer: str
    recipe: str
    hook: str
    height_m: float
    width_m: float
    wax_mass_kg: float
    zones: tuple[Zone, ...]
    room: str = SHELL_ROOM
    days_ago: int = 0
    hour: float = 8.0
    wanted_in_days: int | None = None
    early: Mapping[int, tuple[float, str]] = field(default_factory=dict)
    damp: Mapping[int, float] = field(default_factory=dict)
    dry: Collection[int] = ()
    notes: Mapping[int, str] = field(default_factory=dict)
    weighed: Collection[int] = ()
    slips: Mapping[int, str] = field(default_factory=dict)
    unwired: Mapping[int, str] = field(default_factory=dict)
    fails: str | None = None
    failings: tuple[Failing, ...] = ()
    told: str = ""

    @property
    def result(self) -> ResultBody:
        return ResultBody(
            verdict="failed" if self.failings else "sound", failings=self.failings, text=self.told
        )

    def started_at(self, begins: datetime, site: Site) -> datetime:
        return day_from(begins, -self.days_ago, site) + timedelta(hours=self.hour)

    def wanted_by(self, begins: datetime, site: Site) -> datetime | None:
        if self.wanted_in_days is None:
            return None
        return day_from(begins, self.wanted_in_days, site) + timedelta(hours=12)

    def body(self, recipe: Recipe, room_id: int, wanted_by: datetime | None) -> MouldBody:
        return MouldBody(
            name=self.name,
            piece=self.piece,
            customer=self.customer,
            height_m=self.height_m,
            width_m=self.width_m,
            wax_mass_kg=self.wax_mass_kg,
            hook=self.hook,
            room_id=room_id,
            wanted_by=wanted_by,
            zones=self.zones,
            recipe=recipe,
        )


def day_from(begins: datetime, days: int, site: Site) -> datetime:
    """The instant at which the local day so many days from `begins` starts."""
    return start_of_day(local(begins, site).date() + timedelta(days=days), site)


def face(name: str, height_m: float, width_m: float) -> Zone:
    return Zone(name=name, kind=ZoneKind.OPEN_FACE, height_m=height_m, width_m=width_m)


def panel(name: str, height_m: float, width_m: float) -> Zone:
    return Zone(name=name, kind=ZoneKind.FLAT_PANEL, height_m=height_m, width_m=width_m)


def hole(
    name: str, depth_m: float, mouth_m: float, height_m: float, width_m: float, slot: bool = False
) -> Zone:
    return Zone(
        name=name,
        kind=ZoneKind.POCKET,
        height_m=height_m,
        width_m=width_m,
        depth_m=depth_m,
        mouth_m=mouth_m,
        slot=slot,
    )
