"""Facts go into the ledger once, stay as they are, and are corrected only by other facts."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from service.clock import FakeClock
from service.errors import BadInput, Conflict, NotFound, Unavailable
from service.records.database import Database
from service.records.facts import (
    AnyBody,
    CheckBody,
    EndedBody,
    FaceBody,
    MouldBody,
    NoteBody,
    SensorOnBody,
    WeightBody,
    WiresBody,
    WithdrawnBody,
    live,
)
from service.records.recipes import AirLimits
from service.records.store import Records
from tests.service.records.making import START, dip, hang, minutes, mould, recipe, told

BODIES: list[AnyBody] = [
    dip(),
    WiresBody(after_coat=4, text="wound both ways"),
    CheckBody(verdict="still damp", zone="breast"),
    NoteBody(text="“Drip” under the left wing\nwiped off — naïvely 🐦"),
    WeightBody(mass_kg=4.2),
    FaceBody(temperature_k=291.4, zone="breast"),
    SensorOnBody(sensor="probe 2", zone="breast"),
    SensorOnBody(sensor="hoist", off=True),
    EndedBody(outcome="dewaxed"),
]


def change(database: Database, statement: str, **values: object) -> None:
    """Change the tables behind coatbell's back."""
    with database.write() as session:
        session.execute(text(statement), values)


# Appending


def test_hanging_up_a_mould_makes_the_first_fact(records: Records) -> None:
    fact = hang(records)
    assert (fact.number, fact.hand, fact.replaces, fact.key) == (1, "bench 1", None, None)
    assert fact.body == mould()
    assert records.mould_ids() == [fact.mould_id]


@pytest.mark.parametrize("body", BODIES, ids=lambda b: b.kind)
def test_every_kind_of_fact_comes_back_as_it_was(records: Records, body: AnyBody) -> None:
    mould_id = hang(records).mould_id
    fact = records.append(mould_id, body, minutes(5), "bench 2", key="press-1")
    assert fact.body == body
    assert records.fact(fact.number) == fact
    assert records.facts(mould_id)[-1] == fact


def test_a_mould_with_everything_said_comes_back_as_it_was(records: Records) -> None:
    body = mould(
        piece="wader on a post",
        customer="the harbour office",
        height_m=0.45,
        width_m=0.3,
        wax_mass_kg=1.1,
        hook="7",
        wanted_by=datetime(2026, 3, 20, 17, tzinfo=ZoneInfo("Europe/London")),
    )
    fact = records.append(None, body, START, "bench 1")
    assert fact.body == records.facts(fact.mould_id)[0].body == body


def test_numbers_count_up_over_the_whole_shop(records: Records) -> None:
    first, second = hang(records), hang(records, "Dunlin")
    third = records.append(first.mould_id, dip(), minutes(1), "bench 1")
    assert [first.number, second.number, third.number] == [1, 2, 3]
    assert records.last_fact_number() == 3
    assert first.mould_id != second.mould_id


def test_the_ledger_begins_at_nought(records: Records) -> None:
    assert records.last_fact_number() == 0
    assert records.mould_ids() == []


def test_the_time_of_recording_is_the_clocks(records: Records, clock: FakeClock) -> None:
    mould_id = hang(records).mould_id
    clock.advance(600)
    fact = records.append(mould_id, dip(), minutes(3), "bench 1")
    assert (fact.at, fact.recorded_at) == (minutes(3), minutes(10))


def test_local_times_come_back_in_utc(records: Records) -> None:
    at = datetime(2026, 7, 1, 14, 20, tzinfo=ZoneInfo("Europe/London"))
    fact = records.append(None, mould(), at, "bench 1")
    assert records.fact(fact.number).at.isoformat() == "2026-07-01T13:20:00+00:00"


def test_nobody_need_say_who_they_are(records: Records) -> None:
    assert records.append(None, mould(), START, "  ").hand == ""


