"""What is asked of all moulds that left at once."""

from __future__ import annotations

import pytest

from service.records.facts import (
    AnyBody,
    CheckBody,
    EndedBody,
    FaceBody,
    Fact,
    Failing,
    FaultKind,
    NoteBody,
    ResultBody,
    SensorOnBody,
    TankCheckBody,
    WeightBody,
    WithdrawnBody,
)
from service.records.store import Records
from tests.service.records.making import dip, hang, minutes

SOUND = ResultBody(verdict="sound")
FAILED = ResultBody(verdict="failed", failings=(Failing(fault=FaultKind.FIN),))


def tell(records: Records, mould_id: int, body: AnyBody, at: float = 9, replaces: Fact | None = None) -> Fact:
    number = replaces.number if replaces else None
    return records.append(mould_id, body, minutes(at), "bench 1", replaces=number)


def gone(records: Records, name: str) -> tuple[int, Fact]:
    mould_id = hang(records, name).mould
    tell(records, mould_id, dip())
    return mould_id, tell(records, mould_id, EndedBody(outcome="dewaxed"), 60)


class TestEnded:
    def test_each_with_the_newest_fact_of_its_making(self, records: Records) -> None:
        first, end = gone(records, "Heron")
        hang(records, "Curlew")
        second, last = gone(records, "Teal")
        assert records.ended_moulds() == {first: end.number, second: last.number}

    def test_what_is_said_later_changes_nothing_of_its_making(self, records: Records) -> None:
        mould_id, end = gone(records, "Heron")
        tell(records, mould_id, NoteBody(text="fine"), 70)
        tell(records, mould_id, SOUND, 80)
        assert records.ended_moulds() == {mould_id: end.number}

    def test_what_is_put_right_does(self, records: Records) -> None:
        mould_id, _ = gone(records, "Heron")
        check = tell(records, mould_id, CheckBody(verdict="dry"), 30)
        assert records.ended_moulds() == {mould_id: check.number}
        undone = tell(records, mould_id, WithdrawnBody(), 31, check)
        assert records.ended_moulds() == {mould_id: undone.number}

    @pytest.mark.parametrize(
        "body", [WeightBody(mass_kg=4.2), FaceBody(temperature_k=291.0), SensorOnBody(sensor="hoist")]
    )
    def test_what_was_measured_of_it_belongs_to_its_making(self, records: Records, body: AnyBody) -> None:
        mould_id, _ = gone(records, "Heron")
        told = tell(records, mould_id, body, 30)
        assert records.ended_moulds() == {mould_id: told.number}

    def test_an_end_taken_back_is_none(self, records: Records) -> None:
        mould_id, end = gone(records, "Heron")
        tell(records, mould_id, WithdrawnBody(), 61, end)
        assert records.ended_moulds() == {}

    def test_a_mould_taken_back_is_none(self, records: Records) -> None:
        hung = hang(records)
        tell(records, hung.mould, EndedBody(outcome="scrapped"), 60)
        tell(records, hung.mould, WithdrawnBody(), 61, hung)
        assert records.ended_moulds() == {}


def test_what_was_told_since(records: Records) -> None:
    first, end = gone(records, "Heron")
    assert records.told_since(end.number) == set()
    tell(records, first, SOUND, 90)
    records.append(None, TankCheckBody(tank="grey", flow_s=14), minutes(90), "b")
    assert records.told_since(end.number) == {("result", first), ("tank check", None)}
    assert ("dip", first) in records.told_since(0)


class TestResults:
    def test_the_newest_that_holds(self, records: Records) -> None:
        mould_id, _ = gone(records, "Heron")
        first = tell(records, mould_id, SOUND, 90)
        assert records.results()[mould_id].body == SOUND
        second = tell(records, mould_id, FAILED, 95, first)
        assert records.results()[mould_id].number == second.number
        tell(records, mould_id, WithdrawnBody(), 99, second)
        assert records.results() == {}

    def test_of_two_the_later_by_what_they_are_about(self, records: Records) -> None:
        mould_id, _ = gone(records, "Heron")
        tell(records, mould_id, FAILED, 95)
        tell(records, mould_id, SOUND, 90)
        assert records.results()[mould_id].body == FAILED

    def test_nobody_said_anything(self, records: Records) -> None:
        gone(records, "Heron")
        assert records.results() == {}
