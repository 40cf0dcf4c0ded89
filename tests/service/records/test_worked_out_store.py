"""What was worked out of a whole life is a cache, one a mould, known by the way it was made."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.errors import NotFound
from service.records.store import Records
from service.records.worked_out_store import WorkedOut
from tests.service.records.making import START, hang, minutes, told

FOUND = {"wettest": 0.41, "coats": [0.2, None]}


def made(mould_id: int, **other: object) -> WorkedOut:
    return replace(WorkedOut(mould_id, 3, "first", START, FOUND), **other)  # type: ignore[arg-type]


def test_it_comes_back_as_it_was(records: Records) -> None:
    mould_id = hang(records).mould
    records.save_worked_out(made(mould_id))
    assert records.worked_out(mould_id) == made(mould_id)


def test_nothing_was_worked_out_yet(records: Records) -> None:
    assert records.worked_out(hang(records).mould) is None
    assert records.all_worked_out("first") == {}


def test_the_newest_takes_the_place_of_the_old(records: Records) -> None:
    mould_id = hang(records).mould
    records.save_worked_out(made(mould_id))
    records.save_worked_out(made(mould_id, fact_number=5, at=minutes(9)))
    assert records.worked_out(mould_id) == made(mould_id, fact_number=5, at=minutes(9))


def test_only_what_was_made_in_the_same_way_is_given(records: Records) -> None:
    old, new = hang(records).mould, hang(records, "Curlew").mould
    records.save_worked_out(made(old))
    records.save_worked_out(made(new, method="second"))
    assert records.all_worked_out("second") == {new: made(new, method="second")}


def test_of_a_mould_that_is_not_there(records: Records) -> None:
    with told(NotFound, "mould_unknown"):
        records.save_worked_out(made(99))


def test_a_number_that_json_cannot_say_is_refused(records: Records) -> None:
    mould_id = hang(records).mould
    with pytest.raises(ValueError, match="JSON"):
        records.save_worked_out(made(mould_id, found={"wettest": float("nan")}))


def test_one_after_the_other_is_the_same_as_all_at_once(records: Records) -> None:
    moulds = [hang(records, f"Dunlin {number}").mould for number in range(120)]
    for mould_id in moulds:
        records.save_worked_out(made(mould_id))
    records.save_worked_out(made(moulds[0], method="second"))
    each = {one.mould_id: one for one in records.each_worked_out("first")}
    assert each == records.all_worked_out("first")
    assert len(each) == 119
