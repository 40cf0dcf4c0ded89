"""The week so far: what the benches did with each mould, worked out with the very drying computation the service uses.

Every dip lies a while after the coat under it was ready, in working hours, unless its plan says it went on early.
Pure: no clock, no records.
"""

from __future__ import annotations

import zlib
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import numpy as np

from service.demo.chores import knocked_out
from service.demo.hand import BENCHES as BENCHES
from service.demo.hand import Act, Habits, first_working, hand_comes, one_in, where_wires_go
from service.demo.plan import Plan, day_from
from service.demo.slurry import mornings, slurry
from service.demo.truth import Truth, read_k, weighed_kg
from service.drying.shell import Parameters
from service.drying.solver import advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState, dip, hang
from service.local_time import local
from service.records.facts import (
    AnyBody,
    CheckBody,
    DipBody,
    EndedBody,
    FaceBody,
    MouldBody,
    NoteBody,
    WeightBody,
    WiresBody,
)
from service.records.recipes import CoatStep
from service.records.shop_facts import Site
from service.room.progress import coat_of, limits_after, zone_shape

BETWEEN_WIRES_AND_DIP = timedelta(minutes=12)
SEEN_AFTER = timedelta(minutes=20)
"""A shell that failed in the dewax is looked at so long after it."""
READ_AT = 0.4
"""A face is read at this share of the wait."""
AS_USUAL = Truth()


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing done to a mould, named by its place in the scenario, or None: to a tank.

    slip: what was first written down.
    """

    at: datetime
    mould: int | None
    hand: str
    body: AnyBody
    slip: AnyBody | None = None


@dataclass
class _Wax:
    """A mould on its way through the week. `laid`: its zones just after the newest dip; `zones`: as far as known."""

    number: int
    plan: Plan
    body: MouldBody
    started_at: datetime
    next_dip: datetime | None
    numbers: Parameters
    zones: list[ZoneState] = field(default_factory=list)
    laid: list[ZoneState] = field(default_factory=list)
    coats: int = 0
    dipped_at: datetime | None = None
    early_reason: str | None = None
    done: list[Happening] = field(default_factory=list)

    @property
    def steps(self) -> tuple[CoatStep, ...]:
        return self.body.recipe.coats

    @property
    def who(self) -> str:
        return f"{self.plan.name} {self.coats}"

    def is_weighed(self, shop: Shop) -> bool:
        return self.coats in self.plan.weighed or one_in(shop.habits.weighed_every, f"{self.who} weigh")

    def is_felt_dry(self, shop: Shop) -> bool:
        waited = self.early_reason is None
        return self.coats in self.plan.dry or (waited and one_in(shop.habits.felt_every, f"{self.who} feel"))

    def add(self, at: datetime, body: AnyBody, slip: AnyBody | None = None) -> None:
        hand = BENCHES[zlib.crc32(f"{self.who} {body.kind}".encode()) % 2]
        self.done.append(Happening(at, self.number, hand, body, slip))


@dataclass(frozen=True)
class Shop:
    """What the past is worked out from. `now` is when the demo begins. truth: how its shells really dry.

    bells_wait: after so many times the wait that a shell really needed its bell rang, to be sure.
    """

    site: Site
    habits: Habits
    parameters: Parameters
    now: datetime
    truth: Truth = AS_USUAL
    bells_wait: float = 1.0


def week_so_far(
    plans: Sequence[Plan], bodies: Sequence[MouldBody], air: Mapping[int, AirSeries], shop: Shop
) -> list[Happening]:
    """Everything that was done until now, in order of time. air: of each room, by its id, up to now."""
    waxes = [_hung(i, plan, body, shop) for i, (plan, body) in enumerate(zip(plans, bodies, strict=True))]
    for room_id, room_air in air.items():
        _live_through([w for w in waxes if w.body.room_id == room_id], room_air, shop)
    happened = [one for wax in waxes for one in wax.done if one.at <= shop.now]
    return sorted(happened, key=lambda one: (one.at, -1 if one.mould is None else one.mould))


def mornings_so_far(tanks: Collection[str], since: datetime, shop: Shop) -> list[Happening]:
    """The tanks as a bench found them each morning until now."""
    found = mornings(tanks, since, shop.now, shop.site)
    return [Happening(at, None, BENCHES[0], slurry(tank, local(at, shop.site).date())) for at, tank in found]


def _hung(number: int, plan: Plan, body: MouldBody, shop: Shop) -> _Wax:
    started = plan.started_at(shop.now, shop.site)
    numbers = shop.truth.numbers(shop.parameters, plan.name, plan.hook)
    wax = _Wax(number, plan, body, started, None, numbers)
    wax.add(started, body)
    wax.next_dip = hand_comes(started, Act.DIP, wax.who, shop.site, shop.habits, first_coat=True)
    return wax


def _live_through(waxes: Sequence[_Wax], air: AirSeries, shop: Shop) -> None:
    """Turn by turn: the n-th dips of all moulds in a room are worked out together."""
    while active := [wax for wax in waxes if wax.next_dip is not None and wax.next_dip <= shop.now]:
        for wax in active:
            _dip(wax, air, shop)
        for wax, ready_at, dry_at in _reached(active, air, shop):
            if wax.coats == len(wax.steps):
                _finish(wax, dry_at, shop)
            else:
                _plan_next(wax, ready_at, shop)
        _dry_until_next(active, air, shop)


def _dip(wax: _Wax, air: AirSeries, shop: Shop) -> None:
    at = wax.next_dip
    assert at is not None
    if not wax.zones:
        air_k = float(air.at(np.array([at.timestamp()])).temperature_k[0])
        wax.zones = [hang(zone_shape(zone), air_k, at.timestamp()) for zone in wax.body.zones]
    step, wax.coats = wax.steps[wax.coats], wax.coats + 1
    given = DipBody(coat=wax.coats, coat_kind=step.kind, tank=step.tank, early_reason=wax.early_reason)
    slip = wax.plan.slips.get(wax.coats)
    wax.add(at, given, given.model_copy(update={"tank": slip}) if slip else None)
    wax.zones = [dip(zone, coat_of(step), step.immersion_s, wax.numbers) for zone in wax.zones]
    wax.dipped_at, wax.early_reason, wax.next_dip = at, None, None
    if note := wax.plan.notes.get(wax.coats):
        wax.add(at + timedelta(minutes=4), NoteBody(text=note))
    if wax.is_weighed(shop):
        _weigh(wax, at + timedelta(minutes=2))


def _weigh(wax: _Wax, at: datetime) -> None:
    what = f"{wax.who} {at.isoformat()}"
    mass_kg = weighed_kg(wax.zones, wax.body.zones, wax.plan.wax_mass_kg or 0.0, what)
    wax.add(at, WeightBody(mass_kg=mass_kg))


def _reached(
    waxes: Sequence[_Wax], air: AirSeries, shop: Shop
) -> Iterator[tuple[_Wax, datetime | None, datetime | None]]:
    """Dry each until it is ready for what comes next, or until now; when its slowest zone was ready, and dry."""
    states = [zone for wax in waxes for zone in wax.zones]
    limits = [limits_after(wax.body.recipe, wax.coats) for wax in waxes for _ in wax.zones]
    ends = [shop.now.timestamp()] * len(states)
    dried = iter(advance(states, ends, air, _numbers(waxes), limits, stop_when_dry=True))
    for wax in waxes:
        own = [next(dried) for _ in wax.zones]
        wax.laid, wax.zones = wax.zones, [d.state for d in own]
        yield wax, _slowest([d.ready_s for d in own]), _slowest([d.dry_s for d in own])


def _numbers(waxes: Sequence[_Wax]) -> list[Parameters]:
    return [wax.numbers for wax in waxes for _ in wax.body.zones]


def _slowest(times_s: Sequence[float | None]) -> datetime | None:
    known = [t for t in times_s if t is not None]
    return datetime.fromtimestamp(max(known), UTC) if len(known) == len(times_s) else None


def _plan_next(wax: _Wax, ready_at: datetime | None, shop: Shop) -> None:
    """When the next coat goes on, and what is done before it."""
    if ready_at is None or wax.dipped_at is None:
        return
    step = wax.steps[wax.coats - 1]
    ready_at = max(ready_at, wax.dipped_at + timedelta(seconds=step.least_wait_s))
    wait = ready_at - wax.dipped_at
    bell_at = max(ready_at, wax.dipped_at + shop.bells_wait * wait)
    if wax.coats in wax.plan.early:
        share, wax.early_reason = wax.plan.early[wax.coats]
        wax.next_dip = wax.dipped_at + share * wait
        return
    felt_at = wax.dipped_at + wax.plan.damp.get(wax.coats, 1.0) * wait
    if felt_at < ready_at and first_working(felt_at, shop.site, shop.habits) == felt_at:
        wax.add(felt_at, CheckBody(verdict="still damp"))
    if not _left_for_visitor(wax, bell_at, shop):
        wax.next_dip = _after_wires(wax, bell_at, shop)


def _left_for_visitor(wax: _Wax, bell_at: datetime, shop: Shop) -> bool:
    """What fell due since closing time yesterday is for the visitor, if this is one of the visitor's moulds."""
    closed = day_from(shop.now, -1, shop.site) + timedelta(hours=shop.site.day_ends_hour)
    return wax.plan.name in shop.habits.left and bell_at > closed


