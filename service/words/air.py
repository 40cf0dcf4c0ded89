"""A room's air and its sensors in sentences."""

from __future__ import annotations

from datetime import datetime

from service.local_time import ago, clock_time, seconds_between
from service.records.shop_facts import Site
from service.room.views import Freshness, RoomNow, SensorNow
from service.units import Dimension, show_apart
from service.voice import say
from service.words.numbers import percent, quantity_value, speed, temperature, units_of


def guessing_line(since: datetime | None, now: datetime) -> str | None:
    """``No reading for 40 min: guessing from the last air``. None while readings come."""
    return (
        say("No reading for {since}: guessing from the last air", since=ago(seconds_between(since, now)))
        if since
        else None
    )


def air_line(room: RoomNow, site: Site | None, now: datetime) -> str:
    """``21.3 °C, 52 %, air 0.2 m/s (assumed)``; old air says how old it is."""
    if room.temperature_k is None or room.humidity is None:
        return say("No air measured yet")
    parts = [temperature(room.temperature_k, site), percent(room.humidity), _speed_words(room, site)]
    values = ", ".join(part for part in parts if part)
    if room.freshness is Freshness.FRESH or room.last_good is None:
        return values
    return say(
        "{values}, {last_good} ago", values=values, last_good=ago(seconds_between(room.last_good, now))
    )


def freshness_line(room: RoomNow, site: Site | None, now: datetime) -> str:
    """How old the air is: ``Air measured 2 min ago``, ``No reading since 13:40: guessing from the last air``."""
    if room.last_good is None:
        return say("No reading yet: nothing to reckon with")
    age = ago(seconds_between(room.last_good, now))
    if room.freshness is Freshness.FRESH:
        return (
            say("Air measured {age} ago", age=age)
            if seconds_between(room.last_good, now) >= 60
            else say("Air measured just now")
        )
    if room.freshness is Freshness.LATE:
        return say("Last reading {age} ago: late", age=age)
    return say(
        "No reading since {last_good}: guessing from the last air",
        last_good=clock_time(room.last_good, site, now),
    )


def swing_line(room: RoomNow, site: Site | None, largest_k: float = 1.7) -> str | None:
    """``Swung 2.1 °C with prime coats on: hold it within 1.7 °C``. None while it holds, or no prime is on."""
    if not room.prime_on or room.swing_k is None or room.swing_k <= largest_k:
        return None
    swing, largest = show_apart(room.swing_k, largest_k, Dimension.TEMPERATURE_DIFFERENCE, units_of(site))
    return say("Swung {swing} with prime coats on: hold it within {largest}", swing=swing, largest=largest)


def sensor_line(sensor: SensorNow, site: Site | None, now: datetime) -> str:
    """``Bench sensor: 20.7 °C, 45 %, 2 min ago``, or since when it is silent."""
    values = [quantity_value(quantity, value, site) for quantity, value, _ in sensor.values]
    if sensor.last_good is None:
        only = (
            say("only an old value the broker kept") if sensor.old_values else say("nothing good heard yet")
        )
        return f"{sensor.name}: {only}"
    if sensor.freshness is Freshness.STALE:
        return say(
            "{sensor}: silent since {last_good}",
            sensor=sensor.name,
            last_good=clock_time(sensor.last_good, site, now),
        )
    heard = say("{how_long} ago", how_long=ago(seconds_between(sensor.last_good, now)))
    return f"{sensor.name}: {', '.join([*values, heard])}"


def _speed_words(room: RoomNow, site: Site | None) -> str:
    if room.speed_m_s is None:
        return ""
    wind = speed(room.speed_m_s, site)
    return say("air {speed}", speed=wind) if room.speed_measured else say("air {speed} (assumed)", speed=wind)
