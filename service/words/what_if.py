"""What comes of hanging more or switching something, in words a founder says. Clock times before lengths of time."""

from __future__ import annotations

from datetime import datetime

from service.listed import capital
from service.local_time import clock_time, span
from service.records.shop_facts import Site
from service.room.room_fittings import Runs
from service.room.what_if_views import (
    AirThen,
    Assumed,
    Missing,
    MoreThen,
    MouldThen,
    WhatIf,
    WhatThen,
)
from service.terms import term
from service.voice import later, say, say_many
from service.words.numbers import humidity_range, percent, temperature, temperature_difference

SAME_S = 120.0
"""Hours closer than this are told as the same (our choice): nobody dips to the minute."""
SAME_HUMIDITY, SAME_K = 0.005, 0.15
MISSING = {
    Missing.AIR: later("No air was measured in {room} yet: hang a sensor there first."),
    Missing.VOLUME: later("How large is {room}? Without its size nobody can say how its air answers."),
    Missing.HEATER: later("Say first what heater stands in {room}: its watts, and what it holds."),
    Missing.DEHUMIDIFIER: later(
        "Say first what dehumidifier stands in {room}: how much water it takes, as its plate says."
    ),
    Missing.FAN: later("Say first how fast the air moves at the moulds in {room} with the fan on."),
}
ASSUMED = {
    Assumed.AIR_CHANGES: later("How often the air of the room is renewed is assumed: readings were too few."),
    Assumed.HEAT: later("How the room keeps its warmth is assumed: its readings do not tell."),
    Assumed.OUTSIDE: later(
        "The air outside is not known: what the room goes back to by itself stands in. Tell it below."
    ),
    Assumed.COATS_UNDER: later("The coats under the new ones are taken to be as damp as a dip allows."),
    Assumed.SIZE: later("Their size is as given here: nobody hung one yet."),
    Assumed.STILL_AIR: later("How fast the air moves at the moulds is assumed: no sensor measures it."),
    Assumed.OLD_AIR: later("No fresh readings: all this goes from the last air there was."),
}
SETS = {
    "heater": {
        Runs.OFF: later("the heater off at {time}"),
        Runs.ON: later("the heater on at {time}"),
        Runs.HOLDS: later("the heater as it is set from {time}"),
    },
    "dehumidifier": {
        Runs.OFF: later("the dehumidifier off at {time}"),
        Runs.ON: later("the dehumidifier on at {time}"),
        Runs.HOLDS: later("the dehumidifier as it is set from {time}"),
    },
}


def asked_line(then: WhatThen, like: str, site: Site | None) -> str:
    """``4 more like Heron at 16:00, the heater off at 18:00``. like: what the new ones are like."""
    return capital(", ".join(_asked(then, like, site)))


def _asked(then: WhatThen, like: str, site: Site | None) -> list[str]:
    asked, now, found = then.asked, then.at, []
    if more := asked.more:
        at = clock_time(more.at, site, now)
        found.append(say("{number} more like {like} at {time}", number=more.number, like=like, time=at))
    return [*found, *_switched(asked, site, now)]


def _switched(asked: WhatIf, site: Site | None, now: datetime) -> list[str]:
    found = [
        say(SETS[name][each.runs], time=clock_time(each.at, site, now))
        for name, each in (("dehumidifier", asked.dehumidifier), ("heater", asked.heater))
        if each is not None
    ]
    if fan := asked.fan:
        at = clock_time(fan.at, site, now)
        found.append(
            say("the fan on at {time}", time=at) if fan.on else say("the fan off at {time}", time=at)
        )
    if aired := asked.airing:
        found.append(
            say(
                "a door open from {time} for {length}, {times} times the usual air",
                time=clock_time(aired.at, site, now),
                length=span(aired.for_s),
                times=f"{aired.times:g}",
            )
        )
    return found


def missing_line(missing: Missing, room: str) -> str:
    """What is to be told first."""
    return say(MISSING[missing], room=room)


def assumed_line(assumed: Assumed) -> str:
    """What was neither measured nor learned."""
    return say(ASSUMED[assumed])


def mould_then_line(mould: MouldThen, then: WhatThen, site: Site | None) -> str:
    """``Coat 5: 14:20 → 15:05, 45 min later (15:00 to 15:20).``"""
    before, what = _hour(mould.due_now, then, site), _waits_for(mould)
    if mould.due_now is not None and mould.due_now <= then.at:
        return say("{what}: due already.", what=what)
    later_s = mould.later_s
    if later_s is None:
        after = _hour(mould.due_then, then, site)
        return say("{what}: {before} → {after}.", what=what, before=before, after=after)
    if abs(later_s) < SAME_S:
        return say("{what}: stays at {before}.", what=what, before=before)
    words = {
        "what": what,
        "before": before,
        "after": _hour(mould.due_then, then, site),
        "length": span(60.0 * round(abs(later_s) / 60.0)),
        "doubt": _doubt(mould.earliest, mould.latest, then, site),
    }
    if later_s > 0.0:
        return say("{what}: {before} → {after}, {length} later{doubt}.", **words)
    return say("{what}: {before} → {after}, {length} sooner{doubt}.", **words)


