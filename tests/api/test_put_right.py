"""What was said first, beside what holds."""

from __future__ import annotations

from datetime import timedelta

from api.fakes import SALTMARSH, START, FakeShop
from api.put_right import PutRight, put_right
from service.records.facts import NoteBody
from tests.api.scene import mould


def found(shop: FakeShop, mould_id: int) -> list[PutRight]:
    return put_right(shop.records.facts(mould_id), SALTMARSH, shop.rooms())


def test_nothing_put_right(shop: FakeShop) -> None:
    assert found(shop, mould(shop, "Heron").id) == []


def test_a_correction_tells_both_halves(shop: FakeShop) -> None:
    heron = mould(shop, "Heron").id
    note = shop.note(heron, "crack", "bench 2", "note-key-1", START - timedelta(hours=1))
    new = shop.correct(
        note.number, NoteBody(text="small crack"), START - timedelta(hours=2), "bench 1", "fix-key-1"
    )
    assert found(shop, heron) == [
        PutRight(
            new.number,
            "11 Dec 13:20, bench 2: Note: crack, written down 11 Dec 14:20",
            "11 Dec 12:20: Note: small crack; put right 11 Dec 14:20 by bench 1",
        )
    ]


def test_what_was_taken_back_and_why(shop: FakeShop) -> None:
    heron = mould(shop, "Heron").id
    note = shop.note(heron, "wrong mould", "", "note-key-1")
    shop.withdraw(note.number, "", "undo-key-1", "slip")
    (line,) = found(shop, heron)
    assert (line.first_said, line.holds) == (
        "11 Dec 14:20: Note: wrong mould",
        "taken back 11 Dec 14:20: slip",
    )


def test_put_right_twice_is_two_lines(shop: FakeShop) -> None:
    heron = mould(shop, "Heron").id
    note = shop.note(heron, "a", "", "note-key-1")
    again = shop.correct(note.number, NoteBody(text="b"), START, "", "fix-key-1")
    shop.correct(again.number, NoteBody(text="c"), START, "", "fix-key-2")
    assert [line.first_said[-7:] for line in found(shop, heron)] == ["Note: a", "Note: b"]
