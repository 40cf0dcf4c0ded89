"""The room's air for the next days, and how far it may come otherwise: level, trend and daily swing of its own past.

Of four weeks of readings: how lively the room is, and how long it remembers, from its variogram (`air_wander`); what
is likeliest to come and the covariance of its errors from that (`kriging`). The errors are told as a few ways in which
the air may come otherwise: the leading principal components over leads and both quantities (Karhunen-Loeve; M. Loeve,
Probability Theory, 1955, ch. X).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from service.drying.members import MemberAir
from service.drying.weather import AirSeries
from service.held import Held, held
from service.room.air_book import RoomAir
from service.room.air_wander import learn
from service.room.heard import BIN_S
from service.room.kriging import EDGES_H, HISTORY_H, NODES_H, Foretold, Leads, foretell
from service.room.outside import Outside, doubt_outside, drift_of, followed_hours

Array = NDArray[np.float64]

DAY_S = 86400
HOUR_S = 3600.0
STEP_S = 1800
MOST_DAYS = HISTORY_H // 24
LEAST_DAYS = 2
OLDEST_S = (MOST_DAYS - 1) * DAY_S
"""Silence longer than this counts as this long: the doubt has grown as far as it goes."""
MEASURED_OF_BLOCK = 0.5
DRIEST, DAMPEST = 0.02, 1.0

WAYS = 24
"""So many ways in which the air may come otherwise; each lead keeps its whole spread all the same."""
MOST_MEMBERS = 1024
BAND = 1.2816
"""Standard deviations from the middle to the 10 and the 90 % of a normal distribution."""


@dataclass(frozen=True)
class Otherwise:
    """Ways in which the air may come otherwise than forecast; a share of each is a standard normal number.

    temperature_k, humidity: (ways, nodes).
    """

    temperature_k: Array
    humidity: Array


@dataclass(frozen=True)
class AirForecast:
    """The air to come, and how it was made: ``"level, trend and daily swing of 5 days"``.

    covariance: of its errors at `NODES_H` from the first point on, (2 nodes, 2 nodes), temperatures first.
    """

    series: AirSeries
    how: str
    covariance: Array = field(default_factory=lambda: np.zeros((2 * len(NODES_H), 2 * len(NODES_H))))

    @property
    def spread_k(self) -> Array:
        """Standard deviation of the temperature, at each point of the series."""
        return self._at_points(self._deviations[: len(NODES_H)])

    @property
    def spread_humidity(self) -> Array:
        return self._at_points(self._deviations[len(NODES_H) :])

    @property
    def _deviations(self) -> Array:
        return np.sqrt(np.maximum(np.diag(self.covariance), 0.0))

    def _at_points(self, at_nodes: Array) -> Array:
        out: Array = np.interp(self.series.time_s, self.nodes_s, at_nodes)
        return out

    @property
    def nodes_s(self) -> Array:
        nodes: Array = self.series.time_s[0] + np.array(NODES_H) * HOUR_S
        return nodes

    @cached_property
    def otherwise(self) -> Otherwise:
        """The leading principal components of the correlations, so that near leads count as much as far ones."""
        spread = self._deviations
        size, vectors = np.linalg.eigh(self.covariance / np.maximum(np.outer(spread, spread), 1e-20))
        ways = (vectors * np.sqrt(np.maximum(size, 0.0)))[:, ::-1][:, :WAYS].T
        ways *= spread / np.maximum(np.sqrt((ways**2).sum(axis=0)), 1e-10)
        return Otherwise(ways[:, : len(NODES_H)], ways[:, len(NODES_H) :])

    def members(self, count: int) -> MemberAir:
        """The same air as each of `count` members has it, 1024 at the most. Same count, same shares.

        Over the members each share has mean 0 and variance 1 and, with more than `WAYS` of them, nothing in common with
        the others. A single member has the forecast itself.
        """
        ways = self.otherwise
        return MemberAir(self.series, self.nodes_s, ways.temperature_k, ways.humidity, _shares(count))


def forecast_air(air: RoomAir, now_s: float, ahead_s: float, outside: Outside | None = None) -> AirForecast:
    """Forecast a room's air from `now_s` for `ahead_s` seconds, on half-hours.

    Where nothing fresh was measured the doubt begins as if it had been forecast since the last good air. Speed and
    pressure are those of the last hour. outside: around `now_s`, where it is known.
    """
    from_s = _from_s(air, now_s)
    outside = outside if from_s == now_s else None
    ahead = np.arange(0, ahead_s + STEP_S, STEP_S)
    found = _foretold(air, from_s, tuple((ahead / HOUR_S).tolist()), outside)
    last = air.series.mean(np.array([_level_start(air, from_s)]), np.array([from_s]))
    series = AirSeries(
        now_s + ahead,
        found.temperature_k,
        np.clip(found.humidity, DRIEST, DAMPEST),
        np.full(ahead.size, last.speed_m_s[0]),
        np.full(ahead.size, last.pressure_pa[0]),
    )
    return AirForecast(series, _how(air, from_s, outside is not None), found.covariance)


def _how(air: RoomAir, from_s: float, outside: bool) -> Held:
    recent = air.series.time_s > from_s - HISTORY_H * HOUR_S
    days = round(float((air.measured & recent).sum()) * BIN_S / DAY_S)
    if days < LEAST_DAYS:
        return held("the little that was read so far")
    if outside:
        return held("level, trend and daily swing of {days} days, and the air outside", days=days)
    return held("level, trend and daily swing of {days} days", days=days)


def _from_s(air: RoomAir, now_s: float) -> float:
    """Now; but where the last good air is older than all that counts, the same time of an earlier day that has it."""
    good_s = air.series.time_s[air.measured]
    too_old_s = now_s - float(good_s[-1]) - OLDEST_S
    return now_s - max(float(np.ceil(too_old_s / DAY_S)), 0.0) * DAY_S


def _level_start(air: RoomAir, from_s: float) -> float:
    """An hour back, but not beyond the first air there is."""
    return min(max(from_s - HOUR_S, float(air.series.time_s[0])), from_s - 1.0)


def hourly_means(air: RoomAir, now_s: float) -> tuple[Array, Array]:
    """Temperature and humidity of each hour back from `now_s`, newest first, nan where little was measured."""
    age_h, counts = _ages(air, now_s)
    kelvin, humidity = (
        _means(value, age_h, counts, HOURS_H) for value in (air.series.temperature_k, air.series.humidity)
    )
    return kelvin, humidity


def _ages(air: RoomAir, from_s: float) -> tuple[Array, NDArray[np.bool_]]:
    age_h = np.maximum((from_s - air.series.time_s) / HOUR_S, 0.0)
    return age_h, air.measured & (age_h < HISTORY_H)


def _foretold(air: RoomAir, from_s: float, leads_h: Leads, outside: Outside | None) -> Foretold:
    age_h, counts = _ages(air, from_s)
    columns = (air.series.temperature_k, air.series.humidity)
    hours = hourly_means(air, from_s)
    blocks = [_means(value, age_h, counts, EDGES_H) for value in columns]
    wander = learn(hours[0][::-1], hours[1][::-1])
    if outside is None:
        return foretell(wander, blocks[0], blocks[1], leads_h, NODES_H)
    drift = drift_of(outside, leads_h)
    first = foretell(wander, blocks[0], blocks[1], leads_h, NODES_H, drift)
    followed = followed_hours(first.weights, outside)
    own = learn((hours[0] - followed[0])[::-1], (hours[1] - followed[1])[::-1])
    found = foretell(own, blocks[0], blocks[1], leads_h, NODES_H, drift)
    return replace(found, covariance=found.covariance + doubt_outside(found.weights, outside))


HOURS_H = np.arange(HISTORY_H + 1.0)


def _means(values: Array, age_h: Array, counts: NDArray[np.bool_], edges_h: Array) -> Array:
    """Means between ages, newest first; nan where less than half was measured, unless that is all there is."""
    place = np.searchsorted(edges_h, age_h[counts], side="right") - 1
    size = edges_h.size - 1
    number = np.bincount(place, minlength=size)
    enough = number >= MEASURED_OF_BLOCK * np.diff(edges_h) * HOUR_S / BIN_S
    if not enough.any():
        enough = number > 0
    total = np.bincount(place, weights=values[counts], minlength=size)
    return np.where(enough, total / np.maximum(number, 1), np.nan)


@lru_cache(maxsize=8)
def _shares(count: int) -> Array:
    """Standard normal numbers, (count, WAYS), made to have mean 0, variance 1 and, if many, nothing in common."""
    if not 1 <= count <= MOST_MEMBERS:
        raise ValueError(f"1 to {MOST_MEMBERS} members share the doubt in the air")
    drawn = np.random.default_rng(1).standard_normal((count, WAYS))
    drawn -= drawn.mean(axis=0)
    if count <= WAYS:
        alike: Array = drawn / np.maximum(drawn.std(axis=0), 1e-9)
        return alike
    shares: Array = drawn @ np.linalg.inv(np.linalg.cholesky(drawn.T @ drawn / count)).T
    return shares
