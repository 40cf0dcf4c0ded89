"""A given forecast out of JSON, by the description a shop made of it. Whatever is wrong is told in words."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any
from urllib.parse import urlsplit

import numpy as np
from numpy.typing import NDArray

from service.drying.air import saturation_over_water_pa, saturation_pressure_pa
from service.errors import BadInput
from service.outdoor.paths import along
from service.settings import Outdoor
from service.units import Dimension, convert
from service.voice import say

Array = NDArray[np.float64]

MOST_HOURS = 5000
BEHIND, AHEAD = timedelta(days=35), timedelta(days=16)
COLDEST_K, WARMEST_K = 213.15, 333.15
DRIEST, DAMPEST, CLAMPED = 0.02, 1.0, 1.05
"""Humidity up to 105 % is what instruments send in fog; it counts as 100 %."""
LEAST_OUTSIDE = 0.03
"""Drier air outside is next to unknown (no source); a share of 0 to 1 that is read as per cent is drier."""
MOST_WRONG = 0.5
MILLISECONDS = 1e11
"""A time as large as this counts thousandths of seconds (it would be the year 5138)."""
FIELDS = {
    "times": None,
    "temperature": Dimension.TEMPERATURE,
    "humidity": Dimension.FRACTION,
    "dew_point": Dimension.TEMPERATURE,
}


@dataclass(frozen=True)
class Given:
    """A forecast as it was given, by time: time_s, temperature_k and humidity (0.02..1), (n,) each, n at least 2."""

    time_s: Array
    temperature_k: Array
    humidity: Array


def check(outdoor: Outdoor) -> None:
    """Raises BadInput where the description cannot be, whatever comes."""
    if outdoor.url and outdoor.topic:
        raise BadInput(
            "outdoor_two_ways",
            say("The forecast can come from an address or on a topic, not both."),
            say("Leave one of them empty."),
            "topic",
        )
    if outdoor.url and not _is_address(outdoor.url):
        raise BadInput(
            "outdoor_no_address",
            say("“{text}” is no address of a web page.", text=outdoor.url[:60]),
            say("It begins with http:// or https://; copy it from a browser that shows the forecast."),
            "url",
        )
    if not getattr(outdoor, outdoor.damp):
        raise BadInput(
            "outdoor_no_damp",
            say("Neither humidity nor dew point is named."),
            say("Say where one of them stands."),
            "humidity",
        )
    for name in ("temperature", outdoor.damp):
        _factor(outdoor, name)


def _is_address(url: str) -> bool:
    try:
        parts = urlsplit(url)
        spoken = parts.scheme in ("http", "https") and not any(letter.isspace() for letter in url)
        return spoken and bool(parts.hostname) and parts.port != 0
    except ValueError:
        return False


def read_given(body: bytes, outdoor: Outdoor, zone: tzinfo, now: datetime) -> Given:
    """Raises BadInput, with the key of the description it is about."""
    check(outdoor)
    data = _json(body)
    times = _instants(_found(data, outdoor, "times"), zone)
    kelvin = _numbers(data, outdoor, "temperature", times.size)
    damp = outdoor.damp
    other = _numbers(data, outdoor, damp, times.size)
    near = np.abs(times - now.timestamp()) <= BEHIND.total_seconds()
    _check_units(outdoor, damp, kelvin, other)
    return _in_order(times, kelvin, _humidity(damp, kelvin, other), near, now)


def _json(body: bytes) -> Any:
    try:
        return json.loads(body)
    except (ValueError, RecursionError) as error:
        raise BadInput(
            "outdoor_not_json",
            say("What came is not JSON."),
            say("Look at the address in a browser: it must show text that begins with a bracket."),
            "url",
        ) from error


def _found(data: Any, outdoor: Outdoor, name: str) -> list[Any]:
    path = getattr(outdoor, name)
    found = along(data, path)
    if all(value is None for value in found):
        raise BadInput(
            "outdoor_nothing_there",
            say("There is nothing at “{path}”.", path=path),
            say("Compare the names on the way with what the address shows."),
            name,
        )
    if len(found) > MOST_HOURS:
        raise BadInput(
            "outdoor_too_many",
            say("There are more than {most} values at “{path}”.", most=MOST_HOURS, path=path),
            say("Ask for fewer days."),
            name,
        )
    return found


def _instants(values: Sequence[Any], zone: tzinfo) -> Array:
    """Seconds since 1970, nan where there is no time. One without a zone that comes twice is before and after."""
    out, before = np.full(len(values), np.nan), None
    for i, value in enumerate(values):
        at = _instant(value)
        if isinstance(at, datetime) and at.tzinfo is None:
            again = before is not None and at <= before
            before, at = at, at.replace(tzinfo=zone, fold=1 if again else 0)
        if at is not None:
            out[i] = at.timestamp() if isinstance(at, datetime) else at
    if not np.isfinite(out).any():
        raise BadInput(
            "outdoor_no_times",
            say("“{text}” is not a time.", text=str(values[0])[:40]),
            say("It must be like 2026-03-01T14:00:00Z, or seconds since 1970."),
            "times",
        )
    return out


def _instant(value: Any) -> datetime | float | None:
    if isinstance(value, str):
        try:
            return datetime.fromisoformat(value.strip())
        except ValueError:
            return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e15:
        return None
    return value / 1000.0 if value > MILLISECONDS else float(value)


def _numbers(data: Any, outdoor: Outdoor, name: str, count: int) -> Array:
    """In SI, nan where there is none."""
    values = _found(data, outdoor, name)
    if len(values) != count:
        raise BadInput(
            "outdoor_lengths",
            say(
                "There are {number} values at “{path}” and {count} times.",
                number=len(values),
                path=getattr(outdoor, name),
                count=count,
            ),
            say("The path must lead to one value for each time."),
            name,
        )
    at_zero, a_unit = _factor(outdoor, name)
    return at_zero + a_unit * np.array([_number(value) for value in values])


def _number(value: Any) -> float:
    try:
        found = float("nan") if isinstance(value, bool) or value is None else float(value)
    except (TypeError, ValueError, OverflowError):
        return float("nan")
    return found if abs(found) < 1e9 else float("nan")


def _factor(outdoor: Outdoor, name: str) -> tuple[float, float]:
    unit, dimension = getattr(outdoor, f"{name}_unit"), FIELDS[name]
    assert dimension is not None
    try:
        at_zero, at_one = (convert(value, unit, dimension) for value in (0.0, 1.0))
    except BadInput as error:
        raise BadInput(error.code, error.message, error.todo, f"{name}_unit") from error
    return at_zero, at_one - at_zero


def _check_units(outdoor: Outdoor, damp: str, kelvin: Array, other: Array) -> None:
    """Where most of it cannot be, the unit is another."""
    limits = {
        "temperature": (COLDEST_K, WARMEST_K),
        "humidity": (LEAST_OUTSIDE, CLAMPED),
        "dew_point": (COLDEST_K, WARMEST_K),
    }
    for name, values in (("temperature", kelvin), (damp, other)):
        low, high = limits[name]
        known = np.isfinite(values)
        wrong = known & ((values < low) | (values > high))
        if known.any() and wrong.sum() > MOST_WRONG * known.sum():
            raise BadInput(
                "outdoor_unit",
                say(
                    "In {unit} the values at “{path}” cannot be.",
                    unit=getattr(outdoor, f"{name}_unit") or "1",
                    path=getattr(outdoor, name),
                ),
                say("Is the unit right?"),
                f"{name}_unit",
            )
        values[wrong] = np.nan


def _humidity(damp: str, kelvin: Array, other: Array) -> Array:
    """As ours is, over ice in frost. Forecasts have humidity over water there, and dew points too."""
    dew = np.minimum(other, kelvin)
    vapour = (
        saturation_over_water_pa(dew) if damp == "dew_point" else other * saturation_over_water_pa(kelvin)
    )
    return np.clip(vapour / saturation_pressure_pa(kelvin), DRIEST, DAMPEST)


def _in_order(times: Array, kelvin: Array, humidity: Array, near: NDArray[np.bool_], now: datetime) -> Given:
    good = np.isfinite(times) & np.isfinite(kelvin) & np.isfinite(humidity)
    good[good] &= near[good] & (times[good] <= (now + AHEAD).timestamp())
    order, first = np.unique(times[good][::-1], return_index=True)
    if order.size < 2 or order[-1] <= now.timestamp():
        raise BadInput(
            "outdoor_nothing_ahead",
            _where_it_ends(order),
            say("Ask for the hours from now on."),
            "times",
        )
    return Given(order, kelvin[good][::-1][first], humidity[good][::-1][first])


def _where_it_ends(order: Array) -> str:
    if not order.size:
        return say("There is no hour with both numbers.")
    ends = datetime.fromtimestamp(float(order[-1]), UTC)
    return say("Nothing of it lies ahead: it ends {at} (UTC).", at=f"{ends:%Y-%m-%d %H:%M}")
