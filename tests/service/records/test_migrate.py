"""The migrations and the tables agree, and are run by the program itself."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text

from service.clock import FakeClock
from service.records import migrate
from service.records.database import Database
from service.records.migrate import FOLDER
from service.records.store import Records
from service.records.tables import Table
from tests.service.records.making import hang

pytestmark = pytest.mark.usefixtures("by_migrations")


@pytest.fixture
def script() -> ScriptDirectory:
    config = Config()
    config.set_main_option("script_location", str(FOLDER))
    return ScriptDirectory.from_config(config)


def test_migrations_and_tables_agree(database: Database) -> None:
    with database.read() as session:
        context = MigrationContext.configure(
            session.connection(), opts={"compare_type": True, "compare_server_default": True}
        )
        assert compare_metadata(context, Table.metadata) == []


def test_the_comparison_would_see_a_difference(fresh_url: str) -> None:
    with Database(fresh_url) as database:
        with database.write() as session:
            session.execute(text("ALTER TABLE rooms ADD COLUMN colour VARCHAR"))
        with database.read() as session:
            found = compare_metadata(MigrationContext.configure(session.connection()), Table.metadata)
    assert [step[0] for step in found] == ["remove_column"]


def test_a_fresh_database_stands_at_the_newest_revision(fresh_url: str, script: ScriptDirectory) -> None:
    with Database(fresh_url) as database, database.read() as session:
        found = MigrationContext.configure(session.connection()).get_current_heads()
    assert list(found) == script.get_heads()


def test_there_is_one_line_of_revisions(script: ScriptDirectory) -> None:
    assert len(script.get_heads()) == 1
    assert len(script.get_bases()) == 1


def test_an_up_to_date_database_is_not_migrated_again(
    url: str, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Database(url) as database:
        hang(Records(database, clock))
    monkeypatch.setattr(command, "upgrade", lambda *_: pytest.fail("migrated again"))
    with Database(url) as database:
        assert Records(database, clock).last_fact_number() == 1


def test_a_migration_that_fails_leaves_nothing(fresh_url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = command.upgrade

    def fail_at_the_end(config: Config, revision: str) -> None:
        whole(config, revision)
        raise RuntimeError("power cut")

    with monkeypatch.context() as patched:
        patched.setattr(command, "upgrade", fail_at_the_end)
        with pytest.raises(RuntimeError, match="power cut"):
            Database(fresh_url)
    with Database(fresh_url) as database, database.read() as session:
        assert session.execute(text("SELECT count(*) FROM ledger_head")).scalar() == 1


def test_a_folder_with_a_percent_sign_is_no_trouble(
    sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    odd = tmp_path / "50%(x)s"
    odd.symlink_to(FOLDER)
    monkeypatch.setattr(migrate, "FOLDER", odd)
    with Database(sqlite_url) as database:
        assert database.file


def test_migrations_lie_inside_the_package() -> None:
    package = Path(migrate.__file__).parent
    assert FOLDER.is_relative_to(package)
    assert (FOLDER / "env.py").is_file()
    assert (FOLDER / "script.py.mako").is_file()


def test_migrations_stand_on_their_own() -> None:
    """A migration must do tomorrow what it did today, so it may not look at the tables as they are now."""
    for file in (FOLDER / "versions").glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.ImportFrom):
                assert node.module != "service.records.tables", file.name
