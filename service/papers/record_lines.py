"""The record as JSON Lines: a line that says what it is, one a fact, then the readings. Pure."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from functools import lru_cache
from typing import Any

from service.papers.asked import Asked
from service.papers.record_models import FORMAT, VERSION
from service.reading import Reading
from service.records.ledger import Line, canonical
from service.records.shop_facts import Room, Site
from service.records.utc import in_utc

CHUNK = 64 * 1024


def head_line(
    asked: Asked, site: Site | None, rooms: Sequence[Room], now: datetime, facts: int, ledger: tuple[int, str]
) -> str:
    """The first line of a file."""
    shop = None
    if site is not None:
        shop = {
            "name": site.name,
            "altitude_m": site.altitude_m,
            "time_zone": site.time_zone,
            "units": site.units,
        }
    said: dict[str, Any] = {
        "line": "head",
        "format": FORMAT,
        "version": VERSION,
        "shop": shop,
        "rooms": [{"number": room.id, "name": room.name} for room in rooms],
        "made_at": instant(now),
        "mould": asked.mould_id,
        "since": instant(asked.begins(site)),
        "until": instant(asked.ends(site)),
        "facts": facts,
        "readings": asked.readings,
        "ledger": {"number": ledger[0], "digest": ledger[1]},
    }
    return f"{canonical(said)}\n"


def fact_line(line: Line) -> str:
    """A fact so that its digest can be worked out again from the line."""
    said = {
        "line": "fact",
        "number": line.number,
        "mould": line.mould_id,
        "kind": line.kind,
        "at": instant(line.at),
        "recorded_at": instant(line.recorded_at),
        "hand": line.hand,
        "body": body_of(line.body),
        "replaces": line.replaces,
        "key": line.key,
        "digest": line.digest,
    }
    return f"{canonical(said)}\n"


def body_of(text: str) -> Any:
    """A body as data; as it stands where that would not give back the same text."""
    try:
        body = json.loads(text)
        same = isinstance(body, dict) and canonical(body) == text
    except (ValueError, RecursionError):
        same = False
    return body if same else text


def reading_line(reading: Reading) -> str:
    """Canonical too, but put together by hand: there may be millions."""
    flag = "null" if reading.flag is None else f'"{reading.flag}"'
    return (
        f'{{"at":"{instant(reading.at)}","flag":{flag},"line":"reading","quantity":"{reading.quantity}",'
        f'"received_at":"{instant(reading.received_at)}","sensor":{_quoted(reading.sensor)},"value":{reading.value!r}}}\n'
    )


@lru_cache(maxsize=1024)
def _quoted(text: str) -> str:
    return canonical(text)


def instant(at: datetime | None) -> str | None:
    """UTC, to the microsecond: as the chain has it."""
    return None if at is None else in_utc(at).isoformat(timespec="microseconds")


def in_chunks(texts: Iterable[str], size: int = CHUNK) -> Iterator[str]:
    """The same text in pieces large enough to be worth sending."""
    waiting: list[str] = []
    length = 0
    for text in texts:
        waiting.append(text)
        length += len(text)
        if length >= size:
            yield "".join(waiting)
            waiting, length = [], 0
    if waiting:
        yield "".join(waiting)