def test_facts_come_in_the_order_they_were_recorded(records: Records) -> None:
    mould_id = hang(records).mould_id
    records.append(mould_id, dip(), minutes(60), "bench 1")
    records.append(mould_id, NoteBody(text="before that"), minutes(30), "bench 1")
    assert [fact.number for fact in records.facts(mould_id)] == [1, 2, 3]
    assert [fact.number for fact in live(records.facts(mould_id))] == [1, 3, 2]


def test_facts_of_another_mould_are_not_among_them(records: Records) -> None:
    first, second = hang(records), hang(records, "Dunlin")
    records.append(second.mould_id, dip(), minutes(1), "bench 1")
    assert [fact.number for fact in records.facts(first.mould_id)] == [1]


# What cannot be appended


def test_an_unknown_mould_is_told(records: Records) -> None:
    with told(NotFound, "mould_unknown", "mould number 7"):
        records.append(7, dip(), START, "bench 1")
    with told(NotFound, "mould_unknown"):
        records.facts(7)


def test_an_unknown_fact_is_told(records: Records) -> None:
    with told(NotFound, "fact_unknown", "entry 12"):
        records.fact(12)


def test_a_dip_on_no_mould_is_told(records: Records) -> None:
    with told(BadInput, "mould_missing"):
        records.append(None, dip(), START, "bench 1")


def test_a_mould_cannot_be_hung_up_twice(records: Records) -> None:
    mould_id = hang(records).mould_id
    with told(Conflict, "mould_already_hung"):
        records.append(mould_id, mould("Dunlin"), START, "bench 1")


def test_taking_back_nothing_is_told(records: Records) -> None:
    mould_id = hang(records).mould_id
    with told(BadInput, "nothing_to_withdraw"):
        records.append(mould_id, WithdrawnBody(), START, "bench 1")


def test_times_without_a_zone_are_told(records: Records) -> None:
    with told(BadInput, "time_without_zone"):
        records.append(None, mould(), datetime(2026, 3, 2, 14, 20), "bench 1")
    with told(BadInput, "time_without_zone"):
        records.append(None, mould(wanted_by=datetime(2026, 3, 20)), START, "bench 1")


@pytest.mark.parametrize("hand", ["x" * 61, "bell\x07", "nul\x00"])
def test_a_hand_that_cannot_be_shown_is_told(records: Records, hand: str) -> None:
    with pytest.raises(BadInput):
        records.append(None, mould(), START, hand)


def test_an_endless_number_is_told(records: Records) -> None:
    endless = recipe().model_copy(update={"prime_air": AirLimits(largest_swing_k=float("inf"))})
    with told(BadInput, "not_finite"):
        records.append(None, mould(recipe=endless), START, "bench 1")


def test_what_is_refused_leaves_no_trace(records: Records) -> None:
    hang(records)
    with pytest.raises(NotFound):
        records.append(7, dip(), START, "bench 1")
    with pytest.raises(Conflict):
        records.append(1, mould(), START, "bench 1")
    assert records.last_fact_number() == 1
    assert records.verify_chain() is None


# Corrections


def test_a_correction_takes_the_place_of_the_old_fact(records: Records) -> None:
    mould_id = hang(records).mould_id
    old = records.append(mould_id, dip(tank="white"), minutes(1), "bench 1")
    new = records.append(mould_id, dip(tank="grey"), minutes(2), "bench 1", replaces=old.number)
    facts = records.facts(mould_id)
    assert old in facts
    assert [fact.number for fact in live(facts)] == [1, new.number]
    assert new.replaces == old.number


def test_a_correction_can_be_corrected(records: Records) -> None:
    mould_id = hang(records).mould_id
    number = records.append(mould_id, dip(), minutes(1), "bench 1").number
    for tank in ("grey", "white", "grey"):
        number = records.append(mould_id, dip(tank=tank), minutes(1), "bench 1", replaces=number).number
    assert [fact.number for fact in live(records.facts(mould_id))] == [1, number]


