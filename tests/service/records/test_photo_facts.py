"""Which photos the ledger names: those that hold are shown, all that ever stood there are kept."""

from __future__ import annotations

import pytest

from service.records.facts import NoteBody, PhotoBody, WithdrawnBody
from service.records.store import Records
from tests.service.records.making import hang, minutes

ONE, TWO = "a1" * 32, "b2" * 32


def photo(sha256: str, text: str = "") -> PhotoBody:
    return PhotoBody(sha256=sha256, width_px=4, height_px=3, size_bytes=99, text=text)


def test_one_that_is_recorded_is_shown_and_no_other(records: Records) -> None:
    mould = hang(records).mould_id
    records.append(mould, photo(ONE), minutes(5), "bench 1")
    assert records.photo_shown(ONE)
    assert not records.photo_shown(TWO)
    assert records.photos_named() == {ONE}


@pytest.mark.parametrize("asked", ["", "%", "_" * 64, "a1", ONE[:-1] + "_", "%" + ONE[1:], '"' + ONE[1:]])
def test_nothing_like_its_name_will_do(records: Records, asked: str) -> None:
    mould = hang(records).mould_id
    records.append(mould, photo(ONE), minutes(5), "bench 1")
    assert not records.photo_shown(asked)


def test_a_note_that_tells_its_name_shows_nothing(records: Records) -> None:
    mould = hang(records).mould_id
    records.append(mould, NoteBody(text=f'"sha256":"{ONE}"'), minutes(5), "bench 1")
    records.append(mould, photo(TWO, f'"sha256":"{ONE}"'), minutes(5), "bench 1")
    assert not records.photo_shown(ONE)


def test_one_taken_back_is_not_shown_but_kept(records: Records) -> None:
    mould = hang(records).mould_id
    fact = records.append(mould, photo(ONE), minutes(5), "bench 1")
    records.append(mould, WithdrawnBody(), minutes(6), "bench 1", replaces=fact.number)
    assert not records.photo_shown(ONE)
    assert records.photos_named() == {ONE}


def test_one_corrected_is_shown_still(records: Records) -> None:
    mould = hang(records).mould_id
    fact = records.append(mould, photo(ONE), minutes(5), "bench 1")
    records.append(mould, photo(ONE, "the foot"), minutes(5), "bench 1", replaces=fact.number)
    assert records.photo_shown(ONE)


def test_of_two_records_of_one_file_either_shows_it(records: Records) -> None:
    mould = hang(records).mould_id
    fact = records.append(mould, photo(ONE), minutes(5), "bench 1")
    records.append(mould, photo(ONE), minutes(6), "bench 2")
    records.append(mould, WithdrawnBody(), minutes(7), "bench 1", replaces=fact.number)
    assert records.photo_shown(ONE)


def test_none_yet(records: Records) -> None:
    assert records.photos_named() == set()
    assert not records.photo_shown(ONE)
