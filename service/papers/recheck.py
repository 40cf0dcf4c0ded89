"""The chain checked again from a record file alone, without the records it was made from. Pure."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any

from pydantic import ValidationError

from service.errors import BadInput
from service.papers.record_models import HeadLine
from service.records.ledger import Line, canonical, first_broken
from service.voice import say

NO_FACT = datetime.fromisoformat("1970-01-01T00:00:00+00:00")


def first_broken_in(lines: Iterable[str]) -> int | None:
    """The number of the first fact that is changed, missing or out of place in a file of the whole record.

    None: the chain is whole, and ends where the first line says. Raises BadInput ``not_a_record`` for another kind of
    file, ``part_of_record`` for a file of one mould or of a span of days: its facts do not follow one another.
    """
    told = iter(lines)
    head = _head(next(told, ""))
    if (head.mould, head.since, head.until) != (None, None, None):
        raise BadInput(
            "part_of_record",
            say("This file holds a part of the record, so its chain cannot be followed."),
            say("Take along the whole record, without a mould or days."),
        )
    return first_broken(_facts(told), head.ledger.number, head.ledger.digest)


def _head(text: str) -> HeadLine:
    try:
        return HeadLine.model_validate_json(text)
    except ValidationError as error:
        raise BadInput(
            "not_a_record",
            say("This is no record file of this version: its first line does not say so."),
            say("Choose a .jsonl file that “coatbell export” made."),
        ) from error


def _facts(lines: Iterable[str]) -> Iterator[Line]:
    """Lines of facts; what cannot be read stands as a fact without a number, which breaks the chain there."""
    for text in lines:
        if not text.strip():
            continue
        said = _read(text)
        if said.get("line") != "reading":
            yield _line(said)


def _read(text: str) -> dict[str, Any]:
    try:
        said = json.loads(text)
    except (ValueError, RecursionError):
        return {}
    return said if isinstance(said, dict) else {}


def _line(said: dict[str, Any]) -> Line:
    try:
        body = said["body"]
        return Line(
            number=said["number"],
            mould_id=said["mould"],
            kind=said["kind"],
            at=datetime.fromisoformat(said["at"]),
            recorded_at=datetime.fromisoformat(said["recorded_at"]),
            hand=said["hand"],
            body=body if isinstance(body, str) else canonical(body),
            replaces=said["replaces"],
            key=said["key"],
            digest=said["digest"],
        )
    except (KeyError, TypeError, ValueError):
        return Line(0, None, "", NO_FACT, NO_FACT, "", "", None, None)
