"""Bring the tables up to date, whatever version of coatbell wrote them."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, text

from service.records.database_errors import newer

FOLDER = Path(__file__).parent / "migrations"
ONE_AT_A_TIME = 0x636F6174  # any number of our own: the PostgreSQL advisory lock two starts would share


def bring_up_to_date(connection: Connection, where: str) -> bool:
    """Run the migrations that are missing, inside the transaction `connection` is in. True if there were any.

    Raises Unavailable (``database_newer``) when the tables know a revision this program does not.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": ONE_AT_A_TIME})
    missing = not is_up_to_date(connection, where)
    if missing:
        command.upgrade(_config(connection), "head")
    return missing


def is_up_to_date(connection: Connection, where: str) -> bool:
    """Whether the tables are those of this program; changes nothing. Raises Unavailable (``database_newer``)."""
    script = ScriptDirectory.from_config(_config(connection))
    found = set(MigrationContext.configure(connection).get_current_heads())
    if not found <= {revision.revision for revision in script.walk_revisions()}:
        raise newer(where)
    return found == set(script.get_heads())


def _config(connection: Connection) -> Config:
    config = Config(attributes={"connection": connection})
    config.set_main_option("script_location", str(FOLDER).replace("%", "%%"))
    return config
