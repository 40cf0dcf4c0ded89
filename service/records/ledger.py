"""The hash chain over the facts: every line's digest covers the line itself and the digest before it.

It shows accidents and quiet edits: whoever changes a line must also change every digest after it. It does not
keep out somebody who rewrites the whole file.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from service.records.utc import in_utc

START = ""  # the digest "before" the first line


@dataclass(frozen=True, slots=True)
class Line:
    """A fact as it is chained. `body` is its canonical JSON, as stored."""

    number: int
    mould_id: int | None
    kind: str
    at: datetime
    recorded_at: datetime
    hand: str
    body: str
    replaces: int | None
    key: str | None
    digest: str = ""


def canonical(data: object) -> str:
    """JSON in one form only: sorted keys, no spaces, plain characters."""
    return json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)


def digest(before: str, line: Line) -> str:
    """SHA-256 over the digest of the line before, a line feed, and the line in canonical JSON; hexadecimal."""
    said = {
        "number": line.number,
        "mould": line.mould_id,
        "kind": line.kind,
        "at": _instant(line.at),
        "recorded_at": _instant(line.recorded_at),
        "hand": line.hand,
        "body": line.body,
        "replaces": line.replaces,
        "key": line.key,
    }
    return hashlib.sha256(f"{before}\n{canonical(said)}".encode()).hexdigest()


def chained(before: str, line: Line) -> Line:
    """The line with its digest."""
    return replace(line, digest=digest(before, line))


def first_broken(lines: Iterable[Line], head_number: int, head_digest: str) -> int | None:
    """The number of the first fact that is changed, missing or not vouched for by the head; None if all hold."""
    number, before = 0, START
    for number, line in enumerate(lines, start=1):
        if line.number != number or line.digest != digest(before, line):
            return number
        before = line.digest
    if number == head_number:
        return None if before == head_digest else max(number, 1)
    return min(number, head_number) + 1


def _instant(at: datetime) -> str:
    return in_utc(at).isoformat(timespec="microseconds")
