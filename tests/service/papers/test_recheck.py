"""The chain followed from a file alone."""

from __future__ import annotations

import json
from datetime import date

import pytest

from service.papers.asked import Asked
from service.papers.recheck import first_broken_in
from tests.service.room.cases import refused
from tests.service.room.small_shop import SmallShop


@pytest.fixture
def lines(filled: SmallShop) -> list[str]:
    return "".join(filled.shop.export.lines(Asked(readings=True))).splitlines(keepends=True)


def facts(lines: list[str]) -> range:
    return range(1, 1 + json.loads(lines[0])["facts"])


def test_a_whole_file_holds_with_readings_and_blank_lines(lines: list[str]) -> None:
    assert first_broken_in(lines) is None
    assert first_broken_in([*lines, "\n"]) is None
    assert first_broken_in(line.rstrip("\n") for line in lines) is None


def test_every_change_of_every_line_shows(lines: list[str]) -> None:
    for at in facts(lines):
        said = json.loads(lines[at])
        for key in set(said) - {"line"}:
            changed = dict(said)
            changed[key] = "changed" if isinstance(said[key], str) else {"x": 1} if key == "body" else 77
            altered = [*lines[:at], json.dumps(changed), *lines[at + 1 :]]
            assert first_broken_in(altered) == at, key


def test_a_missing_swapped_or_doubled_line_shows(lines: list[str]) -> None:
    last = facts(lines)[-1]
    for at in facts(lines):
        assert first_broken_in([*lines[:at], *lines[at + 1 :]]) == at
        assert first_broken_in([*lines[:at], lines[at], *lines[at:]]) == at + 1
        if at != last:
            assert first_broken_in([*lines[:at], lines[at + 1], lines[at], *lines[at + 2 :]]) == at


@pytest.mark.parametrize(
    "junk", ["{", "[]", "null", "7", '{"line":"fact"}', '{"line":"fact","number":3,"body":{},"at":4}']
)
def test_a_line_that_cannot_be_read_breaks_it_there(lines: list[str], junk: str) -> None:
    assert first_broken_in([*lines[:3], junk, *lines[4:]]) == 3


def test_another_head_shows(lines: list[str]) -> None:
    head = json.loads(lines[0])
    head["ledger"]["digest"] = "0" * 64
    assert first_broken_in([json.dumps(head), *lines[1:]]) == facts(lines)[-1]
    head["ledger"]["number"] += 1
    assert first_broken_in([json.dumps(head), *lines[1:]]) == facts(lines)[-1] + 1


def test_an_empty_ledger_is_whole(small: SmallShop) -> None:
    assert first_broken_in("".join(small.shop.export.lines(Asked())).splitlines()) is None


@pytest.mark.parametrize(
    "asked", [Asked(mould_id=1), Asked(since=date(2026, 3, 1)), Asked(until=date(2027, 1, 1))]
)
def test_a_part_cannot_be_followed(filled: SmallShop, asked: Asked) -> None:
    with refused("part_of_record"):
        first_broken_in("".join(filled.shop.export.lines(asked)).splitlines())


@pytest.mark.parametrize("first", ["", "{}", "no json", '{"line":"head","format":"other"}'])
def test_another_file_is_refused(first: str) -> None:
    with refused("not_a_record"):
        first_broken_in([first])
