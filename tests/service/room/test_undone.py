"""Taking back a change of a mould: it is and hangs where it was and hung before."""

from __future__ import annotations

from datetime import datetime

import pytest

from service.records.facts import Fact
from service.room.progress import progress
from service.room.undone import undone_change
from tests.service.room.cases import T0, Ledger, h, mould_body, refused


def lived(*changes: tuple[float, int]) -> Ledger:
    """Hung up in room 1 at T0, then said, of so many hours after it, to hang in a room."""
    ledger = Ledger()
    fact = ledger.hang()
    for i, (hours, room_id) in enumerate(changes):
        fact = ledger.write(mould_body(f"name {i}", room_id=room_id), T0 + h(hours), replaces=fact)
    return ledger


def undo(ledger: Ledger) -> Fact:
    change = ledger.facts[-1]
    body, at = undone_change(ledger.facts, change)
    return ledger.write(body, at, replaces=change)


CHANGES = [
    pytest.param([(0, 1)], id="another name"),
    pytest.param([(3, 2)], id="moved"),
    pytest.param([(3, 2), (3, 2)], id="another name after a move"),
    pytest.param([(3, 2), (2, 2)], id="the move put earlier"),
    pytest.param([(3, 2), (5, 2)], id="the move put later"),
    pytest.param([(3, 2), (5, 3)], id="moved twice"),
    pytest.param([(3, 2), (5, 1)], id="moved back"),
    pytest.param([(3, 2), (5, 1), (5, 1)], id="another name after moving back"),
    pytest.param([(0, 2)], id="never hung there"),
    pytest.param([(3, 2), (3, 3)], id="moved elsewhere than was said"),
]


@pytest.mark.parametrize("changes", CHANGES)
def test_what_held_before_holds_again(changes: list[tuple[float, int]]) -> None:
    before, after = lived(*changes[:-1]).progress, lived(*changes)
    undo(after)
    assert after.progress.body == before.body
    assert after.progress.rooms == before.rooms
    assert after.progress.started_at == before.started_at


@pytest.mark.parametrize("changes", CHANGES)
def test_an_undo_can_be_undone(changes: list[tuple[float, int]]) -> None:
    ledger = lived(*changes)
    held = ledger.progress
    undo(ledger)
    undo(ledger)
    assert ledger.progress.body == held.body
    assert ledger.progress.rooms == held.rooms


@pytest.mark.parametrize("changes", CHANGES)
def test_nothing_that_was_said_is_lost(changes: list[tuple[float, int]]) -> None:
    ledger = lived(*changes)
    said = list(ledger.facts)
    undo(ledger)
    assert ledger.facts[:-1] == said
    assert ledger.facts[-1].replaces == said[-1].number


def test_coats_given_meanwhile_stay() -> None:
    ledger = lived((3, 2))
    ledger.dips(1, 7)
    change = next(f for f in ledger.facts if f.replaces)
    body, at = undone_change(ledger.facts, change)
    ledger.write(body, at, replaces=change)
    assert ledger.progress.coats_given == 2
    assert ledger.progress.rooms == ((T0, 1),)


def test_the_recipe_it_has_stays() -> None:
    ledger = lived((0, 1))
    assert undo(ledger).body == ledger.facts[0].body


def test_what_hung_it_up_is_no_change() -> None:
    ledger = Ledger()
    with refused("mould_not_undone"):
        undone_change(ledger.facts, ledger.hang())


def test_a_whole_stay_lost_is_told_instead() -> None:
    """Moved to room 2 after three hours; then that was said to be from the start on."""
    ledger = lived((3, 2), (0, 2))
    assert ledger.progress.rooms == ((T0, 2),)
    with refused("undo_by_hand") as told:
        undo(ledger)
    assert "since when" in told.value.todo


def test_of_a_mould_of_another_number_it_is_the_same() -> None:
    ledger = Ledger(mould_id=7)
    fact = ledger.hang()
    ledger.write(mould_body("Curlew"), T0, replaces=fact)
    body, at = undone_change(ledger.facts, ledger.facts[-1])
    assert (body, at) == (fact.body, T0)
    assert isinstance(at, datetime)
    assert progress(7, ledger.facts).body.name == "Curlew"
