"""A saved profile is one a mould, newest wins, and may be dropped at any time."""

from __future__ import annotations

from service.errors import NotFound
from service.records.store import Records
from tests.service.records.making import hang, minutes, told

BLOB = {"zones": {"breast": [0.35, 0.1 + 0.2, 1e-300]}, "surface_k": [294.15], "none": None}


def test_there_is_none_at_first(records: Records) -> None:
    assert records.profile(hang(records).mould_id) is None
    assert records.profile(99) is None


def test_a_profile_comes_back_exactly(records: Records) -> None:
    fact = hang(records)
    records.save_profile(fact.mould_id, fact.number, minutes(3), BLOB)
    assert records.profile(fact.mould_id) == (fact.number, minutes(3), BLOB)


def test_the_newest_profile_takes_the_place_of_the_old(records: Records) -> None:
    first, second = hang(records), hang(records, "Dunlin")
    records.save_profile(second.mould_id, 2, minutes(1), {"other": 1})
    records.save_profile(first.mould_id, 1, minutes(3), BLOB)
    records.save_profile(first.mould_id, 2, minutes(4), {})
    assert records.profile(first.mould_id) == (2, minutes(4), {})
    assert records.profile(second.mould_id) == (2, minutes(1), {"other": 1})


def test_a_profile_can_be_dropped(records: Records) -> None:
    fact = hang(records)
    records.save_profile(fact.mould_id, fact.number, minutes(3), BLOB)
    records.drop_profile(fact.mould_id)
    records.drop_profile(fact.mould_id)
    assert records.profile(fact.mould_id) is None
    assert records.facts(fact.mould_id) == [fact]


def test_a_profile_of_no_mould_is_told(records: Records) -> None:
    with told(NotFound, "mould_unknown"):
        records.save_profile(99, 1, minutes(3), BLOB)
