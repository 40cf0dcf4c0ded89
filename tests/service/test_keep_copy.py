"""Copies asked for and nightly ones: records, photos and head together, on both databases."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from service.clock import FakeClock
from service.errors import Unavailable
from service.keep_copy import backup_command, forget_heads, keep_copy, keep_nightly
from service.ledger_command import ledger_command
from service.records import postgresql_dump
from service.records.database import Database
from service.records.facts import NoteBody
from service.records.ledger_heads import read_head
from service.records.ledger_lines import read_book
from service.records.lock import only_one
from service.records.store import Records
from service.restore import BACK_UP_FOLDER, restore_command
from service.settings import Settings, load_settings
from tests.service.records.ledgers import LAST, PICTURE, PICTURE_SHA256, dump, keep_picture, made
from tests.service.records.making import START, hang, minutes, told


def settings_in(folder: Path, **data: str) -> Settings:
    return load_settings(None, {"data": {"folder": str(folder), **data}}, {})


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made(f"sqlite:///{tmp_path / 'coatbell.db'}", FakeClock(START))
    keep_picture(tmp_path)
    return tmp_path


@pytest.fixture
def records(folder: Path) -> Iterator[Records]:
    with Database(f"sqlite:///{folder / 'coatbell.db'}") as database:
        yield Records(database, FakeClock(START))


def test_records_photos_and_head_go_together(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with only_one(folder):  # the service runs meanwhile
        assert backup_command(["--data", str(folder)]) == 0
    kept = folder / BACK_UP_FOLDER
    assert sorted(path.name[:9] for path in kept.iterdir()) == ["coatbell-", "heads", "photos"]
    assert [path.name for path in (kept / "photos").iterdir()] == [f"{PICTURE_SHA256}.jpg"]
    (head,) = (kept / "heads").iterdir()
    assert read_head(head).entries == LAST
    assert str(head) in capsys.readouterr().out
    assert ledger_command(["verify", "--data", str(folder)]) == 0
    assert "1 signed head" in capsys.readouterr().out


def test_to_a_folder_of_ones_own(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    stick = tmp_path_factory.mktemp("stick") / "coatbell"
    assert backup_command([str(stick), "--data", str(folder)]) == 0
    (copy,) = stick.glob("coatbell-*.db")
    assert dump(copy) == dump(folder / "coatbell.db")
    assert not (folder / BACK_UP_FOLDER).exists()


def test_a_head_is_of_what_is_in_its_copy(folder: Path, records: Records) -> None:
    for number in range(3):
        kept = keep_copy(settings_in(folder), folder / "copies", minutes(60 + number))
        assert kept.copy is not None
        assert kept.head is not None
        head, book = read_head(kept.head), read_book(f"sqlite:///{kept.copy}")
        assert (head.entries, head.digest) == book.head
        assert head.at == minutes(60 + number)
        hang(records, f"Ruff {number}")
    assert len(list((folder / "copies" / "photos").iterdir())) == 1


def test_nightly_copies_are_thinned_out_and_heads_are_kept(folder: Path, records: Records) -> None:
    settings = load_settings(None, {"data": {"folder": str(folder)}, "back_up": {"keep": 2}}, {})
    for night in range(4):
        at = START + timedelta(days=night)
        records._clock.jump(at)  # type: ignore[attr-defined]
        assert keep_nightly(settings, records, at).troubles == []
    assert len(list((folder / BACK_UP_FOLDER).glob("*.db"))) == 2
    assert len(list((folder / BACK_UP_FOLDER / "heads").iterdir())) == 4


def test_ones_asked_for_push_nothing_out(folder: Path) -> None:
    for second in range(20):
        keep_copy(settings_in(folder), folder / BACK_UP_FOLDER, START + timedelta(seconds=second))
    assert len(list((folder / BACK_UP_FOLDER).glob("*.db"))) == 20


def test_a_key_that_cannot_be_used_keeps_no_copy_back(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "ledger.key").write_text("spoilt")
    assert backup_command(["--data", str(folder)]) == 2
    told_ = capsys.readouterr()
    assert "Copied to" in told_.out
    assert "ledger.key, is damaged" in told_.err


def test_a_demo_begun_anew_has_no_heads_of_the_one_before(folder: Path) -> None:
    kept = keep_copy(settings_in(folder), folder / BACK_UP_FOLDER, START)
    forget_heads(settings_in(folder))
    assert kept.head is not None
    assert not kept.head.exists()
    assert kept.copy is not None
    assert kept.copy.exists()
    forget_heads(settings_in(folder))  # and where there are none


def test_no_records_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert backup_command(["--data", str(tmp_path)]) == 2
    assert "There is no ledger" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_copy_made_while_others_write_is_whole_and_comes_back_whole(
    folder: Path, records: Records, tmp_path_factory: pytest.TempPathFactory
) -> None:
    stop = threading.Event()

    def write() -> None:
        number = 0
        while not stop.is_set():
            records.append(1, NoteBody(text=f"note {number}"), START, "bench 2", key=f"load-{number}")
            number += 1

    writers = [threading.Thread(target=write) for _ in range(1)]
    for writer in writers:
        writer.start()
    try:
        copies = [keep_copy(settings_in(folder), folder / "copies", minutes(n)).copy for n in range(5)]
    finally:
        stop.set()
        for writer in writers:
            writer.join()
    assert records.last_fact_number() > LAST
    for copy in copies:
        new = tmp_path_factory.mktemp("new")
        assert copy is not None
        assert restore_command([str(copy), "--data", str(new)]) == 0
        assert dump(new / "coatbell.db") == dump(copy)
        assert (new / "photos" / f"{PICTURE_SHA256}.jpg").read_bytes() == PICTURE
        assert ledger_command(["verify", "--data", str(new)]) == 0


# PostgreSQL


@pytest.fixture
def server_url(fresh_postgresql_url: str, tmp_path: Path) -> str:
    keep_picture(tmp_path)
    (tmp_path / "site.toml").write_text(f"[data]\ndatabase = {json.dumps(fresh_postgresql_url)}\n")
    return made(fresh_postgresql_url, FakeClock(START))


@pytest.mark.postgresql
def test_postgresql_is_copied_with_photos_and_head(server_url: str, tmp_path: Path) -> None:
    own = ["--configs", str(tmp_path), "--data", str(tmp_path)]
    assert backup_command([*own]) == 0
    (copy,) = (tmp_path / BACK_UP_FOLDER).glob("coatbell-*.dump")
    assert postgresql_dump.dumped_book(copy).rows == read_book(server_url).rows
    (head,) = (tmp_path / BACK_UP_FOLDER / "heads").iterdir()
    assert read_head(head).entries == LAST
    assert ledger_command(["verify", *own]) == 0


@pytest.mark.postgresql
def test_without_pg_dump_the_head_goes_out_and_what_to_do_is_told(
    server_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings = settings_in(tmp_path, database=server_url)
    monkeypatch.setenv("PATH", str(tmp_path))
    with Database(server_url) as database:
        kept = keep_nightly(settings, Records(database, FakeClock(START)), START)
    assert kept.copy is None
    assert kept.head is not None
    with told(Unavailable, "pg_dump_missing", "pg_dump is not on this machine", "postgresql-client"):
        raise kept.troubles[0]


@pytest.mark.postgresql
def test_nightly_dumps_are_thinned_out(server_url: str, tmp_path: Path) -> None:
    over = {"data": {"folder": str(tmp_path), "database": server_url}, "back_up": {"keep": 2}}
    with Database(server_url) as database:
        for night in range(3):
            at = START + timedelta(days=night)
            assert keep_nightly(load_settings(None, over, {}), Records(database, FakeClock(at)), at).copy
    assert len(list((tmp_path / BACK_UP_FOLDER).glob("*.dump"))) == 2
    assert len(list((tmp_path / BACK_UP_FOLDER / "heads").iterdir())) == 3
