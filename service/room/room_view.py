"""A room as screens show it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from service.drying.air import standard_pressure_pa
from service.reading import Quantity
from service.records.shop_facts import Room, Site
from service.room.air_book import RoomAir, ten_minute_means
from service.room.air_faults import swing_k
from service.room.air_forecast import BAND, DAMPEST, DRIEST, AirForecast
from service.room.limits import asked_air, out_of_limits, prime_on
from service.room.progress import Progress
from service.room.sensors_differ import Differing, differ_lines
from service.room.views import AirAhead, AirPoint, Freshness, RoomNow, SensorNow
from service.units import Units

DAY = timedelta(hours=24)
FRESHEST_FIRST = (Freshness.FRESH, Freshness.LATE, Freshness.STALE, Freshness.NEVER)


@dataclass(frozen=True)
class RoomState:
    """A room's air so far and to come; None where it was never measured."""

    room: Room
    air: RoomAir | None
    to_come: AirForecast | None
    sensors: tuple[SensorNow, ...]
    differing: tuple[Differing, ...] = ()

    @property
    def freshness(self) -> Freshness:
        """Of the room's temperature and humidity together: as fresh as the staler of the two."""
        needed = (Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY)
        return max((self._freshness_of(q) for q in needed), key=FRESHEST_FIRST.index)

    def _freshness_of(self, quantity: Quantity) -> Freshness:
        speaking = [found for s in self.sensors if (found := _freshness_in(s, quantity)) is not None]
        return min(speaking, key=FRESHEST_FIRST.index, default=Freshness.NEVER)

    @property
    def last_good(self) -> datetime | None:
        """When temperature and humidity were last both heard."""
        newest = []
        for quantity in (Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY):
            heard = [at for s in self.sensors for q, _, at in s.values if q is quantity]
            newest.append(max(heard, default=None))
        heard_both = [at for at in newest if at is not None]
        return min(heard_both) if len(heard_both) == len(newest) else self._last_recorded

    @property
    def _last_recorded(self) -> datetime | None:
        """From an earlier run. The air book holds a value for a while, so never later than a sensor was heard."""
        recorded = self.air.last_good if self.air else None
        heard = max((s.last_good for s in self.sensors if s.last_good), default=None)
        return min(recorded, heard) if recorded and heard else recorded

    @property
    def guessing_since(self) -> datetime | None:
        """The last good air, where the estimate goes on without fresh readings."""
        return self.last_good if self.freshness in (Freshness.STALE, Freshness.NEVER) else None


def _freshness_in(sensor: SensorNow, quantity: Quantity) -> Freshness | None:
    """Of one quantity: a humidity element may be dead while its sensor still tells the temperature.

    A sensor that has said nothing since the start is as fresh as what it said before.
    """
    if sensor.values and all(q is not quantity for q, _, _ in sensor.values):
        return None
    return dict(sensor.freshness_of).get(quantity, sensor.freshness)


def fallen_silent(sensors: Sequence[SensorNow]) -> set[tuple[Quantity, str]]:
    """Which sensors have fallen silent, and of which quantity."""
    return {(q, s.name) for s in sensors for q in Quantity if _freshness_in(s, q) is Freshness.STALE}


def usual_pressure_pa(site: Site | None) -> float:
    """What a barometer would show on an average day at the site's altitude."""
    return float(standard_pressure_pa(site.altitude_m if site else 0.0))


def room_view(
    state: RoomState,
    moulds: Sequence[Progress],
    site: Site | None,
    now: datetime,
    own: Mapping[int, RoomAir | None],
) -> RoomNow:
    """Everything a screen says of a room at `now`; `moulds` are those that hang in it, each with its own air."""
    units = site.units if site else Units.METRIC
    temperature, humidity, speed, pressure = _air_now(state, now)
    wrong: tuple[str, ...] = ()
    if temperature is not None and humidity is not None and state.guessing_since is None:
        wrong = out_of_limits(moulds, temperature, humidity, units)
    return RoomNow(
        room=state.room,
        freshness=state.freshness,
        last_good=state.last_good,
        temperature_k=temperature,
        humidity=humidity,
        speed_m_s=speed,
        speed_measured=bool(state.air is not None and state.air.speed_measured[-1]),
        pressure_pa=pressure if pressure is not None else usual_pressure_pa(site),
        pressure_measured=bool(state.air is not None and state.air.pressure_measured[-1]),
        swing_k=_swing_k(state.air, moulds, own, now),
        prime_on=bool(prime_on(moulds)),
        out_of_limits=wrong,
        last_day=_last_day(state.air, now),
        forecast=_forecast(state.to_come),
        forecast_how=state.to_come.how if state.to_come else "",
        sensors=state.sensors,
        sensors_differ=tuple(line for found in state.differing for line in differ_lines(found, units)),
        sensors_differ_since=min((found.since for found in state.differing), default=None),
        asked=asked_air(moulds),
    )


def _air_now(
    state: RoomState, now: datetime
) -> tuple[float | None, float | None, float | None, float | None]:
    if state.air is None:
        return None, None, None, None
    here = state.air.series.at(np.array([now.timestamp()]))
    return tuple(float(value[0]) for value in here)  # type: ignore[return-value]


def _swing_k(
    air: RoomAir | None, moulds: Sequence[Progress], own: Mapping[int, RoomAir | None], now: datetime
) -> float | None:
    """The largest that a mould with prime on went through in its own air; without one, the room's. 24 h at most."""
    primed = prime_on(moulds)
    went = [(own[p.mould_id], p.dips[0].at) for p in primed] if primed else [(air, now - DAY)]
    swings = [swing_k(a, since.timestamp(), now.timestamp()) for a, since in went if a is not None]
    return max((swing for swing in swings if swing is not None), default=None)


def _last_day(air: RoomAir | None, now: datetime) -> tuple[AirPoint, ...]:
    return measured_points(air, now - DAY, now)


def measured_points(air: RoomAir | None, since: datetime, until: datetime) -> tuple[AirPoint, ...]:
    """Ten-minute means of measured air only: a gap stays a gap."""
    if air is None:
        return ()
    first = max(since.timestamp(), float(air.series.time_s[0]))
    points = ten_minute_means(air.series, first, until.timestamp())
    measured = (
        np.interp([p[0] for p in points], air.series.time_s, air.measured.astype(float)) if points else []
    )
    return tuple(_point(p) for p, good in zip(points, measured, strict=True) if good > 0.5)


def _forecast(to_come: AirForecast | None) -> tuple[AirAhead, ...]:
    if to_come is None:
        return ()
    s = to_come.series
    warmer, damper = BAND * to_come.spread_k, BAND * to_come.spread_humidity
    columns = (
        s.temperature_k,
        s.humidity,
        s.speed_m_s,
        s.temperature_k - warmer,
        s.temperature_k + warmer,
        np.clip(s.humidity - damper, DRIEST, DAMPEST),
        np.clip(s.humidity + damper, DRIEST, DAMPEST),
    )
    two_days = s.time_s <= s.time_s[0] + 2 * DAY.total_seconds()
    rows = zip(s.time_s[two_days].tolist(), *(c[two_days].tolist() for c in columns), strict=True)
    return tuple(AirAhead(datetime.fromtimestamp(at, UTC), *values) for at, *values in rows)


def _point(values: Sequence[float]) -> AirPoint:
    return AirPoint(datetime.fromtimestamp(values[0], UTC), *values[1:])
