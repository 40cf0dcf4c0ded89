"""What a shop sets up in the browser."""

from __future__ import annotations

import pytest

from service.clock import FakeClock
from service.errors import BadInput
from service.records.set_up import Part
from service.records.store import Records
from tests.service.records.making import START


def bodies(records: Records, part: Part) -> dict[str, object]:
    return {said.name: said.body for said in records.set_up(part)}


def test_nothing_is_set_up_at_first(records: Records) -> None:
    assert [records.set_up(part) for part in Part] == [[] for _ in Part]


def test_what_was_said_comes_back_whole(records: Records) -> None:
    body = {"words": "“ñ” {}", "numbers": [1.5, None, True], "inner": {"a": 1}}
    kept = records.keep_set_up(Part.TANKS, "grey", body, "bench 1")
    assert kept.body == body
    assert records.set_up(Part.TANKS) == [kept]
    assert (kept.at, kept.hand, kept.name) == (START, "bench 1", "grey")


def test_the_newest_word_on_a_name_holds(records: Records) -> None:
    records.keep_set_up(Part.HOOKS, "by the fan", {"room": 1})
    records.keep_set_up(Part.HOOKS, "at the door", {"room": 1})
    records.keep_set_up(Part.HOOKS, "by the fan", {"room": 2})
    assert bodies(records, Part.HOOKS) == {"at the door": {"room": 1}, "by the fan": {"room": 2}}


def test_what_is_taken_away_is_gone_until_it_is_said_again(records: Records) -> None:
    records.keep_set_up(Part.HOOKS, "by the fan", {"room": 1})
    records.keep_set_up(Part.HOOKS, "by the fan", None)
    assert records.set_up(Part.HOOKS) == []
    records.keep_set_up(Part.HOOKS, "by the fan", {})
    assert bodies(records, Part.HOOKS) == {"by the fan": {}}


def test_older_words_stay_to_be_looked_at(records: Records, clock: FakeClock) -> None:
    records.keep_set_up(Part.TANKS, "grey", {"n": 1}, "bench 1")
    clock.advance(60)
    records.keep_set_up(Part.TANKS, "grey", None, "bench 2")
    records.keep_set_up(Part.TANKS, "white", {})
    past = records.set_up_past(Part.TANKS, "grey")
    assert [(said.body, said.hand) for said in past] == [(None, "bench 2"), ({"n": 1}, "bench 1")]
    assert past[0].at > past[1].at
    assert past[0].number > past[1].number


def test_parts_do_not_mix(records: Records) -> None:
    records.keep_set_up(Part.PEOPLE, "bench 1", {"a": 1})
    records.keep_set_up(Part.VOICES, "bench 1", {"b": 1})
    assert bodies(records, Part.PEOPLE) == {"bench 1": {"a": 1}}
    assert records.set_up(Part.PLACES) == []


@pytest.mark.parametrize("name", ["", "  ", "x" * 201, "two\nlines"])
def test_a_name_that_cannot_be_is_refused(records: Records, name: str) -> None:
    with pytest.raises(BadInput):
        records.keep_set_up(Part.HOOKS, name, {})
    assert records.set_up(Part.HOOKS) == []
