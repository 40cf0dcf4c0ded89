"""A mould's life worked out from its dips and its air: one entry a coat, as plain data that can be kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from pydantic import TypeAdapter

from service.drying.air import wet_bulb_k
from service.drying.history import Life, Stretch, play_back
from service.drying.isotherm import Array
from service.drying.shell import Parameters
from service.drying.solver import Dried, advance
from service.drying.zone import ZoneState
from service.records.facts import DipBody, Zone
from service.records.recipes import CoatKind
from service.room.air_book import RoomAir
from service.room.air_faults import air_faults, largest_swing_k, within_wait
from service.room.estimate import numbers_told
from service.room.own_numbers import NOTHING_LEARNED, Learned
from service.room.progress import Progress, lives, zone_shape
from service.room.spread import likely, members
from service.room.views import AirFault

POINTS_A_COAT = 24
Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Place:
    """One zone at the end of a wait. Times: seconds since 1970 since when it has been at its limit; None: it is not."""

    ready_s: float | None
    dry_s: float | None
    saturation: float
    water_share: float
    coldest_k: float


class Moment(NamedTuple):
    """The slowest zone and the air at one time (air None: not measured), and the mean weight of coats and water.

    coats: how full of water each is, innermost first. wet_bulb_k: of the air.
    """

    at_s: float
    saturation: float
    water_share: float
    temperature_k: float | None
    humidity: float | None
    shell_kg_m2: float
    surface_k: float
    wet_bulb_k: float | None
    coats: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Wait:
    """From one dip to the next, or to the end. No places: the air was never measured, nothing is worked out.

    by_the_hour_s: for how much of it only hourly means of the air were left when it was worked out.
    likely_saturation: 10 to 90 % of the newest coat at the end, in the wettest zone; likely_water: of the whole shell.
    """

    start_s: float
    until_s: float
    gap_s: float
    places: tuple[Place, ...] = ()
    likely_saturation: Range | None = None
    likely_water: Range | None = None
    temperature_range_k: Range | None = None
    humidity_range: Range | None = None
    swing_k: float | None = None
    air_faults: tuple[AirFault, ...] = ()
    moments: tuple[Moment, ...] = ()
    by_the_hour_s: float = 0.0

    @property
    def assumed(self) -> float:
        """The part of it without measured air, 0..1."""
        lasted = self.until_s - self.start_s
        return min(self.gap_s / lasted, 1.0) if lasted > 0 else 0.0

    @property
    def saturation(self) -> float | None:
        """Of the newest coat in the wettest zone, at the end."""
        return max((place.saturation for place in self.places), default=None)

    @property
    def wettest(self) -> int | None:
        """Which zone that is."""
        return _largest([place.saturation for place in self.places])

    @property
    def holds_most(self) -> int | None:
        """Which zone holds the most water."""
        return _largest([place.water_share for place in self.places])

    @property
    def water_share(self) -> float | None:
        return max((place.water_share for place in self.places), default=None)


def _largest(values: Sequence[float]) -> int | None:
    return max(range(len(values)), key=values.__getitem__, default=None)


@dataclass(frozen=True, slots=True)
class Laid:
    """A zone just after its newest dip, to dry on from there."""

    surface_k: float
    saturation: tuple[float, ...]
    evaporated_kg_m2: float


@dataclass(frozen=True, slots=True)
class Worked:
    """What does not change any more: the waits that are over, and the zones at the start of the one that runs."""

    over: tuple[Wait, ...]
    laid: tuple[Laid, ...] = ()


WORKED: TypeAdapter[Worked] = TypeAdapter(Worked)


def work_out(
    p: Progress,
    air: RoomAir | None,
    parameters: Parameters,
    end_s: float,
    learned: Learned = NOTHING_LEARNED,
) -> Worked:
    """The waits that are over: all of a mould that ended at `end_s`, else those before its newest dip.

    Worked out with what was learned of the mould, and spread by what that leaves of the doubt. Raises Unavailable
    where its numbers cannot be worked with.
    """
    if not p.dips:
        return Worked(())
    until_s = end_s if p.ended else p.dips[-1].at.timestamp()
    if air is None:
        return Worked(_unmeasured(p, until_s)[: None if p.ended else -1])
    by_member = _played(p, air, parameters, until_s, learned)
    over = len(p.dips) if p.ended else len(p.dips) - 1
    waits = tuple(_wait(p, i, end, by_member, air) for i, end in enumerate(_ends(p, until_s)[:over]))
    return Worked(waits, () if p.ended else tuple(_laid(zone[-1].laid) for zone in by_member[0]))


@dataclass(frozen=True)
class SoFar:
    """The zones of a wait that runs, as far as all readings are in: to be carried on from there."""

    dried: tuple[Dried, ...]


def all_waits(
    p: Progress,
    worked: Worked,
    air: RoomAir | None,
    parameters: Parameters,
    now_s: float,
    so_far: SoFar | None = None,
    learned: Learned = NOTHING_LEARNED,
) -> tuple[Wait, ...]:
    """Those that are over, and the one that runs until `now_s`: of that the plain estimate alone."""
    if len(worked.over) == len(p.dips):
        return worked.over
    if air is None or not worked.laid:
        return (*worked.over, _unmeasured(p, now_s)[-1])
    start = so_far or SoFar(())
    dried = carried_on(p, worked.laid, air, parameters, now_s, start, learned).dried
    return (*worked.over, _described(p, len(p.dips) - 1, now_s, dried, air))


def carried_on(
    p: Progress,
    laid: Sequence[Laid],
    air: RoomAir,
    parameters: Parameters,
    until_s: float,
    before: SoFar,
    learned: Learned = NOTHING_LEARNED,
) -> SoFar:
    """The zones of the wait that runs, from where they were (nowhere: from the dip) on to `until_s`."""
    own, start_s = lives(p, until_s, learned.own), p.dips[-1].at.timestamp()
    numbers = [life.dips[-1].multipliers.of(parameters) for life in own]
    states = [one.state for one in before.dried] or [
        _state(life, zone, start_s, parameters) for life, zone in zip(own, laid, strict=True)
    ]
    with numbers_told():
        dried = advance(
            states, [until_s] * len(states), air.series, numbers, [life.dips[-1].limits for life in own]
        )
    if not before.dried:
        return SoFar(tuple(dried))
    return SoFar(tuple(_joined(one, other) for one, other in zip(before.dried, dried, strict=True)))


def _joined(before: Dried, after: Dried) -> Dried:
    """Kept all the way, a limit has been kept since before."""
    start_s = before.state.time_s
    return Dried(
        after.state,
        before.ready_s if after.ready_s == start_s and before.ready_s is not None else after.ready_s,
        before.dry_s if after.dry_s == start_s and before.dry_s is not None else after.dry_s,
        min(before.coldest_k, after.coldest_k),
        np.concatenate([before.path, after.path[1:]]),
    )


def _played(
    p: Progress, air: RoomAir, parameters: Parameters, until_s: float, learned: Learned
) -> list[list[tuple[Stretch, ...]]]:
    """By member of the spread, by zone: its stretches. All in one batch."""
    own, numbers = lives(p, until_s, learned.own), members(parameters, learned.doubt)
    with numbers_told():
        every = play_back(
            [life for _ in numbers for life in own], air.series, [n for n in numbers for _ in own]
        )
    return [every[i : i + len(own)] for i in range(0, len(every), len(own))]


def _laid(state: ZoneState) -> Laid:
    return Laid(state.surface_k, tuple(state.saturation.tolist()), state.evaporated_kg_m2)


def _state(life: Life, laid: Laid, start_s: float, parameters: Parameters) -> ZoneState:
    coats = tuple(
        replace(dip.coat, thickness_m=dip.coat.thickness_m * parameters.thickness_multiplier)
        for dip in life.dips
    )
    return ZoneState(
        life.shape, start_s, laid.surface_k, coats, np.array(laid.saturation), laid.evaporated_kg_m2
    )


def _ends(p: Progress, until_s: float) -> list[float]:
    return [*(dip.at.timestamp() for dip in p.dips[1:]), until_s]


def _unmeasured(p: Progress, until_s: float) -> tuple[Wait, ...]:
    """Nothing is known of them but how long they were."""
    starts = [dip.at.timestamp() for dip in p.dips]
    return tuple(Wait(start, end, end - start) for start, end in zip(starts, _ends(p, until_s), strict=True))


def _wait(
    p: Progress, i: int, until_s: float, by_member: Sequence[Sequence[tuple[Stretch, ...]]], air: RoomAir
) -> Wait:
    """One wait, and how sure it is: the wettest zone of each member."""
    found = _described(p, i, until_s, [zone[i].dried for zone in by_member[0]], air)
    ends = [[zone[i].dried.state for zone in zones] for zones in by_member]
    newest = np.array([max(state.newest_saturation for state in zones) for zones in ends])
    water = np.array([max(state.water_share for state in zones) for zones in ends])
    return replace(
        found, likely_saturation=likely(newest, found.assumed), likely_water=likely(water, found.assumed)
    )


def _described(p: Progress, i: int, until_s: float, dried: Sequence[Dried], air: RoomAir) -> Wait:
    """One wait: its zones, and what air it had."""
    start_s, first_s = p.dips[i].at.timestamp(), p.dips[0].at.timestamp()
    body = p.dips[i].body
    kind = body.coat_kind if isinstance(body, DipBody) else CoatKind.BACKUP
    temperature, humidity = _ranges(air, start_s, until_s)
    return Wait(
        start_s,
        until_s,
        air.gap_s(start_s, until_s),
        tuple(_place(each) for each in dried),
        temperature_range_k=temperature,
        humidity_range=humidity,
        swing_k=largest_swing_k(air, first_s, start_s, until_s) if kind is CoatKind.PRIME else None,
        air_faults=air_faults(p.recipe.air_for(kind), air, first_s, start_s, until_s),
        moments=_moments(p.body.zones, dried, air),
        by_the_hour_s=air.by_the_hour_s(start_s, until_s),
    )


def _place(dried: Dried) -> Place:
    state = dried.state
    return Place(dried.ready_s, dried.dry_s, state.newest_saturation, state.water_share, dried.coldest_k)


def _ranges(air: RoomAir, start_s: float, until_s: float) -> tuple[Range | None, Range | None]:
    """Range of temperature and of humidity over a wait, of measured air alone."""
    inside = within_wait(air, start_s, until_s)
    if not inside.any():
        return None, None
    temperature, humidity = air.series.temperature_k[inside], air.series.humidity[inside]
    return _range(temperature), _range(humidity)


def _range(values: Array) -> Range:
    return float(values.min()), float(values.max())


def _moments(zones: Sequence[Zone], dried: Sequence[Dried], air: RoomAir) -> tuple[Moment, ...]:
    """Along the slowest zone, thinned; rounded, for they are drawn and kept by the thousand."""
    path = _thinned(max(dried, key=_lateness).path)
    shell = _shell_kg_m2(zones, dried, path[:, 0])
    measured = np.interp(path[:, 0], air.series.time_s, air.measured.astype(float)) > 0.5
    there = air.series.at(path[:, 0])
    wet_bulb = wet_bulb_k(there.temperature_k, there.humidity, there.pressure_pa)
    return tuple(
        Moment(
            round(float(row[0]), 6),
            round(float(row[1]), 5),
            round(float(row[2]), 6),
            round(float(temperature), 2) if known else None,
            round(float(humidity), 4) if known else None,
            round(float(weight), 5),
            round(float(row[3]), 2),
            round(float(wet), 2) if known else None,
            tuple(round(each, 3) for each in row[4:].tolist()),
        )
        for row, temperature, humidity, known, weight, wet in zip(
            path, there.temperature_k, there.humidity, measured, shell, wet_bulb, strict=True
        )
    )


def _lateness(dried: Dried) -> tuple[float, float]:
    ready_s = dried.ready_s
    return (float("inf") if ready_s is None else ready_s, dried.state.newest_saturation)


def _thinned(path: Array) -> Array:
    """At most POINTS_A_COAT rows, the first and last among them."""
    if len(path) <= POINTS_A_COAT:
        return path
    rows: Array = path[np.unique(np.linspace(0, len(path) - 1, POINTS_A_COAT).astype(int))]
    return rows


def _shell_kg_m2(zones: Sequence[Zone], dried: Sequence[Dried], at_s: Array) -> Array:
    """Coats and water a square metre, the mean of the zones by their faces."""
    faces = np.array([face_m2(zone) for zone in zones])
    each = [
        one.state.dry_mass_kg_m2 * (1.0 + np.interp(at_s, one.path[:, 0], one.path[:, 2])) for one in dried
    ]
    mean: Array = faces @ np.stack(each) / faces.sum()
    return mean


def face_m2(zone: Zone) -> float:
    """How much face a zone has, as far as its sizes say; of a pocket its wall and bottom."""
    return zone_shape(zone).face_m2
