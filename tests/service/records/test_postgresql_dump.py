"""Records in PostgreSQL copied and brought back by its own programs; what was there is never lost."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, text

from service.clock import FakeClock
from service.errors import BadInput, NotFound, Unavailable
from service.records import postgresql_dump
from service.records.database import Database
from service.records.facts import NoteBody
from service.records.ledger_lines import read_book
from service.records.ledger_search import search
from service.records.postgresql_dump import OURS, bring_back, dump, dumped_book, dumps, thin_out_dumps
from service.records.store import Records
from tests.parts import need_program
from tests.service.records.ledgers import LAST, made
from tests.service.records.making import START, hang, minutes, reading, told

pytestmark = pytest.mark.postgresql
need_program("pg_dump")
need_program("pg_restore")


@pytest.fixture
def ledger(fresh_postgresql_url: str, clock: FakeClock) -> str:
    made(fresh_postgresql_url, clock)
    with Database(fresh_postgresql_url) as database:
        records = Records(database, clock)
        records.add_readings([reading(minutes(n)) for n in range(50)])
        records.append(1, NoteBody(text="tab\tline\nback\\slash “ü” \\N"), START, "bench 1", key="odd")
    return fresh_postgresql_url


@pytest.fixture
def copy(ledger: str, tmp_path: Path) -> Path:
    return dump(ledger, tmp_path / "copies", minutes(60))


def tables(url: str, schema: str | None = None) -> dict[str, list[tuple[Any, ...]]]:
    engine = create_engine(url)
    with engine.connect() as connection:
        name = schema or connection.execute(text("SELECT current_schema()")).scalar_one()
        found = {
            table: sorted(
                (tuple(row) for row in connection.execute(text(f'SELECT * FROM "{name}".{table}'))), key=repr
            )
            for table in OURS
        }
    engine.dispose()
    return found


def test_a_copy_is_one_file_with_a_date(copy: Path) -> None:
    assert copy.name == "coatbell-20260302T152000Z.dump"
    assert list(copy.parent.iterdir()) == [copy]
    assert dumps(copy.parent) == [copy]


def test_the_ledger_in_a_copy_is_read_to_the_letter(copy: Path, ledger: str) -> None:
    inside, there = dumped_book(copy), read_book(ledger)
    assert inside.rows == there.rows
    assert (inside.head, inside.moulds) == (there.head, there.moulds)
    assert search(inside.rows, inside.head) == []


def test_every_table_comes_back_and_what_was_there_is_kept(copy: Path, ledger: str, clock: FakeClock) -> None:
    then = tables(ledger)
    with Database(ledger) as database:
        hang(Records(database, clock), "Since then")
    since = tables(ledger)
    kept = bring_back(ledger, copy, minutes(90))
    assert kept == "coatbell_kept_20260302t155000z"
    try:
        assert tables(ledger) == then
        assert tables(ledger, kept) == since
        with Database(ledger) as database:
            assert hang(Records(database, clock), "Anew").number == LAST + 2  # counters of the tables too
    finally:
        drop(ledger, kept)


def drop(url: str, schema: str) -> None:
    engine = create_engine(url)
    with engine.begin() as connection:
        connection.exec_driver_sql(f"DROP SCHEMA {schema} CASCADE")
    engine.dispose()


def test_to_an_empty_place(copy: Path, ledger: str) -> None:
    then = tables(ledger)
    engine = create_engine(ledger)
    with engine.begin() as connection:
        connection.exec_driver_sql(f"DROP TABLE {', '.join(OURS)} CASCADE")
    engine.dispose()
    assert bring_back(ledger, copy, minutes(90)) is None
    assert tables(ledger) == then


def test_others_tables_in_the_schema_stay_where_they_are(copy: Path, ledger: str) -> None:
    engine = create_engine(ledger)
    with engine.begin() as connection:
        connection.exec_driver_sql("CREATE TABLE songs (title text)")
    kept = bring_back(ledger, copy, minutes(90))
    assert kept is not None
    with engine.begin() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM songs").scalar_one() == 0
    engine.dispose()
    drop(ledger, kept)


def test_of_another_schema_is_refused_and_nothing_is_moved(
    copy: Path, ledger: str, postgresql_url: str
) -> None:
    before = tables(postgresql_url)
    with told(BadInput, "back_up_elsewhere", "pg_restore"):
        bring_back(postgresql_url, copy, minutes(90))
    assert tables(postgresql_url) == before


def test_a_damaged_copy_changes_nothing(copy: Path, ledger: str) -> None:
    before, whole = tables(ledger), copy.read_bytes()
    copy.write_bytes(b"no dump")
    with told(BadInput, "back_up_damaged", "older"):
        dumped_book(copy)
    copy.write_bytes(whole[: len(whole) * 3 // 4])
    with pytest.raises((BadInput, Unavailable)):
        bring_back(ledger, copy, minutes(90))
    assert tables(ledger) == before


def test_no_copy_is_told(tmp_path: Path) -> None:
    with told(NotFound, "back_up_unknown"):
        dumped_book(tmp_path / "none.dump")


def fake(folder: Path, program: str, script: str) -> None:
    """A program of that name that comes first on the path."""
    file = folder / program
    file.write_text(f"#!/bin/sh\n{script}\n")
    file.chmod(file.stat().st_mode | stat.S_IXUSR)


@pytest.mark.parametrize("lines", [0, 40, 200, 400])
def test_broken_off_anywhere_nothing_is_changed(
    copy: Path, ledger: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, lines: int
) -> None:
    """pg_restore is killed after so many lines: psql must not keep what came until then."""
    before, real = tables(ledger), need_program("pg_restore")
    tail = f'{real} "$@" | head -n {lines}; kill -9 $$'
    fake(tmp_path, "pg_restore", f'case "$1" in --list|--data-only) exec {real} "$@";; esac; {tail}')
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    with told(Unavailable, "psql_failed", "Nothing was changed"):
        bring_back(ledger, copy, minutes(90))
    assert tables(ledger) == before


def test_killed_itself_nothing_is_changed(copy: Path, ledger: str, tmp_path: Path) -> None:
    before, real = tables(ledger), need_program("pg_restore")
    fake(tmp_path, "pg_restore", f'case "$1" in --list) exec {real} "$@";; esac; {real} "$@"; sleep 20')
    program = (
        "import sys; from pathlib import Path; from datetime import datetime, UTC\n"
        "from service.records.postgresql_dump import bring_back\n"
        "print('begun', flush=True); bring_back(sys.argv[1], Path(sys.argv[2]), datetime.now(UTC))"
    )
    path = {**os.environ, "PATH": f"{tmp_path}:{os.environ['PATH']}"}
    child = subprocess.Popen(
        [sys.executable, "-c", program, ledger, str(copy)],
        env=path,
        stdout=subprocess.PIPE,
        start_new_session=True,
    )
    assert child.stdout is not None
    with child.stdout:
        child.stdout.readline()
        with pytest.raises(subprocess.TimeoutExpired):
            child.wait(1.5)
    os.killpg(child.pid, signal.SIGKILL)
    child.wait()
    assert tables(ledger) == before


@pytest.mark.parametrize("program", ["pg_dump", "pg_restore", "psql"])
def test_a_missing_program_is_told(
    copy: Path, ledger: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, program: str
) -> None:
    find = postgresql_dump.shutil.which
    monkeypatch.setattr(postgresql_dump.shutil, "which", lambda name: None if name == program else find(name))
    work: Callable[[], object] = (
        (lambda: dump(ledger, tmp_path, START))
        if program == "pg_dump"
        else (lambda: bring_back(ledger, copy, START))
    )
    with told(Unavailable, f"{program}_missing", "postgresql-client"):
        work()


def test_a_dump_that_fails_leaves_no_half_copy(
    ledger: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fake(tmp_path, "pg_dump", "echo 'pg_dump: error: out of luck' >&2; exit 1")
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    with told(Unavailable, "pg_dump_failed", "out of luck"):
        dump(ledger, tmp_path / "copies", START)
    assert list((tmp_path / "copies").iterdir()) == []


def test_the_password_is_on_no_command_line(
    ledger: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fake(tmp_path, "pg_dump", f'echo "$@" > {tmp_path}/said; exit 1')
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    with told(Unavailable, "pg_dump_failed"):
        dump(ledger, tmp_path / "copies", START)
    said = (tmp_path / "said").read_text()
    assert "search_path" in said
    assert create_engine(ledger).url.password not in said


@pytest.mark.parametrize(("keep", "left"), [(3, 3), (1, 1), (0, 1), (9, 4)])
def test_the_newest_stay(tmp_path: Path, keep: int, left: int) -> None:
    for hour in range(4):
        (tmp_path / f"coatbell-20260302T{hour:02d}0000Z.dump").write_bytes(b"")
    thin_out_dumps(tmp_path, dumps(tmp_path)[-1], keep)
    assert len(dumps(tmp_path)) == left
    assert dumps(tmp_path)[-1].name == "coatbell-20260302T030000Z.dump"
