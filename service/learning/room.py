"""What its readings teach of a room: how fast its air is renewed, how it keeps warm, and how it answers to its moulds.

Vapour and temperature are each a `lag`: pushed by the water that the moulds were worked out to give off, and by its
latent heat. Positive by their logarithms; with priors that are our choice, since sheds differ and nobody measured them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from service.drying.air import CP_J_KG_K
from service.drying.room_balance import HOLDS_K, Room
from service.drying.room_loads import LATENT_J_KG
from service.learning.lag import Lag, Prior, Record, learn_lag

Array = NDArray[np.float64]

HOUR_S, DAY_S = 3600.0, 86400.0
FADES_S = 4 * DAY_S
"""After so long a reading counts half (our choice): wind and season change how a shed breathes."""
ASSUMED_M3 = 120.0
"""A shell room whose size nobody told (assumed): the moulds' share stands for what it is off by."""
UNTOLD_SPREAD, SIZES_SPREAD, TOLD_SPREAD = 1.0, 0.4, 0.2
VAPOUR = Prior(
    rate_1_s=(0.8 / HOUR_S, 0.8),
    gain=(1.0, SIZES_SPREAD),
    gusts=(1e-4, 1.0),
    wander=(1.5e-3, 0.7),
    noise=3e-5,
    level=8e-3,
    start=1e-3,
    wavers=0.3,
)
"""Air changes 0.3 to 2 an hour; areas reckoned from sizes are within a third or so; all assumed."""
HEAT = Prior(
    rate_1_s=(0.25 / HOUR_S, 0.8),
    gain=(1.0 / 6.0, 0.7),
    gusts=(0.2, 1.0),
    wander=(8.0, 0.7),
    noise=0.05,
    level=15.0,
    start=2.0,
    wavers=0.5,
)
"""It follows outdoors in about four hours; with the air six times as much of walls and things takes part; assumed."""
WANDERS_LESS, STANDS_FOR_LESS = 1.0 / 3.0, 1.0 / 4.0
"""How much less is left to wander, and to stand for outdoors, where those are measured (our choice)."""
WAVERS_WHERE_KNOWN = 0.15
WORLDS = np.array([0.0, -1.2816, 1.2816])
"""The likely room, and those whose answer to what is given to them is as weak and as strong as one in ten."""


LEAST_LOSS = 0.1
"""Of the heat a room loses, so much at least goes through its walls (our choice)."""


class RoomNumber(StrEnum):
    """What can be learned of a room."""

    AIR_CHANGES = "air changes"  # 1/s: how often its air is renewed
    MOULDS = "water of the moulds"  # how many times the reckoned water its air feels of the moulds
    FOLLOWS = "follows outdoors"  # 1/s: how fast its temperature goes back to what it goes back to
    HEAT_HELD = "heat held"  # how many times as much heat as its air alone it takes to warm it


@dataclass(frozen=True)
class RoomHistory:
    """A room's past in half-hour means, the newest last; nan where not measured. All (n,).

    outside_k, outside_ratio: nan where nobody knows. given_off_kg_s: of the moulds, by the drying and their sizes.
    """

    step_s: float
    temperature_k: Array
    ratio: Array
    outside_k: Array
    outside_ratio: Array
    given_off_kg_s: Array


@dataclass(frozen=True)
class Told:
    """What a person told of a room. None: nothing. air_kg: the dry air in it, from its volume.

    held_k: what a thermostat holds: about that, the temperature says nothing of how the room follows outdoors.
    """

    air_kg: float | None = None
    air_changes_1_s: float | None = None
    held_k: float | None = None


@dataclass(frozen=True)
class RoomBelief:
    """What is thought of a room. air_kg: assumed where `sized` is false. outdoors: whether they were known.

    rests_k, rests_ratio: the air it would go back to by now, without its moulds; nan: nothing was ever measured.
    load_kg_s: what else than moulds and outdoors gives water to it, with its spread; None where outdoors are not known.
    """

    vapour: Lag
    heat: Lag
    air_kg: float
    sized: bool
    outdoors: bool
    rests_k: float
    rests_ratio: float
    load_kg_s: tuple[float, float] | None

    def range_of(self, number: RoomNumber, spreads: float = 0.0) -> float:
        """Its middle, or what lies so many spreads above it."""
        lag, place, turned = {
            RoomNumber.AIR_CHANGES: (self.vapour, 0, 1.0),
            RoomNumber.MOULDS: (self.vapour, 1, 1.0),
            RoomNumber.FOLLOWS: (self.heat, 0, 1.0),
            RoomNumber.HEAT_HELD: (self.heat, 1, -1.0),
        }[number]
        spread = float(np.sqrt(lag.covariance[place, place]))
        return float(np.exp(turned * lag.mean[place] + spreads * spread))