def test_a_fact_taken_back_is_gone_and_stays_in_the_ledger(records: Records) -> None:
    mould_id = hang(records).mould_id
    old = records.append(mould_id, dip(), minutes(1), "bench 1")
    records.append(mould_id, WithdrawnBody(text="wrong mould"), minutes(2), "bench 1", replaces=old.number)
    assert [fact.number for fact in live(records.facts(mould_id))] == [1]
    assert len(records.facts(mould_id)) == 3


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    steps=st.lists(st.tuples(st.sampled_from(["dip", "correct", "withdraw"]), st.integers(0, 9)), max_size=8)
)
def test_replaced_facts_vanish_and_the_others_stay(records: Records, steps: list[tuple[str, int]]) -> None:
    mould_id = hang(records).mould_id
    held: list[int] = []
    for step, pick in steps:
        old = held[pick % len(held)] if held and step != "dip" else None
        if step != "dip" and old is None:
            continue
        body = WithdrawnBody() if step == "withdraw" else dip(coat=pick + 1)
        number = records.append(mould_id, body, minutes(pick), "bench 1", replaces=old).number
        held = [n for n in held if n != old] + ([number] if step != "withdraw" else [])
    found = [f.number for f in live(records.facts(mould_id)) if not isinstance(f.body, MouldBody)]
    assert sorted(found) == sorted(held)
    assert records.verify_chain() is None


def test_only_a_live_fact_can_be_replaced(records: Records) -> None:
    mould_id = hang(records).mould_id
    old = records.append(mould_id, dip(), minutes(1), "bench 1").number
    records.append(mould_id, dip(tank="grey"), minutes(1), "bench 1", replaces=old)
    for body in (dip(), WithdrawnBody()):
        with told(Conflict, "already_replaced", f"Entry {old}"):
            records.append(mould_id, body, minutes(2), "bench 1", replaces=old)


def test_a_withdrawal_cannot_be_withdrawn(records: Records) -> None:
    mould_id = hang(records).mould_id
    old = records.append(mould_id, dip(), minutes(1), "bench 1").number
    gone = records.append(mould_id, WithdrawnBody(), minutes(1), "bench 1", replaces=old).number
    with told(Conflict, "already_replaced"):
        records.append(mould_id, WithdrawnBody(), minutes(2), "bench 1", replaces=gone)


def test_a_fact_of_another_mould_cannot_be_replaced(records: Records) -> None:
    first, second = hang(records), hang(records, "Dunlin")
    old = records.append(first.mould_id, dip(), minutes(1), "bench 1").number
    with told(Conflict, "other_mould"):
        records.append(second.mould_id, dip(), minutes(1), "bench 1", replaces=old)


def test_a_fact_is_replaced_only_by_its_own_kind(records: Records) -> None:
    mould_id = hang(records).mould_id
    old = records.append(mould_id, dip(), minutes(1), "bench 1").number
    with told(Conflict, "other_kind", "dip", "note"):
        records.append(mould_id, NoteBody(text="no dip"), minutes(1), "bench 1", replaces=old)


def test_replacing_what_is_not_there_is_told(records: Records) -> None:
    mould_id = hang(records).mould_id
    with told(NotFound, "fact_unknown"):
        records.append(mould_id, dip(), minutes(1), "bench 1", replaces=99)


def test_the_newest_body_of_a_mould_holds(records: Records) -> None:
    first = hang(records)
    records.append(first.mould_id, mould("Dunlin"), START, "bench 1", replaces=first.number)
    (held,) = live(records.facts(first.mould_id))
    assert isinstance(held.body, MouldBody)
    assert held.body.name == "Dunlin"
    assert records.mould_ids() == [first.mould_id]


# Which moulds there are


def test_moulds_that_left_are_told_apart(records: Records) -> None:
    first, second = hang(records), hang(records, "Dunlin")
    end = records.append(first.mould_id, EndedBody(outcome="dewaxed"), minutes(9), "bench 1")
    assert records.mould_ids(ended=True) == [first.mould_id]
    assert records.mould_ids(ended=False) == [second.mould_id]
    assert records.mould_ids() == [first.mould_id, second.mould_id]
    records.append(first.mould_id, WithdrawnBody(), minutes(10), "bench 1", replaces=end.number)
    assert records.mould_ids(ended=True) == []
    assert records.mould_ids(ended=False) == [first.mould_id, second.mould_id]


