"""What stands in a room, and what its readings taught, in sentences."""

from __future__ import annotations

import math
from datetime import datetime

from service.learning.room import RoomNumber
from service.local_time import clock_time, span
from service.records.shop_facts import Site
from service.room.room_fittings import RUNS_WORDS, RoomFittings
from service.room.room_views import LearnedNumber, LearnedRoom
from service.units import Dimension, show
from service.voice import later, say, say_many
from service.words.numbers import percent, speed, temperature, units_of

HOUR_S, DAY_S = 3600.0, 86400.0
HALF_HOURS_A_DAY = 48
LINES = {
    RoomNumber.AIR_CHANGES: later("Its air is renewed about {likely} times an hour ({low} to {high})."),
    RoomNumber.MOULDS: later(
        "Its air feels about {likely} times the water that its moulds are reckoned to give off ({low} to {high})."
    ),
    RoomNumber.FOLLOWS: later(
        "Left alone it is half-way to what it is like outside after about {likely} ({low} to {high})."
    ),
    RoomNumber.HEAT_HELD: later(
        "Walls and things make it hold about {likely} times as much warmth as its air alone ({low} to {high})."
    ),
}
ASSUMED = {
    RoomNumber.AIR_CHANGES: later("How often its air is renewed: {low} to {high} times an hour (assumed)."),
    RoomNumber.MOULDS: later(
        "How much of its moulds' water its air feels: {low} to {high} times what is reckoned (assumed)."
    ),
    RoomNumber.FOLLOWS: later(
        "How soon it is half-way to what it is like outside: {low} to {high} (assumed)."
    ),
    RoomNumber.HEAT_HELD: later(
        "How much warmth walls and things hold: {low} to {high} times its air's (assumed)."
    ),
}


def learned_number_line(number: LearnedNumber, learned: bool) -> str:
    """What is known now with its 10 and 90 %; not `learned`: what is reckoned with before any reading."""
    words = {name: _value(number.kind, getattr(number, name)) for name in ("likely", "low", "high")}
    if number.kind is RoomNumber.FOLLOWS:
        words["low"], words["high"] = words["high"], words["low"]  # the faster, the sooner
    return say(LINES[number.kind] if learned else ASSUMED[number.kind], **words)


def at_first_line(number: LearnedNumber) -> str:
    """``At first we only knew 0.3 to 2.2.``"""
    low, high = _value(number.kind, number.at_first_low), _value(number.kind, number.at_first_high)
    if number.kind is RoomNumber.FOLLOWS:
        low, high = high, low
    return say("At first we only knew {low} to {high}.", low=low, high=high)


def _value(kind: RoomNumber, value: float) -> str:
    if kind is RoomNumber.AIR_CHANGES:
        return _short(value * HOUR_S)
    if kind is RoomNumber.FOLLOWS:
        return span(60.0 * round(math.log(2.0) / value / 60.0))
    return _short(value)


def _short(value: float) -> str:
    return f"{value:.2g}" if value < 10.0 else f"{value:.0f}"


def load_line(room: LearnedRoom, site: Site | None) -> str | None:
    """``Besides its moulds, something gives it about 9 l of water a day (7 to 11).`` None: outdoors are not known."""
    if room.load_kg_s is None:
        return None
    likely, low, high = (show(each, Dimension.WATER_FLOW, units_of(site)) for each in room.load_kg_s)
    return say(
        "Besides its moulds, something gives it about {likely} of water ({low} to {high}): a wet floor, people, leaks.",
        likely=likely,
        low=low,
        high=high,
    )


def room_rests_on(room: LearnedRoom, site: Site | None, now: datetime) -> str:
    """``From 6 days of readings since Wed 3 Dec, without knowing the air outside.``"""
    if room.since is None or not room.half_hours:
        return say("Nothing was learned of it yet.")
    days = max(round(room.half_hours / HALF_HOURS_A_DAY), 1)
    told = say_many("{number} day of readings", "{number} days of readings", days)
    since = clock_time(room.since, site, now)
    if room.outdoors:
        return say("From {days} since {since}, and the air outside.", days=told, since=since)
    return say("From {days} since {since}, without knowing the air outside.", days=told, since=since)


def room_anew_line(room: LearnedRoom, site: Site | None, now: datetime) -> str:
    """Since when only newer readings count."""
    if room.learned_anew_at is None:
        return ""
    return say("Learned anew since {time}.", time=clock_time(room.learned_anew_at, site, now))


def fittings_line(fittings: RoomFittings, site: Site | None) -> str:
    """``145.8 m³; heater 4000 W, as it is set, at 21.8 °C; dehumidifier 20.0 l/day, off; fan 1.2 m/s, off``"""
    parts = [
        _size(fittings, site),
        _heater(fittings, site),
        _dehumidifier(fittings, site),
        _fan(fittings, site),
        _rest(fittings, site),
    ]
    return "; ".join(part for part in parts if part) or say("Nothing is told of it")


def _size(f: RoomFittings, site: Site | None) -> str:
    return "" if f.volume_m3 is None else show(f.volume_m3, Dimension.VOLUME, units_of(site))


def _heater(f: RoomFittings, site: Site | None) -> str:
    if f.heater_w is None:
        return ""
    power, runs = show(f.heater_w, Dimension.POWER, units_of(site)), say(RUNS_WORDS[f.heater])
    if f.heater_set_k is None:
        return say("heater {power}, {runs}", power=power, runs=runs)
    return say(
        "heater {power}, {runs}, at {temperature}",
        power=power,
        runs=runs,
        temperature=temperature(f.heater_set_k, site),
    )


def _dehumidifier(f: RoomFittings, site: Site | None) -> str:
    if not f.dehumidifier_points:
        return ""
    most = max(point.water_kg_s for point in f.dehumidifier_points)
    water, runs = show(most, Dimension.WATER_FLOW, units_of(site)), say(RUNS_WORDS[f.dehumidifier])
    if f.dehumidifier_set is None:
        return say("dehumidifier {water}, {runs}", water=water, runs=runs)
    return say(
        "dehumidifier {water}, {runs}, at {humidity}",
        water=water,
        runs=runs,
        humidity=percent(f.dehumidifier_set),
    )


def _fan(f: RoomFittings, site: Site | None) -> str:
    if f.fan_m_s is None:
        return ""
    wind = speed(f.fan_m_s, site)
    return say("fan {speed}, on", speed=wind) if f.fan_on else say("fan {speed}, off", speed=wind)


def _rest(f: RoomFittings, site: Site | None) -> str:
    parts = []
    if f.tank_m2:
        parts.append(say("open tanks {area}", area=show(f.tank_m2, Dimension.AREA, units_of(site))))
    if f.people:
        parts.append(say_many("{number} person at work", "{number} people at work", f.people))
    if f.air_changes_an_hour is not None:
        parts.append(say("air renewed {times} times an hour", times=_short(f.air_changes_an_hour)))
    return "; ".join(parts)
