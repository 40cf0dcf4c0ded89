"""The form that says where a forecast of outside comes from: from what holds to fields, from fields to a table."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from api.asked import Form
from service import words
from service.outdoor.desk import HourRead, OutdoorNow, OutdoorTried
from service.records.shop_facts import Site
from service.settings import Outdoor
from service.voice import later, say, say_many

TEXTS = ("url", "topic", "times", "temperature", "humidity", "dew_point", "room")
UNITS = ("temperature_unit", "humidity_unit", "dew_point_unit")
EVERY = {
    "30 min": later("half an hour"),
    "1 h": later("hour"),
    "3 h": later("3 hours"),
    "6 h": later("6 hours"),
}
WARM = [("degC", "°C"), ("degF", "°F"), ("K", "K")]
DAMP = [("%", "%"), ("", "0 to 1")]


def every_choices(outdoor_s: str) -> list[tuple[str, str]]:
    """How often it may be asked for; what the file says besides is offered too."""
    named = {value: say(text) for value, text in EVERY.items()}
    return [*named.items(), *([] if outdoor_s in named else [(outdoor_s, outdoor_s)])]


def fields_of(outdoor: Outdoor) -> Form:
    """The form filled in with what holds."""
    texts = {name: str(getattr(outdoor, name)) for name in (*TEXTS, *UNITS)}
    return Form({**texts, "every": _every(outdoor.every_s)})


def table_of(form: Form) -> dict[str, Any]:
    """As `[outdoor]` of site.toml has it."""
    texts = {name: form[name] for name in (*TEXTS, *UNITS) if name in form}
    kept = {name: text for name, text in texts.items() if text or name not in ("times", "temperature")}
    return {**kept, "every": form["every"] or "1 h"}


def _every(seconds: float) -> str:
    hours, minutes = seconds / 3600.0, round(seconds / 60.0)
    return f"{hours:.0f} h" if hours == int(hours) else f"{minutes} min"


def stands_line(now: OutdoorNow, site: Site | None, at: datetime) -> str:
    """How it stands, in a sentence or two."""
    if not now.outdoor.given:
        if now.outdoor.room:
            return say("{room} hangs outside; no forecast is given", room=now.outdoor.room)
        return say("None: the rooms are forecast from their own readings")
    if now.came_at is None or now.until is None:
        return say("None has come yet")
    came, until = (words.clock_time(one, site, at) for one in (now.came_at, now.until))
    return say("Came {time}, and goes on to {until}", time=came, until=until)


def tried_line(tried: OutdoorTried, site: Site | None, at: datetime) -> str:
    """``49 hours, from 14:00 to Sat 14:00``"""
    count = say_many("{number} hour", "{number} hours", tried.hours)
    first, last = (words.clock_time(one, site, at) for one in (tried.first, tried.last))
    return say("Read: {hours}, from {first} to {last}.", hours=count, first=first, last=last)


def hour_row(hour: HourRead, site: Site | None, at: datetime) -> tuple[str, str, str]:
    """When, how warm, how damp."""
    when = words.clock_time(hour.at, site, at)
    return when, words.temperature(hour.temperature_k, site), words.percent(hour.humidity)