def test_a_corrected_end_counts_once(records: Records) -> None:
    first = hang(records)
    end = records.append(first.mould_id, EndedBody(outcome="failed"), minutes(9), "bench 1")
    records.append(first.mould_id, EndedBody(outcome="dewaxed"), minutes(9), "b", replaces=end.number)
    assert records.mould_ids(ended=True) == [first.mould_id]


def test_a_mould_taken_back_is_no_longer_listed(records: Records) -> None:
    first = hang(records)
    records.append(first.mould_id, WithdrawnBody(), minutes(1), "bench 1", replaces=first.number)
    assert records.mould_ids() == []
    assert len(records.facts(first.mould_id)) == 2


# The same press twice


def test_the_same_key_gives_the_same_fact(records: Records) -> None:
    mould_id = hang(records, key="hang-1").mould_id
    first = records.append(mould_id, dip(), minutes(1), "bench 1", key="press-1")
    again = records.append(mould_id, dip(), minutes(1), "bench 1", key="press-1")
    assert again == first
    assert records.last_fact_number() == 2
    assert records.fact_with_key("press-1") == first
    assert records.fact_with_key("press-2") is None


def test_the_same_key_hangs_up_one_mould(records: Records) -> None:
    assert hang(records, key="hang-1") == hang(records, key="hang-1")
    assert len(records.mould_ids()) == 1


def test_a_repeat_may_say_now_once_more(records: Records, clock: FakeClock) -> None:
    mould_id = hang(records).mould_id
    first = records.append(mould_id, dip(), clock.now(), "bench 1", key="press-1")
    clock.advance(2)
    assert records.append(mould_id, dip(), clock.now(), "bench 1", key="press-1") == first


@pytest.mark.parametrize(
    "other",
    [
        {"body": dip(tank="grey")},
        {"hand": "bench 2"},
        {"mould_id": 2},
        {"body": WithdrawnBody(), "replaces": 2},
    ],
    ids=str,
)
def test_the_same_key_for_something_else_is_told(records: Records, other: dict[str, Any]) -> None:
    hang(records)
    hang(records, "Dunlin")
    said: dict[str, Any] = {
        "mould_id": 1,
        "body": dip(),
        "at": minutes(1),
        "hand": "bench 1",
        "key": "press-1",
    }
    records.append(**said)
    with told(Conflict, "key_reused", "press-1"):
        records.append(**{**said, **other})
    assert records.last_fact_number() == 3


def test_an_empty_key_is_no_key(records: Records) -> None:
    mould_id = hang(records).mould_id
    numbers = {records.append(mould_id, dip(), minutes(1), "bench 1", key="").number for _ in range(2)}
    assert numbers == {2, 3}


def test_eight_hands_with_one_key_make_one_fact(records: Records) -> None:
    mould_id = hang(records).mould_id
    with ThreadPoolExecutor(8) as hands:
        made = hands.map(lambda _: records.append(mould_id, dip(), minutes(1), "b", key="press-1"), range(32))
        assert {fact.number for fact in made} == {2}
    assert records.last_fact_number() == 2


def test_eight_hands_with_their_own_keys_lose_nothing(records: Records) -> None:
    mould_id = hang(records).mould_id
    with ThreadPoolExecutor(8) as hands:
        made = hands.map(
            lambda n: records.append(mould_id, dip(), minutes(n), "b", key=f"press-{n}"), range(40)
        )
        assert sorted(fact.number for fact in made) == list(range(2, 42))
    assert records.verify_chain() is None


def test_two_programs_on_one_database_keep_one_chain(url: str, records: Records, clock: FakeClock) -> None:
    mould_id = hang(records).mould_id
    with Database(url) as other_database, ThreadPoolExecutor(6) as hands:
        both = [records, Records(other_database, clock)]
        made = list(hands.map(lambda n: both[n % 2].append(mould_id, dip(), minutes(n), "b"), range(30)))
        assert sorted(fact.number for fact in made) == list(range(2, 32))
        assert both[1].verify_chain() is None