def learn_room(history: RoomHistory, told: Told) -> RoomBelief:
    """From what is thought before and what was heard. The same history gives the same answer."""
    air_kg = told.air_kg or 1.2 * ASSUMED_M3
    age_s = history.step_s * np.arange(history.ratio.size)[::-1]
    weight = np.asarray(0.5 ** (age_s / FADES_S), np.float64)
    known = np.isfinite(history.outside_ratio) & np.isfinite(history.outside_k)
    outdoors = bool(known.any()) and float(known.mean()) > 0.5
    water = _record(
        history, history.ratio, history.outside_ratio, history.given_off_kg_s / air_kg, weight, outdoors
    )
    vapour = learn_lag(water, _prior(VAPOUR, outdoors, told))
    share = float(np.exp(vapour.mean[1]))
    cooling = -LATENT_J_KG * share * history.given_off_kg_s / (air_kg * CP_J_KG_K)
    free_k = history.temperature_k
    if told.held_k is not None:
        free_k = np.where(np.abs(free_k - told.held_k) > HOLDS_K, free_k, np.nan)
    warmth = _record(history, free_k, history.outside_k, cooling, weight, outdoors)
    heat = learn_lag(warmth, _prior(HEAT, outdoors, replace(told, air_changes_1_s=None), sized=True))
    doubt = heat.covariance + np.diag([0.0, float(vapour.covariance[1, 1])])
    heat = replace(
        heat, covariance=doubt
    )  # it is pushed by the moulds' water, whose share is not known either
    blown = float(np.exp(vapour.mean[0])) * air_kg
    return RoomBelief(
        vapour,
        heat,
        air_kg,
        told.air_kg is not None,
        outdoors,
        _last(warmth) + heat.level,
        _last(water) + vapour.level,
        (blown * vapour.level, blown * vapour.level_spread) if outdoors else None,
    )


def _last(record: Record) -> float:
    return float(record.towards[-1]) if record.towards.size else float("nan")


def thought_before(told: Told) -> RoomBelief:
    """What is reckoned with before any reading."""
    nothing = np.zeros(0)
    return learn_room(RoomHistory(HOUR_S / 2, *(nothing,) * 5), told)


def _record(
    history: RoomHistory, value: Array, outside: Array, push: Array, weight: Array, outdoors: bool
) -> Record:
    """Without outdoors, values are taken from their own mean, so that the level has little to stand for."""
    if outdoors:
        return Record(history.step_s, value, _bridged(outside), push, weight)
    measured = value[np.isfinite(value)]
    middle = float(measured.mean()) if measured.size else 0.0
    return Record(history.step_s, value, np.full(value.size, middle), push, weight)


def _bridged(values: Array) -> Array:
    """Gaps bridged in straight lines."""
    good = np.flatnonzero(np.isfinite(values))
    return np.interp(np.arange(values.size), good, values[good])


def _prior(usual: Prior, outdoors: bool, told: Told, sized: bool = False) -> Prior:
    prior = usual
    if outdoors:
        prior = replace(
            prior,
            wander=(prior.wander[0] * WANDERS_LESS, prior.wander[1]),
            level=prior.level * STANDS_FOR_LESS,
            wavers=WAVERS_WHERE_KNOWN,
        )
    if told.air_kg is None and not sized:
        prior = replace(prior, gain=(prior.gain[0], UNTOLD_SPREAD))
    if told.air_changes_1_s is not None:
        prior = replace(prior, rate_1_s=(told.air_changes_1_s, TOLD_SPREAD))
    return prior


@dataclass(frozen=True)
class Worlds:
    """The same room as it likely is, and as it answers weakly and strongly, in this order. share: see MOULDS."""

    room: Room
    share: Array


def worlds(belief: RoomBelief, volume_m3: float) -> Worlds:
    """Three rooms side by side. What is given is answered by gain / rate; each number moves along as it likely does."""
    rate, share = _along(belief.vapour)
    follows, gain = _along(belief.heat)
    heat_j_k = belief.air_kg * CP_J_KG_K / gain
    blown = rate * belief.air_kg * CP_J_KG_K
    loss = np.maximum(follows * heat_j_k - blown, LEAST_LOSS * follows * heat_j_k)
    return Worlds(Room(volume_m3, belief.air_kg, rate, loss, heat_j_k), share)


def _along(lag: Lag) -> tuple[Array, Array]:
    answer = np.array([-1.0, 1.0])
    moved = lag.covariance @ answer
    way = moved / float(np.sqrt(answer @ moved))
    rate, gain = np.exp(lag.mean[:, None] + np.outer(way, WORLDS))
    return rate, gain
