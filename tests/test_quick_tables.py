"""A new file for a test is what the migrations make."""

from __future__ import annotations

from pathlib import Path

import pytest

from service.records.database import Database
from tests import quick_tables
from tests.service.records.schema_text import schema_text


def tables(file: Path) -> tuple[str, list[tuple[object, ...]]]:
    with Database(f"sqlite:///{file}") as opened, opened.read() as session:
        connection = session.connection()
        rows = connection.exec_driver_sql("SELECT * FROM alembic_version, ledger_head").all()
        return schema_text(connection), [tuple(row) for row in rows]


def test_it_is_the_same_as_by_migrations(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    quick = tables(tmp_path / "quick.db")
    request.getfixturevalue("by_migrations")
    assert tables(tmp_path / "slow.db") == quick
    assert "facts" in quick[0]
    assert quick[1]


def test_a_file_that_has_tables_is_left_to_the_migrations(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = list[str]()
    tables(tmp_path / "coatbell.db")
    monkeypatch.setattr(quick_tables, "by_migrations", lambda _connection, where: bool(asked.append(where)))
    tables(tmp_path / "coatbell.db")
    assert asked == [str(tmp_path / "coatbell.db")]
