"""The hash chain shows any single change, wherever it is made."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.records.ledger import START as BEFORE
from service.records.ledger import Line, canonical, chained, digest, first_broken
from tests.service.records.making import minutes

MICROSECOND = timedelta(microseconds=1)
CHANGES: dict[str, Any] = {
    "number": lambda n: n + 100,
    "mould_id": lambda i: i + 1,
    "kind": lambda _: "withdrawn",
    "at": lambda at: at + MICROSECOND,
    "recorded_at": lambda at: at - MICROSECOND,
    "hand": lambda hand: hand + " ",
    "body": lambda body: body.replace("grey", "gray"),
    "replaces": lambda r: None if r else 1,
    "key": lambda key: None if key else "k",
    "digest": lambda d: ("1" if d[0] == "0" else "0") + d[1:],
}


def chain(length: int) -> list[Line]:
    lines: list[Line] = []
    for number in range(1, length + 1):
        line = Line(
            number=number,
            mould_id=number % 3 + 1,
            kind="dip",
            at=minutes(number),
            recorded_at=minutes(number + 0.5),
            hand="bench 1",
            body=f'{{"coat":{number},"kind":"dip","tank":"grey"}}',
            replaces=number - 1 if number % 4 == 0 else None,
            key=f"press-{number}" if number % 2 else None,
        )
        lines.append(chained(lines[-1].digest if lines else BEFORE, line))
    return lines


def broken(lines: list[Line], whole: list[Line]) -> int | None:
    """As checked against the head that was kept when the chain was whole."""
    last = whole[-1] if whole else None
    return first_broken(lines, last.number if last else 0, last.digest if last else BEFORE)


def test_a_digest_is_sha256_of_the_line_before_and_canonical_json() -> None:
    line = chain(1)[0]
    said = {
        "at": "2026-03-02T14:21:00.000000+00:00",
        "body": '{"coat":1,"kind":"dip","tank":"grey"}',
        "hand": "bench 1",
        "key": "press-1",
        "kind": "dip",
        "mould": 2,
        "number": 1,
        "recorded_at": "2026-03-02T14:21:30.000000+00:00",
        "replaces": None,
    }
    text = "\n" + json.dumps(said, separators=(",", ":"))
    assert line.digest == hashlib.sha256(text.encode("ascii")).hexdigest()


@pytest.mark.parametrize(
    ("data", "text"),
    [
        ({"b": 1, "a": [1.5, None, True]}, '{"a":[1.5,null,true],"b":1}'),
        ({"words": "naïve\n“so”"}, '{"words":"na\\u00efve\\n\\u201cso\\u201d"}'),
        ({"x": 0.1 + 0.2}, '{"x":0.30000000000000004}'),
    ],
)
def test_canonical_json_has_one_form(data: object, text: str) -> None:
    assert canonical(data) == text


def test_canonical_json_takes_no_number_that_json_has_not() -> None:
    with pytest.raises(ValueError, match="JSON"):
        canonical({"x": float("nan")})


def test_the_same_moment_in_another_zone_has_the_same_digest() -> None:
    line = chain(1)[0]
    moved = replace(line, at=line.at.astimezone(ZoneInfo("Asia/Tokyo")))
    assert digest(BEFORE, moved) == line.digest


def test_a_whole_chain_holds() -> None:
    assert broken(chain(12), chain(12)) is None


def test_an_empty_chain_holds() -> None:
    assert broken([], []) is None


@given(length=st.integers(1, 12), which=st.data(), field=st.sampled_from(sorted(CHANGES)))
def test_any_single_change_is_found_where_it_was_made(length: int, which: st.DataObject, field: str) -> None:
    whole = chain(length)
    at = which.draw(st.integers(0, length - 1))
    value = getattr(whole[at], field)
    changed = [*whole[:at], replace(whole[at], **{field: CHANGES[field](value)}), *whole[at + 1 :]]
    assert changed != whole
    assert broken(changed, whole) == at + 1


@given(length=st.integers(1, 12), which=st.data())
def test_a_missing_line_is_found(length: int, which: st.DataObject) -> None:
    whole = chain(length)
    at = which.draw(st.integers(0, length - 1))
    assert broken([*whole[:at], *whole[at + 1 :]], whole) == at + 1


@given(length=st.integers(2, 12), which=st.data())
def test_two_lines_swapped_are_found(length: int, which: st.DataObject) -> None:
    whole = chain(length)
    at = which.draw(st.integers(0, length - 2))
    swapped = [*whole[:at], whole[at + 1], whole[at], *whole[at + 2 :]]
    assert broken(swapped, whole) == at + 1


@given(cut=st.integers(0, 11))
def test_a_tail_cut_off_is_found(cut: int) -> None:
    whole = chain(12)
    assert broken(whole[:cut], whole) == cut + 1


def test_a_change_with_its_own_digest_made_to_fit_is_found_at_the_next_line() -> None:
    whole = chain(5)
    forged = chained(whole[1].digest, replace(whole[2], hand="bench 2"))
    assert broken([*whole[:2], forged, *whole[3:]], whole) == 4


def test_a_forged_last_line_does_not_fit_the_head() -> None:
    whole = chain(5)
    forged = chained(whole[3].digest, replace(whole[4], hand="bench 2"))
    assert broken([*whole[:4], forged], whole) == 5


def test_a_line_the_head_does_not_know_is_found() -> None:
    whole = chain(5)
    assert broken(whole, whole[:4]) == 5


def test_lines_may_come_one_by_one() -> None:
    assert first_broken(iter(chain(3)), 3, chain(3)[-1].digest) is None


def test_the_first_line_stands_on_nothing() -> None:
    line = chain(1)[0]
    assert digest(BEFORE, line) != digest(line.digest, line)
