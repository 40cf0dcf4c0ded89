"""What each mould taught, kept and given back."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest

from service.errors import NotFound
from service.records.store import Records
from service.records.taught_store import Taught
from tests.service.records import making

AT = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def hang(records: Records) -> int:
    return making.hang(records).mould


def taught(mould_id: int, **changes: object) -> Taught:
    usual = Taught(mould_id, 7, "taught 1", AT, {"site": None, "own": [{"transfer": [1.25, 0.1]}]})
    return replace(usual, **changes)  # type: ignore[arg-type]


def test_it_comes_back_as_it_was(records: Records) -> None:
    kept = taught(hang(records))
    records.save_taught(kept)
    assert records.taught(kept.mould_id) == kept


def test_of_a_mould_that_taught_nothing_there_is_none(records: Records) -> None:
    assert records.taught(hang(records)) is None


def test_the_newest_takes_the_place_of_the_one_before(records: Records) -> None:
    number = hang(records)
    records.save_taught(taught(number))
    records.save_taught(taught(number, fact_number=9))
    assert records.taught(number) == taught(number, fact_number=9)


def test_times_come_out_in_utc(records: Records) -> None:
    number = hang(records)
    records.save_taught(taught(number, at=AT.astimezone(timezone(timedelta(hours=5)))))
    found = records.taught(number)
    assert found is not None
    assert found.at.tzinfo is UTC


def test_each_made_in_one_way(records: Records) -> None:
    first, second, third = (hang(records) for _ in range(3))
    for number in (first, third):
        records.save_taught(taught(number))
    records.save_taught(taught(second, method="taught 0"))
    assert [each.mould_id for each in records.each_taught("taught 1")] == [first, third]


def test_dropped_it_is_gone_and_dropping_nothing_is_no_mistake(records: Records) -> None:
    number = hang(records)
    records.save_taught(taught(number))
    records.drop_taught(number)
    records.drop_taught(number)
    assert records.taught(number) is None


def test_of_no_mould_nothing_is_kept(records: Records) -> None:
    with pytest.raises(NotFound):
        records.save_taught(taught(99))


def test_what_is_not_a_number_is_refused(records: Records) -> None:
    with pytest.raises(ValueError, match="JSON"):
        records.save_taught(taught(hang(records), found={"at_s": float("nan")}))
