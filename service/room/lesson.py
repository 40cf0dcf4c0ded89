"""What is kept of one mould once all that was heard of it was worked in: numbers, doubt, and what it taught. Pure."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np

from service.drying.members import MemberZone
from service.learning.effect import Effect, EffectKind
from service.learning.heard import Heard
from service.learning.site import Site
from service.learning.smoother import Learnt
from service.learning.story import Evidence, FaceRead, Felt, Story, Weighed
from service.room.learned_views import HeardKind, HeardNow
from service.room.own_numbers import Own, own_numbers, packed, unpacked
from service.room.spread import DOUBT

KINDS = {
    "Weighed": HeardKind.WEIGHT,
    "FaceRead": HeardKind.FACE,
    "Felt": HeardKind.FELT,
    "Redipped": HeardKind.REDIP,
}


@dataclass(frozen=True)
class Lesson:
    """made_from: the same text, the same facts. doubt: what is left of it, as `spread.DOUBT`. site None: nothing heard.

    last_dip_s, until: of its newest dip, and up to when it was told. rooms: where it hung. ended: it has left.
    """

    mould_id: int
    made_from: str
    own: Own
    doubt: tuple[float, ...]
    site: Site | None
    heard: tuple[HeardNow, ...]
    last_dip_s: float
    until: datetime
    rooms: frozenset[int]
    ended: bool


def made_from(by_hand: Story) -> str:
    """What facts say of a mould. by_hand: its story without what sensors on it told, and without an end."""
    return hashlib.sha256(repr(by_hand).encode()).hexdigest()


def lesson(story: Story, made_from: str, learnt: Learnt, rooms: frozenset[int], ended: bool) -> Lesson:
    return Lesson(
        story.mould,
        made_from,
        own_numbers(learnt.numbers),
        doubt_left(learnt.laid),
        learnt.site,
        tuple(heard_now(story, each) for each in learnt.heard if _says_something(each)),
        story.dips[-1].at_s,
        datetime.fromtimestamp(story.until_s, UTC),
        rooms,
        ended,
    )


def doubt_left(zones: Sequence[MemberZone]) -> tuple[float, ...]:
    """How far the members lie apart in draught, diffusivity and thickness; of soaking no member keeps its own."""
    logs = [np.log([zone.transfer for zone in zones])]
    logs += [np.log([values.mean(axis=0) for values in each]) for each in _coats(zones)]
    found = [float(each.mean(axis=0).std()) for each in logs]
    return (*(round(each, 4) for each in found), DOUBT[3])


def _coats(zones: Sequence[MemberZone]) -> tuple[list[Any], list[Any]]:
    return [zone.diffusivity for zone in zones], [zone.thickness for zone in zones]


def _says_something(heard: Heard) -> bool:
    """A weight that no other can be held against is kept with the facts, and says nothing of the drying yet."""
    return math.isfinite(heard.expected)


def heard_now(story: Story, heard: Heard) -> HeardNow:
    """One piece of evidence as screens show it."""
    one = heard.evidence
    zone = one.zone if isinstance(one, FaceRead | Felt) else None
    if isinstance(one, Weighed | FaceRead):
        said = heard.measured
    else:
        said = float(one.dry) if isinstance(one, Felt) else float(not one.shed)
    return HeardNow(
        KINDS[type(one).__name__],
        one.number if one.number > 0 else None,
        _at(one),
        None if zone is None else story.zones[zone].name,
        sum(dip.at_s <= one.at_s for dip in story.dips) or None,
        said,
        heard.expected,
        heard.spread if isinstance(one, Weighed | FaceRead) else 0.0,
        heard.surprise,
        heard.left_out,
        next((_at(each) for each in story.evidence if each.number == heard.against), None),
    )


def _at(evidence: Evidence) -> datetime:
    return datetime.fromtimestamp(evidence.at_s, UTC)


def kept(it: Lesson, air: int) -> dict[str, Any]:
    """As plain data. air: the change of the past air it knows of."""
    return {
        "made_from": it.made_from,
        "air": air,
        "own": packed(it.own),
        "doubt": list(it.doubt),
        "site": _site_kept(it.site) if it.site else None,
        "heard": [_heard_kept(each) for each in it.heard],
        "last_dip_s": it.last_dip_s,
        "until": it.until.isoformat(),
        "rooms": sorted(it.rooms),
        "ended": it.ended,
    }


def read(mould_id: int, found: Mapping[str, Any]) -> Lesson:
    """The other way round from `kept`."""
    return Lesson(
        mould_id,
        found["made_from"],
        unpacked(found["own"]),
        tuple(found["doubt"]),
        _site_read(mould_id, found["site"]) if found["site"] else None,
        tuple(_heard_read(each) for each in found["heard"]),
        found["last_dip_s"],
        datetime.fromisoformat(found["until"]),
        frozenset(found["rooms"]),
        found["ended"],
    )


def _site_kept(site: Site) -> dict[str, Any]:
    return {
        "effects": [[effect.kind.value, effect.of, effect.epoch] for effect in site.effects],
        "precision": [float(f"{value:.8g}") for value in site.precision[np.triu_indices(len(site.effects))]],
        "shift": [float(f"{value:.8g}") for value in site.shift],
        "at_s": site.at_s,
        "pieces": [list(each) for each in site.pieces],
    }


def _site_read(mould_id: int, found: Mapping[str, Any]) -> Site:
    effects = tuple(Effect(EffectKind(kind), of, epoch) for kind, of, epoch in found["effects"])
    precision = np.zeros((len(effects), len(effects)))
    precision[np.triu_indices(len(effects))] = found["precision"]
    precision = precision + np.triu(precision, 1).T
    pieces = tuple((name, count) for name, count in found["pieces"])
    return Site(mould_id, effects, precision, np.array(found["shift"]), found["at_s"], pieces)


def _heard_kept(heard: HeardNow) -> list[Any]:
    values = (heard.said, heard.expected, heard.spread, heard.surprise)
    return [
        heard.kind.value,
        heard.number,
        heard.at.isoformat(),
        heard.zone,
        heard.coat,
        *(round(value, 6) for value in values),
        heard.left_out,
        heard.against_at.isoformat() if heard.against_at else None,
    ]


def _heard_read(row: Sequence[Any]) -> HeardNow:
    kind, number, at, *rest, left_out, against = row
    against_at = datetime.fromisoformat(against) if against else None
    zone, coat, said, expected, spread, surprise = rest
    return HeardNow(
        HeardKind(kind),
        number,
        datetime.fromisoformat(at),
        zone,
        coat,
        said,
        expected,
        spread,
        surprise,
        left_out,
        against_at,
    )
