"""What this shop taught, in sentences a founder would say."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from service.learning.effect import EffectKind
from service.listed import capital, listed
from service.local_time import clock_time, day_name
from service.records.facts import LearnAnewBody
from service.records.shop_facts import Room, Site
from service.room.effect_names import coats_of, place_of
from service.room.learned_views import HeardKind, LearnedEffect
from service.room.room_views import ROOM_AIR
from service.terms import term
from service.voice import later, later_many, say, say_many
from service.words.moulds import hook_words

NEARLY_LESS, NEARLY_MORE = 0.95, 1.05
"""A twentieth more or less than the tables say is told as the same (our choice)."""
LINES = {
    EffectKind.DRAUGHT: (
        later("{where}: water leaves {times} times as fast as the tables say (between {low} and {high})."),
        later("{where}: water leaves about as fast as the tables say (between {low} and {high} times)."),
    ),
    EffectKind.DRYING: (
        later(
            "{where}: water comes through {times} times as fast as the tables say (between {low} and {high})."
        ),
        later(
            "{where}: water comes through about as fast as the tables say (between {low} and {high} times)."
        ),
    ),
    EffectKind.THICKNESS: (
        later("{where}: a dip lays on {times} times what the recipe says (between {low} and {high})."),
        later("{where}: a dip lays on about what the recipe says (between {low} and {high} times)."),
    ),
    EffectKind.SOAKING: (
        later("{where}: a dip soaks in {times} times what the tables say (between {low} and {high})."),
        later("{where}: a dip soaks in about what the tables say (between {low} and {high} times)."),
    ),
    EffectKind.POCKET: (
        later("{where}: air in hollows moves {times} times what the tables say (between {low} and {high})."),
        later("{where}: air in hollows moves about as the tables say (between {low} and {high} times)."),
    ),
}
THINGS = {
    EffectKind.DRAUGHT: later("how fast water leaves"),
    EffectKind.DRYING: later("how fast water comes through a coat"),
    EffectKind.THICKNESS: later("how thick a dip lays a coat"),
    EffectKind.SOAKING: later("how much a dip soaks in"),
    EffectKind.POCKET: later("how well air in hollows moves"),
}
"""Each kind, where it stands alone."""
PIECES = {
    HeardKind.WEIGHT: later_many("{number} weighing", "{number} weighings"),
    HeardKind.FACE: later_many("{number} reading of a face", "{number} readings of faces"),
    HeardKind.FELT: later_many("{number} touch", "{number} touches"),
    HeardKind.REDIP: later_many("{number} coat that shed or held", "{number} coats that shed or held"),
}


@dataclass(frozen=True)
class Names:
    """What rooms and recipes are called here, as effects name them by number and by file."""

    rooms: Sequence[Room] = ()
    recipes: Mapping[str, str] = field(default_factory=dict)


def where_learned(kind: EffectKind, of: str, names: Names) -> str:
    """``Hook 3 in Lean-to``, ``Backup coats of Wader``, ``The whole shop``."""
    if not of:
        return say("The whole shop")
    try:
        return _place(of, names) if kind is EffectKind.DRAUGHT else _coats(of, names)
    except ValueError:
        return f"“{of}”"  # as a newer coatbell named it


def _place(of: str, names: Names) -> str:
    room_id, hook = place_of(of)
    room = _room(str(room_id), names)
    if not hook:
        return say("{room}, on no hook of its own", room=room)
    return capital(say("{hook} in {room}", hook=hook_words(hook), room=room))


def _room(number: str, names: Names) -> str:
    named = (room.name for room in names.rooms if str(room.id) == number)
    return next(named, say("room {number}", number=number))


def _coats(of: str, names: Names) -> str:
    recipe, kind = coats_of(of)
    return say("{recipe}, {kind} coats", recipe=names.recipes.get(recipe, recipe), kind=term(kind.value))


def learned_line(effect: LearnedEffect, names: Names) -> str:
    """What is known now, with its 10 and 90 %."""
    where = where_learned(effect.kind, effect.of, names)
    if not effect.pieces:
        return say(
            "{where}: {thing}. Nothing was heard of it yet.", where=where, thing=say(THINGS[effect.kind])
        )
    other, same = LINES[effect.kind]
    told = {"where": where, "low": times(effect.low), "high": times(effect.high)}
    if NEARLY_LESS <= effect.likely <= NEARLY_MORE:
        return say(same, **told)
    return say(other, times=times(effect.likely), **told)


def known_at_first(effect: LearnedEffect) -> str:
    """What was known before anything was heard; where nothing was heard yet, what the rest of the shop lets expect."""
    if not effect.pieces:
        low, high = times(effect.low), times(effect.high)
        return say("It may be {low} to {high} times the usual.", low=low, high=high)
    low, high = times(effect.at_first_low), times(effect.at_first_high)
    return say("At first we only knew {low} to {high}.", low=low, high=high)


def rests_on(effect: LearnedEffect, site: Site | None, now: datetime) -> str:
    """``From 12 weighings and 5 touches on 6 moulds, the newest yesterday.``"""
    if not effect.pieces or effect.newest_at is None:
        return ""
    pieces = listed([say_many(*PIECES[kind], number) for kind, number in effect.pieces])
    moulds = say_many("{number} mould", "{number} moulds", effect.moulds)
    day = day_name(effect.newest_at, site, now)
    return say("From {pieces} on {moulds}, the newest {day}.", pieces=pieces, moulds=moulds, day=day)


def anew_since(effect: LearnedEffect, site: Site | None, now: datetime) -> str:
    """Since when only newer evidence counts."""
    if effect.learned_anew_at is None:
        return ""
    return say("Learned anew since {time}.", time=clock_time(effect.learned_anew_at, site, now))


def anew_line(body: LearnAnewBody, names: Names) -> str:
    """``To be learned anew: how fast water leaves (Hook 3 in Lean-to): the fan was moved``."""
    said = say("To be learned anew: {what}", what=_anew(body, names))
    return f"{said}: {body.text}" if body.text else said


def _anew(body: LearnAnewBody, names: Names) -> str:
    if not body.effect:
        return say("all that this shop taught")
    if body.effect == ROOM_AIR:
        return say("how the air of {room} behaves", room=_room(body.of, names))
    try:
        kind = EffectKind(body.effect)
    except ValueError:
        return " ".join(part for part in (body.effect, body.of) if part)
    where = where_learned(kind, body.of, names)
    return say("{thing} ({where})", thing=say(THINGS[kind]), where=where)


def times(value: float) -> str:
    """Two figures: ``1.4``, ``0.78``."""
    return f"{value:.2f}" if value < 0.995 else f"{value:.1f}"