def _after_wires(wax: _Wax, bell_at: datetime, shop: Shop) -> datetime:
    if wax.coats in wax.plan.unwired:
        wax.early_reason = wax.plan.unwired[wax.coats]
    elif wax.body.recipe.wires_after(wax.coats):
        wired = hand_comes(bell_at, Act.WIRES, wax.who, shop.site, shop.habits)
        wax.add(wired, WiresBody(after_coat=wax.coats, text=where_wires_go(wax.body.recipe, wax.coats)))
        bell_at = wired + BETWEEN_WIRES_AND_DIP
    return hand_comes(bell_at, Act.DIP, wax.who, shop.site, shop.habits)


def _dry_until_next(waxes: Sequence[_Wax], air: AirSeries, shop: Shop) -> None:
    """Carry the wet states to the moment of the next dip, for those that get one."""
    going_on = [wax for wax in waxes if wax.next_dip is not None and wax.next_dip <= shop.now]
    every = shop.habits.read_every
    _read_faces(
        [wax for wax in going_on if one_in(every, f"{wax.who} read") and _somebody_is_there(wax, shop)], air
    )
    ends = [wax.next_dip.timestamp() for wax in going_on for _ in wax.zones if wax.next_dip]
    reached = [(zone, laid) for wax in going_on for zone, laid in zip(wax.zones, wax.laid, strict=True)]
    # The search for readiness goes a little too far, and for an early dip much too far: then from the start again.
    states = [zone if zone.time_s <= end else laid for (zone, laid), end in zip(reached, ends, strict=True)]
    dried = iter(advance(states, ends, air, _numbers(going_on), [Limits()] * len(states)))
    for wax in going_on:
        wax.zones = [next(dried).state for _ in wax.zones]
        _look_before_dip(wax, shop)


