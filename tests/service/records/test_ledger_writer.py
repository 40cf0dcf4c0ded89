"""Facts about no mould stand in the same chain, and a mould's whole life goes in together or not at all."""

from __future__ import annotations

import pytest
from sqlalchemy import text

from service.errors import BadInput, Conflict, NotFound
from service.records.database import Database
from service.records.facts import (
    AnyBody,
    EndedBody,
    NoteBody,
    TankCheckBody,
    ToldBody,
    WithdrawnBody,
    live,
)
from service.records.ledger_writer import checked
from service.records.store import Records
from tests.service.records.making import START, dip, hang, minutes, mould, told

CHECK = TankCheckBody(tank="grey", flow_s=11.5)
TOLD = ToldBody(
    key="room-too-damp/1", alert="room too damp", title="Shell room", recipient="phone", attempts=1
)


@pytest.mark.parametrize("body", [CHECK, TOLD], ids=lambda b: b.kind)
def test_what_is_about_no_mould_stands_in_the_chain(records: Records, body: AnyBody) -> None:
    hang(records)
    fact = records.append(None, body, minutes(1), "bench 1", key="press-1")
    assert (fact.number, fact.mould_id, fact.body) == (2, None, body)
    assert records.append(None, body, minutes(9), "bench 1", key="press-1") == fact
    assert records.verify_chain() is None
    assert records.mould_ids() == [1]


@pytest.mark.parametrize(
    "body", [NoteBody(text="drip"), dip(), EndedBody(outcome="dewaxed")], ids=lambda b: b.kind
)
def test_what_is_about_a_mould_wants_one(records: Records, body: AnyBody) -> None:
    with told(BadInput, "mould_missing"):
        records.append(None, body, START, "bench 1")
    assert records.last_fact_number() == 0


def test_a_fact_of_no_mould_asked_for_its_mould_says_so(records: Records) -> None:
    fact = records.append(None, CHECK, START, "bench 1")
    with pytest.raises(ValueError, match="entry 1 is about no mould"):
        _ = fact.mould


def test_the_key_of_a_tank_check_is_not_a_moulds(records: Records) -> None:
    mould_id = hang(records, key="press-1").mould
    with told(Conflict, "key_reused"):
        records.append(None, CHECK, START, "bench 1", key="press-1")
    with told(Conflict, "key_reused"):
        records.append(mould_id, mould("Curlew"), START, "bench 1", key="press-1")


def test_a_tank_check_can_be_corrected_and_taken_back(records: Records) -> None:
    first = records.append(None, CHECK, START, "bench 1")
    better = records.append(
        None, TankCheckBody(tank="grey", flow_s=12.5), START, "bench 2", replaces=first.number
    )
    assert live(records.tank_facts()) == [better]
    gone = records.append(None, WithdrawnBody(), minutes(3), "bench 2", replaces=better.number)
    assert live(records.tank_facts()) == []
    assert records.tank_facts() == [first, better, gone]


def test_a_tank_check_is_not_corrected_on_a_moulds_page(records: Records) -> None:
    mould_id = hang(records).mould
    check = records.append(None, CHECK, START, "bench 1")
    with told(Conflict, "other_mould"):
        records.append(mould_id, CHECK, START, "bench 1", replaces=check.number)


def test_only_tank_facts_are_tank_facts(records: Records) -> None:
    mould_id = hang(records).mould
    note = records.append(mould_id, NoteBody(text="drip"), minutes(1), "")
    records.append(mould_id, WithdrawnBody(), minutes(2), "", replaces=note.number)
    records.append(None, TOLD, minutes(2), "")
    assert records.tank_facts() == []


def test_a_second_head_put_in_from_outside_is_not_asked(records: Records, database: Database) -> None:
    hang(records)
    with database.write() as session:
        session.execute(text("INSERT INTO ledger_head (id, number, digest) VALUES (2, 77, 'ff')"))
    fact = records.append(None, CHECK, START, "bench 1")
    assert (fact.number, records.last_fact_number(), records.ledger_end()[0]) == (2, 2, 2)
    assert records.verify_chain() is None


# A whole life


def life(*bodies: AnyBody) -> list[AnyBody]:
    return [mould(), *bodies]


def test_a_life_goes_in_together(records: Records) -> None:
    hang(records, "Curlew")
    bodies = life(dip(1), dip(2, "grey"), EndedBody(outcome="dewaxed"))
    facts = records.append_life(
        [
            checked(None, bodies[0], START, "notebook"),
            *(checked(9, b, minutes(5), "notebook") for b in bodies[1:]),
        ]
    )
    assert [f.body for f in facts] == bodies
    assert {f.mould_id for f in facts} == {2}
    assert records.facts(2) == facts
    assert records.verify_chain() is None


def test_of_a_life_that_does_not_fit_nothing_stays(records: Records) -> None:
    wrong = checked(9, NoteBody(text="drip"), minutes(2), "", replaces=77)
    with told(NotFound, "fact_unknown"):
        records.append_life([checked(None, mould(), START, ""), checked(9, dip(), minutes(1), ""), wrong])
    assert (records.last_fact_number(), records.mould_ids()) == (0, [])


def test_a_life_told_twice_is_one(records: Records) -> None:
    facts = [
        checked(None, mould(), START, "notebook", key="book-1"),
        checked(9, dip(), minutes(1), "notebook", key="book-2"),
    ]
    assert records.append_life(facts) == records.append_life(facts)
    assert (records.last_fact_number(), records.mould_ids()) == (2, [1])


def test_a_life_without_a_mould_is_told(records: Records) -> None:
    with told(BadInput, "mould_missing"):
        records.append_life([checked(None, dip(), START, "")])