def test_the_chain_is_seen_whole_while_it_grows(url: str, records: Records, clock: FakeClock) -> None:
    mould_id = hang(records).mould_id
    with Database(url) as other_database, ThreadPoolExecutor(1) as hands:
        other = Records(other_database, clock)
        growing = hands.submit(lambda: [other.append(mould_id, dip(), minutes(n), "b") for n in range(40)])
        looks = []
        while not growing.done():
            looks.append(records.verify_chain())
        growing.result()
    assert set(looks) == {None}


# Changes from outside


def ledger(records: Records) -> None:
    first, second = hang(records, key="hang-1"), hang(records, "Dunlin", key="hang-2")
    old = records.append(first.mould_id, dip(), minutes(1), "bench 1", key="press-1")
    records.append(second.mould_id, NoteBody(text="drip under the beak"), minutes(2), "bench 2")
    records.append(first.mould_id, dip(tank="grey"), minutes(3), "bench 1", replaces=old.number)


EDITS = {
    "mould_id": "mould_id = 3 - mould_id",
    "kind": "kind = 'check'",
    "hand": "hand = hand || '.'",
    "key": "key = 'another'",
    "digest": "digest = replace(digest, substr(digest, 5, 1), 'x')",
    "body": "body = replace(body, '\"', '\"\"')",
    "replaces": "replaces = 1",
}


@pytest.mark.parametrize("number", [1, 3, 5])
@pytest.mark.parametrize("edit", EDITS.values(), ids=EDITS)
def test_any_edit_in_the_table_is_found(records: Records, database: Database, edit: str, number: int) -> None:
    ledger(records)
    change(database, f"UPDATE facts SET {edit} WHERE number = :number", number=number)
    assert records.verify_chain() == number


@pytest.mark.parametrize("column", ["at", "recorded_at"])
def test_a_moved_time_is_found(records: Records, database: Database, column: str) -> None:
    ledger(records)
    moved = (START + timedelta(minutes=7)).replace(tzinfo=None)
    change(database, f"UPDATE facts SET {column} = :moved WHERE number = 4", moved=str(moved))
    assert records.verify_chain() == 4


@pytest.mark.parametrize("number", [4, 5])
def test_a_fact_removed_from_the_table_is_found(records: Records, database: Database, number: int) -> None:
    ledger(records)
    change(database, "DELETE FROM facts WHERE number = :number", number=number)
    assert records.verify_chain() == number


def test_a_head_removed_is_found(records: Records, database: Database) -> None:
    ledger(records)
    change(database, "DELETE FROM ledger_head")
    assert records.verify_chain() == 1


def test_an_untouched_ledger_holds(records: Records) -> None:
    ledger(records)
    assert records.verify_chain() is None


def test_a_name_taken_by_older_rules_is_still_read(records: Records, database: Database) -> None:
    fact = hang(records)
    change(database, "UPDATE facts SET body = replace(body, :name, :odd)", name=mould().name, odd="a\u202eb")
    assert records.facts(fact.mould_id)[0].body == mould().model_copy(update={"name": "a\u202eb"})


def test_a_fact_that_cannot_be_read_any_more_is_told(records: Records, database: Database) -> None:
    ledger(records)
    change(database, "UPDATE facts SET body = '{}' WHERE number = 3")
    with told(Unavailable, "entry_unreadable", "Entry 3", "back-up"):
        records.facts(1)
    assert records.facts(2)


def test_the_body_is_stored_as_canonical_json(records: Records, database: Database) -> None:
    ledger(records)
    with database.read() as session:
        body = session.execute(text("SELECT body FROM facts WHERE number = 4")).scalar_one()
    assert body == '{"kind":"note","text":"drip under the beak"}'
    assert json.loads(body)["kind"] == "note"