def _read_faces(waxes: Sequence[_Wax], air: AirSeries) -> None:
    """A face is read while the coat dries, whichever place is nearest."""
    at = [_on_the_way(wax) for wax in waxes]
    states = [zone for wax in waxes for zone in wax.laid]
    ends = [when.timestamp() for wax, when in zip(waxes, at, strict=True) for _ in wax.laid]
    dried = iter(advance(states, ends, air, _numbers(waxes), [Limits()] * len(states)))
    for wax, when in zip(waxes, at, strict=True):
        zones = [next(dried).state for _ in wax.laid]
        body = FaceBody(temperature_k=read_k(zones[0], wax.who), zone=wax.body.zones[0].name)
        wax.add(when, body)


def _somebody_is_there(wax: _Wax, shop: Shop) -> bool:
    at = _on_the_way(wax)
    return first_working(at, shop.site, shop.habits) == at


def _on_the_way(wax: _Wax) -> datetime:
    assert wax.dipped_at is not None
    assert wax.next_dip is not None
    return wax.dipped_at + READ_AT * (wax.next_dip - wax.dipped_at)


def _look_before_dip(wax: _Wax, shop: Shop) -> None:
    """What a hand does with the dry coat just before the next one goes on."""
    assert wax.next_dip is not None
    if wax.is_felt_dry(shop):
        wax.add(wax.next_dip - timedelta(minutes=3), CheckBody(verdict="dry"))
    if wax.is_weighed(shop):
        _weigh(wax, wax.next_dip - timedelta(minutes=2))


def _finish(wax: _Wax, dry_at: datetime | None, shop: Shop) -> None:
    """Dewaxed in the afternoon after it was dry, if that has been."""
    if dry_at is None or wax.dipped_at is None:
        return
    rested = wax.dipped_at + timedelta(seconds=wax.body.recipe.final_dry.least_wait_s)
    bell_at = max(rested, dry_at, wax.dipped_at + shop.bells_wait * (dry_at - wax.dipped_at))
    if wax.plan.name in shop.habits.left and bell_at + timedelta(seconds=shop.habits.patience_s) > shop.now:
        return
    at = hand_comes(bell_at, Act.DEWAX, wax.who, shop.site, shop.habits)
    if wax.plan.fails:
        wax.add(at, EndedBody(outcome="failed", text=wax.plan.fails))
        wax.add(at + SEEN_AFTER, wax.plan.result)
    else:
        wax.add(at, EndedBody(outcome="dewaxed", text="Wax out, shell whole."))
        wax.add(knocked_out(at, wax.plan.name, shop.site), wax.plan.result)
