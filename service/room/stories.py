"""From a mould's facts, and what sensors on it told, to the story that the smoother takes. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from service.drying.history import Dip
from service.learning.effect import EffectKind
from service.learning.story import (
    Effects,
    Evidence,
    FaceRead,
    Felt,
    Redipped,
    Story,
    StoryDip,
    StoryZone,
    Weighed,
)
from service.records.facts import CheckBody, DipBody, FaceBody, Fact, WeightBody
from service.records.recipes import CoatKind
from service.room.anew import Anew
from service.room.effect_names import of_coats, of_place
from service.room.progress import Progress, lives, zone_shape
from service.room.sensors_on import sensors_on
from service.room.told_on import ToldOn


@dataclass(frozen=True)
class TheScale:
    """Which scale a weight came from; weights of two of them are not comparable."""

    at_s: float
    scale: str


def story(p: Progress, until_s: float, anew: Anew, told: Sequence[ToldOn] = ()) -> Story | None:
    """A mould's life up to `until_s`; None before its first dip.

    told: what the sensors that were put on it told, thinned out. Evidence of a face that nobody can have read, before
    the first coat or of a place it does not have, is left out.
    """
    dips = [_dip(p, fact, dip, anew) for fact, dip in _dips(p) if dip.at_s <= until_s]
    if not dips:
        return None
    heard = sorted(_heard(p, dips, told), key=lambda each: (each.at_s, each.number))
    return Story(
        mould=p.mould_id,
        zones=tuple(_zones(p, dips[0].at_s, anew)),
        dips=tuple(dips),
        evidence=tuple(each for each in heard if each.at_s <= until_s),
        until_s=until_s,
        changes_s=tuple(at_s for at_s in sorted(_changes_s(p, told)) if at_s <= until_s),
    )


def _dips(p: Progress) -> Iterator[tuple[Fact, Dip]]:
    """Each dip's fact, with the coat as the recipe has it; that is the same for all zones."""
    yield from zip(p.dips, lives(p, 0.0)[0].dips, strict=True)


def _dip(p: Progress, fact: Fact, dip: Dip, anew: Anew) -> StoryDip:
    def effects(kind: EffectKind, *names: str) -> Effects:
        return tuple(anew.effect(kind, of, dip.at_s) for of in ("", *names))

    body = fact.body
    coats = of_coats(p.recipe.name, body.coat_kind if isinstance(body, DipBody) else CoatKind.BACKUP)
    return StoryDip(
        dip.at_s,
        dip.coat,
        dip.immersion_s,
        dip.limits,
        draught=effects(EffectKind.DRAUGHT, _place(p, fact)),
        drying=effects(EffectKind.DRYING, coats),
        thickness=effects(EffectKind.THICKNESS, coats),
        soaking=effects(EffectKind.SOAKING),
    )


def _place(p: Progress, dip: Fact) -> str:
    """Where it hung from that dip on."""
    room_id = [room for since, room in p.rooms if since <= dip.at or since == p.rooms[0][0]][-1]
    hook = [hook for since, hook in p.hooks if since <= dip.at or since == p.hooks[0][0]][-1]
    return of_place(room_id, hook)


def _zones(p: Progress, at_s: float, anew: Anew) -> Iterator[StoryZone]:
    stirring = (anew.effect(EffectKind.POCKET, "", at_s),)
    for zone in p.body.zones:
        shape = zone_shape(zone)
        yield StoryZone(zone.name, shape, shape.coated_m2, stirring if shape.pocket else ())


def _heard(p: Progress, dips: Sequence[StoryDip], told: Iterable[ToldOn]) -> Iterator[Evidence]:
    first_s, names = dips[0].at_s, [zone.name for zone in p.body.zones]
    for fact in (*p.weights, *p.faces, *p.checks):
        said = _said(fact, names)
        if said is not None and (isinstance(said, Weighed) or said.at_s >= first_s):
            yield said
    yield from _shed(p, dips)
    for number, each in enumerate(told, 1):
        if each.zone is None and each.value > 0.0:  # lifted off, a scale says nothing of the mould
            yield Weighed(-number, each.at_s, each.value)
        elif each.zone in names and each.at_s >= first_s:
            yield FaceRead(-number, each.at_s, names.index(each.zone), each.value)


def _said(fact: Fact, names: Sequence[str]) -> Evidence | None:
    """What a person recorded, as evidence; None of a place the mould does not have."""
    body, at_s = fact.body, fact.at.timestamp()
    if isinstance(body, WeightBody):
        return Weighed(fact.number, at_s, body.mass_kg)
    if isinstance(body, FaceBody):
        zone = body.zone if body.zone is not None else names[0]
        return FaceRead(fact.number, at_s, names.index(zone), body.temperature_k) if zone in names else None
    if isinstance(body, CheckBody) and (body.zone is None or body.zone in names):
        zone_number = None if body.zone is None else names.index(body.zone)
        return Felt(fact.number, at_s, zone_number, body.verdict == "dry")
    return None


def _shed(p: Progress, dips: Sequence[StoryDip]) -> Iterator[Redipped]:
    """Of each coat that a dip was laid on, the first word that it shed or lifted then.

    That nothing was said is no evidence that it held: nobody has to write that down.
    """
    said: set[int] = set()
    for fact in p.sheds:
        on = sum(dip.at_s <= fact.at.timestamp() for dip in dips)
        if on >= 2 and on - 1 not in said and not _waited_too_long(p, dips, on - 1):
            said.add(on - 1)
            yield Redipped(fact.number, dips[on - 1].at_s, on - 1, shed=True)


def _waited_too_long(p: Progress, dips: Sequence[StoryDip], coat: int) -> bool:
    """A coat left for longer than its recipe lets it lifts because it is too dry, not too wet."""
    longest_s = p.recipe.coats[min(coat, p.coats_total) - 1].longest_wait_s
    return longest_s is not None and dips[coat].at_s - dips[coat - 1].at_s > longest_s


def _changes_s(p: Progress, told: Sequence[ToldOn]) -> Iterator[float]:
    """When something was hung on the mould or taken off, and between two weighings of different scales."""
    yield from (fact.at.timestamp() for fact in p.wires)
    for on in sensors_on(p):
        yield on.since.timestamp()
        yield from () if on.until is None else (on.until.timestamp(),)
    weighed = sorted(_scales(p, told), key=lambda each: each.at_s)
    yield from (
        0.5 * (before.at_s + after.at_s) for before, after in pairwise(weighed) if before.scale != after.scale
    )


def _scales(p: Progress, told: Iterable[ToldOn]) -> Iterator[TheScale]:
    for fact in p.weights:
        if isinstance(fact.body, WeightBody):
            yield TheScale(fact.at.timestamp(), fact.body.scale or "")
    yield from (TheScale(each.at_s, each.sensor) for each in told if each.zone is None)