def _waits_for(mould: MouldThen) -> str:
    """``Coat 5`` or ``Dewax``"""
    return say("Dewax") if mould.coat is None else say("Coat {coat}", coat=mould.coat)


def more_then_line(more: MoreThen, then: WhatThen, site: Site | None) -> str:
    """``The 4 new ones, coat 5 (backup): ready about Thu 03:40 (03:20 to 04:10).``"""
    words = {"coat": more.coat, "kind": term(more.kind.value), "time": _hour(more.due_at, then, site)}
    if more.due_at is None:
        return say_many(
            "The new one, coat {coat} ({kind}): ready {time}.",
            "The {number} new ones, coat {coat} ({kind}): ready {time}.",
            more.number,
            **words,
        )
    return say_many(
        "The new one, coat {coat} ({kind}): ready about {time}{doubt}.",
        "The {number} new ones, coat {coat} ({kind}): ready about {time}{doubt}.",
        more.number,
        **words,
        doubt=_doubt(more.earliest, more.latest, then, site),
    )


def air_then_lines(then: WhatThen, site: Site | None) -> list[str]:
    """Where the air is furthest from what it would be: damper or drier, warmer or colder."""
    if not then.air:
        return []
    damp = max(then.air, key=lambda each: abs(each.humidity - each.humidity_now))
    warm = max(then.air, key=lambda each: abs(each.temperature_k - each.temperature_now_k))
    return [line for line in (_damp(damp, then, site), _warm(warm, then, site)) if line] or [
        say("The air stays much as it is.")
    ]


def soft_wax_line(then: WhatThen, above_k: float, site: Site | None) -> str:
    """Since when the room may be too warm for wax. Empty: it is not by this change."""
    warm = [air for air in then.air if air.temperature_high_k >= above_k > air.temperature_now_k]
    if not warm:
        return ""
    return say(
        "From about {time} on it may get warmer than {limit}: wax gets soft then, sags and cracks its shell.",
        time=clock_time(warm[0].at, site, then.at),
        limit=temperature(above_k, site),
    )


def _damp(air: AirThen, then: WhatThen, site: Site | None) -> str:
    if abs(air.humidity - air.humidity_now) < SAME_HUMIDITY:
        return ""
    between = humidity_range((air.humidity_low, air.humidity_high))
    words = {
        "then": percent(air.humidity),
        "now": percent(air.humidity_now),
        "time": clock_time(air.at, site, then.at),
        "doubt": "" if between == percent(air.humidity) else f" ({between})",
    }
    if air.humidity > air.humidity_now:
        return say("The air gets damper: {then} at {time} instead of {now}{doubt}.", **words)
    return say("The air gets drier: {then} at {time} instead of {now}{doubt}.", **words)


def _warm(air: AirThen, then: WhatThen, site: Site | None) -> str:
    away = air.temperature_k - air.temperature_now_k
    if abs(away) < SAME_K:
        return ""
    words = {
        "then": temperature(air.temperature_k, site),
        "now": temperature(air.temperature_now_k, site),
        "time": clock_time(air.at, site, then.at),
        "away": temperature_difference(abs(away), site),
    }
    if away > 0.0:
        return say("It gets warmer: {then} at {time} instead of {now}, {away} more.", **words)
    return say("It gets colder: {then} at {time} instead of {now}, {away} less.", **words)


def looked_line(then: WhatThen, site: Site | None) -> str:
    """As far as was looked."""
    if then.looked_until is None:
        return ""
    until = clock_time(then.looked_until, site, then.at)
    if then.cut_short:
        return say("There was time to reckon until {time} only: what comes later is not known.", time=until)
    return say("Reckoned until {time}; nothing more is dipped meanwhile.", time=until)


def _hour(at: datetime | None, then: WhatThen, site: Site | None) -> str:
    if at is not None:
        return clock_time(at, site, then.at)
    if then.looked_until is None:
        return say("nobody knows when")
    return say("after {time}", time=clock_time(then.looked_until, site, then.at))


def _doubt(earliest: datetime | None, latest: datetime | None, then: WhatThen, site: Site | None) -> str:
    if earliest is None:
        return ""
    low, high = _hour(earliest, then, site), _hour(latest, then, site)
    return "" if low == high else say(" ({low} to {high})", low=low, high=high)
