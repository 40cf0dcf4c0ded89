"""A place of a mould written in one line: ``base, pocket, 20 cm, 10 cm, 8 cm, 3 cm``. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from pydantic import ValidationError

from service.errors import BadInput
from service.records.facts import Zone, ZoneKind, must_differ
from service.units import Dimension, parse, with_decimals
from service.voice import later, say

HOW = later(
    "Write it like “breast, open face, 38 cm, 20 cm” or, with depth and mouth last, "
    "“base, pocket, 20 cm, 10 cm, 8 cm, 3 cm”."
)


def zones_of(texts: Sequence[str]) -> tuple[Zone, ...]:
    """Raises BadInput."""
    zones: tuple[Zone, ...] = must_differ(tuple(_zone(text) for text in texts))
    return zones


def _zone(text: str) -> Zone:
    name, kind, *sizes = [part.strip() for part in text.split(",")] if text.count(",") >= 1 else ["", ""]
    pocket = kind.lower() == ZoneKind.POCKET
    if len(sizes) != (4 if pocket else 2):
        raise BadInput(
            "zone_unclear", say("“{text}” is not a place with its sizes.", text=text[:60]), say(HOW), "zone"
        )
    lengths = [parse(with_decimals(size), Dimension.LENGTH, "zone") for size in sizes]
    try:
        return Zone(
            name=name,
            kind=ZoneKind(kind.lower()),
            height_m=lengths[0],
            width_m=lengths[1],
            depth_m=lengths[2] if pocket else None,
            mouth_m=lengths[3] if pocket else None,
        )
    except (ValidationError, ValueError) as error:
        raise BadInput(
            "zone_unclear", say("“{text}” cannot be a place of a mould.", text=text[:60]), say(HOW), "zone"
        ) from error
