"""A mould as screens show it: its stage, what comes next and when, and the picture of its coats."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import overload

import numpy as np

from service.drying.air import wet_bulb_k
from service.drying.transfer import surface_recovery
from service.drying.weather import AirSeries
from service.records.facts import CheckBody, EndedBody, Fact, NoteBody, ResultBody, Zone
from service.room.air_book import RoomAir
from service.room.estimate import ZoneEstimate, slowest
from service.room.expected import Expected
from service.room.progress import Progress
from service.room.room_view import RoomState
from service.room.views import Layer, MouldNow, NotAtThisHumidity, Stage, Wrong, ZoneNow

BRIDGED_S = 1800.0
"""Unmeasured air of a wait that is not worth a word (our choice): a sensor counts as fresh for as long."""


@dataclass(frozen=True)
class Waits:
    """What a mould waits for, as instants; None where there is nothing to wait for, or it cannot be told."""

    least_until: datetime | None
    longest_until: datetime | None
    dry_enough: datetime | None
    held_until: datetime | None

    @property
    def due(self) -> datetime | None:
        """When the next dip, or dewax, can be done."""
        return self.due_if(self.dry_enough)

    def due_if(self, dry_enough: datetime | None) -> datetime | None:
        """When it is due, if it is dry enough by then."""
        if dry_enough is None or self.least_until is None:
            return None
        times = [dry_enough, self.least_until]
        return max([*times, self.held_until] if self.held_until else times)


@dataclass(frozen=True)
class Around:
    """Between which instants a mould gets due, its waits counted; all None once it is, and where nobody knows."""

    early: datetime | None = None
    about: datetime | None = None
    late: datetime | None = None


def _around(waits: Waits, expected: Expected | None, now: datetime) -> Around:
    if expected is None or (waits.due is not None and waits.due <= now):
        return Around()
    times = (expected.early_s, expected.about_s, expected.late_s)
    return Around(*(waits.due_if(_instant(at_s)) for at_s in times))


def mould_view(
    p: Progress,
    zones: tuple[ZoneEstimate, ...],
    state: RoomState,
    now: datetime,
    never: NotAtThisHumidity | None = None,
    hung_in: RoomAir | None = None,
    unworkable: bool = False,
    expected: Expected | None = None,
) -> MouldNow:
    """Put a mould's facts and its estimate together. `zones` is empty while no coat is on or no air is known.

    hung_in: the mould's own air, where that is not the room's all along.
    unworkable: its numbers cannot be worked with. expected: when what it waits for is reached, and how surely.
    """
    waits = _waits(p, expected.sure_s if expected else None)
    stage = _stage(p, waits.due, now)
    around = _around(waits, expected if stage is not Stage.ENDED else None, now)
    slow = slowest(zones, p.for_dewax) if zones else None
    step = p.next_step
    ended = p.ended.body if p.ended else None
    result = p.result.body if p.result else None
    return MouldNow(
        id=p.mould_id,
        name=p.body.name,
        piece=p.body.piece,
        customer=p.body.customer,
        hook=p.body.hook,
        room=state.room,
        wanted_by=p.body.wanted_by,
        recipe=p.recipe,
        stage=stage,
        started_at=p.started_at,
        ended_at=p.ended.at if p.ended else None,
        outcome=ended.outcome if isinstance(ended, EndedBody) else None,
        coats_given=p.coats_given,
        coats_total=p.coats_total,
        last_dip_at=p.last_dip.at if p.last_dip else None,
        last_dip_number=p.last_dip.number if p.last_dip else None,
        last_dip_recorded_at=p.last_dip.recorded_at if p.last_dip else None,
        next_coat=p.coats_given + 1 if step else None,
        next_kind=step.kind if step else None,
        next_tank=step.tank if step else None,
        wires_due=p.wires_due,
        due_at=waits.due if stage is not Stage.ENDED else None,
        due_early_at=around.early,
        about_at=around.about,
        due_late_at=around.late,
        sureness_usual=expected is not None and expected.usual and stage is not Stage.ENDED,
        least_wait_until=waits.least_until,
        longest_wait_until=waits.longest_until,
        never=never if stage in (Stage.DRYING, Stage.FINAL_DRY) else None,
        held_by=p.body.zones[slow].name if slow is not None and len(zones) > 1 else None,
        hand_check=_felt(p),
        hand_check_at=p.newest_check.at if p.newest_check else None,
        felt_damp_at=p.felt_damp_at,
        hung_here_at=p.rooms[-1][0],
        unworkable=unworkable,
        unmeasured_s=_unmeasured_s(p, waits.dry_enough, hung_in or state.air, now),
        guessing_since=None if p.body.from_notebook else state.guessing_since,
        from_notebook=p.body.from_notebook,
        layers=_layers(p, zones[slow] if slow is not None else None),
        zones=_zones(p, zones, slow, state.air.series if state.air else None, now),
        verdict=result.verdict if isinstance(result, ResultBody) else None,
        failings=result.failings if isinstance(result, ResultBody) else (),
        result_number=p.result.number if p.result else None,
        result_at=p.result.at if p.result else None,
        wrong=wrong_of(p.problems),
    )


def wrong_of(problems: Iterable[Fact]) -> tuple[Wrong, ...]:
    """What is wrong, out of the notes that say so."""
    said = ((fact, fact.body) for fact in problems if isinstance(fact.body, NoteBody))
    return tuple(Wrong(body.problem, body.text, fact.at, fact.hand) for fact, body in said if body.problem)


def due_by(p: Progress, dry_enough_s: float | None) -> datetime | None:
    """When a mould is due that is dry enough by then, its waits counted."""
    return _waits(p, dry_enough_s).due


def _waits(p: Progress, dry_enough_s: float | None) -> Waits:
    dewax = p.for_dewax
    if p.last_dip is None or p.last_step is None:
        return Waits(p.started_at, None, p.started_at, None)
    least = p.recipe.final_dry.least_wait_s if dewax else p.last_step.least_wait_s
    longest = None if dewax else p.last_step.longest_wait_s
    since = p.last_dip.at
    return Waits(
        since + timedelta(seconds=least),
        since + timedelta(seconds=longest) if longest is not None else None,
        _instant(dry_enough_s),
        p.held_until,
    )


def _unmeasured_s(p: Progress, dry_enough: datetime | None, air: RoomAir | None, now: datetime) -> float:
    """Of the whole wait, if it had more than a little unmeasured air before it was dry enough; else 0."""
    if air is None or p.last_dip is None or p.body.from_notebook:
        return 0.0
    start_s, reckoned = p.last_dip.at.timestamp(), min(dry_enough or now, now)
    if air.gap_s(start_s, reckoned.timestamp()) <= BRIDGED_S:
        return 0.0
    return air.gap_s(start_s, now.timestamp())


def _stage(p: Progress, due: datetime | None, now: datetime) -> Stage:
    if p.ended:
        return Stage.ENDED
    if not p.dips:
        return Stage.TO_DIP
    reached = due is not None and due <= now
    if p.next_step is None:
        return Stage.DRY if reached else Stage.FINAL_DRY
    if not reached:
        return Stage.DRYING
    return Stage.TO_WIRE if p.wires_due else Stage.READY


def _felt(p: Progress) -> str | None:
    check = p.newest_check
    return check.body.verdict if check and isinstance(check.body, CheckBody) else None


def _layers(p: Progress, zone: ZoneEstimate | None) -> tuple[Layer, ...]:
    """Coats given as wet as they are in the slowest zone, then those still to come."""
    wet = zone.state.coat_saturations.tolist() if zone else []
    return tuple(
        Layer(
            number,
            step.kind,
            step.thickness_m,
            wet[number - 1] if number <= len(wet) else None,
            p.wired(number) or (number > p.coats_given and p.recipe.wires_after(number)),
        )
        for number, step in enumerate(p.recipe.coats, 1)
    )


def _zones(
    p: Progress, zones: tuple[ZoneEstimate, ...], slow: int | None, air: AirSeries | None, now: datetime
) -> tuple[ZoneNow, ...]:
    if air is None:
        return ()
    here = air.at(np.array([now.timestamp()]))
    air_k = float(here.temperature_k[0])
    wet_bulb = _wet_bulb_k(air_k, float(here.humidity[0]), float(here.pressure_pa[0]))
    return tuple(
        _zone(asked, zone, i == slow, p.for_dewax, _recovery(zone.state.surface_k, air_k, wet_bulb))
        for i, (asked, zone) in enumerate(zip(p.body.zones, zones, strict=False))
    )


@lru_cache(maxsize=16)  # the same air for every mould in a room
def _wet_bulb_k(temperature_k: float, humidity: float, pressure_pa: float) -> float:
    return float(wet_bulb_k(temperature_k, humidity, pressure_pa))


def _recovery(surface_k: float, air_k: float, wet_bulb: float) -> float:
    """Held to 0..1, which a sudden draught leaves for a while; in fog, where no face dries, 0."""
    return float(np.clip(np.nan_to_num(surface_recovery(surface_k, air_k, wet_bulb)), 0.0, 1.0))


def _zone(asked: Zone, zone: ZoneEstimate, is_slowest: bool, dewax: bool, recovery: float) -> ZoneNow:
    state = zone.state
    return ZoneNow(
        name=asked.name,
        kind=asked.kind,
        newest_saturation=state.newest_saturation,
        coat_saturations=tuple(state.coat_saturations.tolist()),
        water_kg_m2=state.water_kg_m2,
        water_share=state.water_share,
        surface_temperature_k=state.surface_k,
        surface_recovery=recovery,
        ready_at=_instant(zone.ready_s),
        dry_at=_instant(zone.dry_s) if dewax else None,
        slowest=is_slowest,
    )


@overload
def _instant(seconds: float) -> datetime: ...
@overload
def _instant(seconds: float | None) -> datetime | None: ...
def _instant(seconds: float | None) -> datetime | None:
    return None if seconds is None else datetime.fromtimestamp(seconds, UTC)
