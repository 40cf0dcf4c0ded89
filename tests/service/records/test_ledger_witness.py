"""A history rewritten as a whole shows by the heads that were kept, and since when."""

from __future__ import annotations

from dataclasses import asdict, replace
from pathlib import Path

import pytest

from service.records.ledger import START as BEFORE
from service.records.ledger import Line, chained
from service.records.ledger_heads import Head, Signer, write_head
from service.records.ledger_lines import Book, row_of
from service.records.ledger_search import search
from service.records.ledger_witness import Against, Heard, hear
from tests.service.records.making import minutes
from tests.service.records.test_ledger import chain

WHOLE = chain(36)
HEADS = (0, 6, 12, 24, 36)


def book(lines: list[Line]) -> Book:
    head = (lines[-1].number, lines[-1].digest) if lines else (0, BEFORE)
    return Book(tuple(row_of(asdict(line)) for line in lines), head, None, {}, None)


def rewritten(first: int, length: int = 36) -> list[Line]:
    """Every line from `first` on changed, with all digests worked out anew: the chain itself is whole."""
    lines = list(WHOLE[: first - 1])
    for line in WHOLE[first - 1 : length]:
        lines.append(chained(lines[-1].digest if lines else BEFORE, replace(line, hand="nobody")))
    return lines


@pytest.fixture
def signer(tmp_path: Path) -> Signer:
    return Signer(tmp_path)


def head_at(signer: Signer, entries: int, lines: list[Line] = WHOLE, **more: str) -> Head:
    digest = lines[entries - 1].digest if entries else BEFORE
    return signer.head(minutes(entries + 0.75), entries, digest, **more)


@pytest.fixture
def files(signer: Signer, tmp_path: Path) -> list[Path]:
    return [write_head(head_at(signer, entries), tmp_path) for entries in HEADS]


def drawn(heard: Heard) -> list[tuple[Against, int | None, int | None]]:
    return [
        (d.against, d.head.entries if d.head else None, d.held.entries if d.held else None)
        for d in heard.doubts
    ]


def test_the_ledger_they_were_made_of_holds_them_all(files: list[Path]) -> None:
    heard = hear(book(WHOLE), files)
    assert heard.doubts == ()
    assert [head.entries for head in heard.good] == list(HEADS)
    assert heard.set_back == 0


def test_a_ledger_that_went_on_holds_them_too(files: list[Path]) -> None:
    longer = list(WHOLE)
    longer.append(chained(longer[-1].digest, replace(WHOLE[0], number=37, key="later")))
    assert hear(book(longer), files).doubts == ()


def test_wherever_history_was_rewritten_the_heads_around_say_so(files: list[Path]) -> None:
    for first in range(1, 37):
        lines = rewritten(first)
        assert search(book(lines).rows, book(lines).head) == []  # the chain alone shows nothing
        failed = min(entries for entries in HEADS if entries >= first)
        held = max(entries for entries in HEADS if entries < first)
        assert drawn(hear(book(lines), files)) == [(Against.REWRITTEN, failed, held)]


def test_wherever_it_was_cut_off_with_the_end_mark_set_back(files: list[Path]) -> None:
    for length in range(36):
        lines = WHOLE[:length]
        assert search(book(lines).rows, book(lines).head) == []
        failed = min(entries for entries in HEADS if entries > length)
        held = max(entries for entries in HEADS if entries <= length)
        assert drawn(hear(book(lines), files)) == [(Against.REWRITTEN, failed, held)]


def test_without_any_that_holds_it_is_rewritten_from_the_first(files: list[Path]) -> None:
    assert drawn(hear(book(rewritten(1)), files[1:])) == [(Against.REWRITTEN, 6, None)]


def test_one_alone_is_enough(files: list[Path]) -> None:
    assert drawn(hear(book(rewritten(30)), files[-1:])) == [(Against.REWRITTEN, 36, None)]


def test_heads_signed_anew_for_the_forged_history_do_not_hide_it(files: list[Path], tmp_path: Path) -> None:
    forger, lines = Signer(tmp_path / "forger"), rewritten(20)
    forged = [write_head(head_at(forger, entries, lines), tmp_path / "forged") for entries in (24, 36)]
    heard = hear(book(lines), [*files[:3], *forged])
    assert heard.doubts == ()  # with the true ones gone, only the key tells
    assert len(heard.keys) == 2
    key = Signer(tmp_path).public
    assert drawn(hear(book(lines), [*files[:3], *forged], key[:12])) == [
        (Against.OTHER_KEY, 24, None),
        (Against.OTHER_KEY, 36, None),
    ]
    assert hear(book(lines), files[:3], key.upper()).doubts == ()


def test_a_changed_one_and_one_that_is_none_are_told(files: list[Path], tmp_path: Path) -> None:
    files[1].write_text(files[1].read_text().replace("entries: 6", "entries: 7"))
    files[2].write_text("nothing")
    assert drawn(hear(book(WHOLE), files)) == [(Against.FORGED, 7, None), (Against.UNREADABLE, None, None)]


def test_after_older_records_were_brought_back_what_went_beyond_them_is_not_asked(
    files: list[Path], signer: Signer, tmp_path: Path
) -> None:
    lines = [*WHOLE[:12]]
    lines.append(chained(lines[-1].digest, replace(WHOLE[12], hand="bench 2")))
    note = replace(head_at(signer, 12), at=minutes(60))
    note = signer.head(note.at, 12, note.digest, "coatbell-20260302T143000Z.db")
    heard = hear(book(lines), [*files, write_head(note, tmp_path)])
    assert heard.doubts == ()
    assert heard.set_back == 2
    changed = [*WHOLE[:5], *rewritten(6)[5:12]]
    assert drawn(hear(book(changed), [*files, write_head(note, tmp_path)])) == [(Against.REWRITTEN, 6, 0)]


def test_a_return_told_by_a_stranger_is_named(files: list[Path], signer: Signer, tmp_path: Path) -> None:
    own = write_head(signer.head(minutes(60), 12, WHOLE[11].digest, "a copy"), tmp_path / "own")
    assert hear(book(WHOLE[:12]), [*files, own]).strangers == ()
    stranger = Signer(tmp_path / "elsewhere").head(minutes(60), 12, WHOLE[11].digest, "a copy")
    heard = hear(book(WHOLE[:12]), [*files, write_head(stranger, tmp_path / "strange")])
    assert (heard.doubts, heard.set_back) == ((), 2)
    assert heard.strangers == (stranger,)
    both = hear(book(WHOLE[:12]), [*files, own, write_head(stranger, tmp_path / "strange")])
    assert both.strangers == ()


def test_a_note_of_a_return_excuses_nothing_that_came_after_it(signer: Signer, tmp_path: Path) -> None:
    note = write_head(signer.head(minutes(13), 12, WHOLE[11].digest, "a copy"), tmp_path)
    later = write_head(head_at(signer, 36), tmp_path)
    assert drawn(hear(book(rewritten(20)), [note, later])) == [(Against.REWRITTEN, 36, 12)]


def test_one_of_another_shop_among_them_is_not_blamed_on_the_ledger(
    files: list[Path], signer: Signer, tmp_path: Path
) -> None:
    strange = write_head(head_at(signer, 12, rewritten(1)), tmp_path / "strange")
    assert drawn(hear(book(WHOLE), [*files, strange])) == [(Against.ANOTHER_WAY, 12, None)]


def test_no_heads_say_nothing(tmp_path: Path) -> None:
    assert hear(book(WHOLE), []) == Heard((), (), 0)
