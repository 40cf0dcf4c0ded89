"""The question of the page “What if?”, out of its address."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from api.asked import Form
from service.errors import BadInput
from service.local_time import local, zone_of
from service.records.facts import SMALLEST_M
from service.records.shop_facts import Site
from service.room.room_fittings import Runs
from service.room.what_if_views import (
    MOST_MORE,
    Aired,
    FanSwitched,
    HangMore,
    Outside,
    Switched,
    WhatIf,
)
from service.units import Dimension
from service.voice import say

A_MOMENT = timedelta(minutes=15)
"""A time just past is meant as now; one further back as tomorrow's."""
MOST_AIRING, LONGEST_AIRING_S = 30.0, 12 * 3600.0
LARGEST_M = 5.0


def what_if_of(form: Form, room_id: int, site: Site | None, now: datetime) -> WhatIf:
    """What the form asks. Raises BadInput naming the field."""
    return WhatIf(
        room_id,
        _more(form, site, now),
        _switched(form, "heater", site, now),
        _switched(form, "dehumidifier", site, now),
        _fan(form, site, now),
        _airing(form, site, now),
        _outside(form),
    )


def at_clock(text: str, field: str, site: Site | None, now: datetime) -> datetime:
    """``16:00`` as the next time the shop's clock shows that; empty: now. Raises BadInput."""
    if not text.strip():
        return now
    here = local(now, site)
    try:
        hour, minute = (int(part) for part in text.strip().split(":")[:2])
        there = here.replace(hour=hour, minute=minute, second=0, microsecond=0, tzinfo=None)
    except ValueError as error:
        raise BadInput(
            "not_a_clock_time",
            say("“{text}” is not a time of day.", text=text),
            say("Write it like 16:00."),
            field,
        ) from error
    today = there.replace(tzinfo=zone_of(site))
    if today < now - A_MOMENT:
        today = (there + timedelta(days=1)).replace(tzinfo=zone_of(site))
    return max(today.astimezone(now.tzinfo), now)


def _more(form: Form, site: Site | None, now: datetime) -> HangMore | None:
    if not form["number"] or form["number"] == "0":
        return None
    number = form.whole("number", say("How many more"))
    if not 1 <= number <= MOST_MORE:
        raise BadInput(
            "number_wrong",
            say("That is too few or too many moulds to hang at once."),
            say("Give from 1 to {most}.", most=MOST_MORE),
            "number",
        )
    kind, _, name = form.need("like", say("Like which")).partition(":")
    height, width = _length(form, "height", 0.4), _length(form, "width", 0.3)
    return HangMore(
        number,
        at_clock(form["more_at"], "more_at", site, now),
        like=_mould(name) if kind == "mould" else None,
        recipe=name if kind != "mould" else None,
        coat=form.whole("coat", say("Which coat")) if form["coat"] else None,
        height_m=height,
        width_m=width,
    )


def _mould(name: str) -> int:
    if not name.isdecimal():
        raise BadInput(
            "mould_unknown",
            say("There is no mould “{name}”.", name=name),
            say("Choose one of the list."),
            "like",
        )
    return int(name)


def _length(form: Form, field: str, usual: float) -> float:
    value = form.quantity(field, Dimension.LENGTH)
    if value is None:
        return usual
    if not SMALLEST_M <= value <= LARGEST_M:
        raise BadInput(
            "length_wrong", say("No mould is as small or large as that."), say("Check its unit."), field
        )
    return value


def _switched(form: Form, name: str, site: Site | None, now: datetime) -> Switched | None:
    if not form[name]:
        return None
    try:
        runs = Runs(form[name])
    except ValueError as error:
        raise _not_known(form[name], name) from error
    return Switched(at_clock(form[f"{name}_at"], f"{name}_at", site, now), runs)


def _fan(form: Form, site: Site | None, now: datetime) -> FanSwitched | None:
    if not form["fan"]:
        return None
    if form["fan"] not in ("on", "off"):
        raise _not_known(form["fan"], "fan")
    return FanSwitched(at_clock(form["fan_at"], "fan_at", site, now), form["fan"] == "on")


def _airing(form: Form, site: Site | None, now: datetime) -> Aired | None:
    if not form["airing"]:
        return None
    times = _number(form, "airing")
    minutes = _number(form, "airing_minutes") if form["airing_minutes"] else 60.0
    if not 0.0 <= times <= MOST_AIRING or not 0.0 < 60.0 * minutes <= LONGEST_AIRING_S:
        raise BadInput(
            "airing_wrong",
            say("A door cannot be opened like that."),
            say("Give up to {times} times the usual air, for up to 12 hours.", times=f"{MOST_AIRING:g}"),
            "airing",
        )
    return Aired(at_clock(form["airing_at"], "airing_at", site, now), times, 60.0 * minutes)


def _outside(form: Form) -> Outside | None:
    kelvin, humidity = (
        form.quantity("outside_temperature", Dimension.TEMPERATURE),
        form.quantity("outside_humidity", Dimension.FRACTION),
    )
    if kelvin is None and humidity is None:
        return None
    if kelvin is None or humidity is None or not 230.0 <= kelvin <= 325.0 or not 0.0 <= humidity <= 1.0:
        raise BadInput(
            "outside_wrong",
            say("The air outside needs a temperature and a humidity that can be."),
            say("Write them like 6 °C and 85 %."),
            "outside_temperature",
        )
    return Outside(kelvin, humidity)


def _number(form: Form, field: str) -> float:
    try:
        return float(form[field].replace(",", "."))
    except ValueError as error:
        raise BadInput(
            "not_a_number", say("“{text}” is not a number.", text=form[field]), say("Write it as one."), field
        ) from error


def _not_known(word: str, field: str) -> BadInput:
    return BadInput(
        "value_wrong", say("“{word}” is not known here.", word=word), say("Choose one of the list."), field
    )


def form_of(query: Mapping[str, str]) -> Form:
    """The fields of an address, stripped."""
    return Form({name: value.strip()[:200] for name, value in query.items()})
