"""New SQLite files for tests: the migrations run once, and what they made is laid into each further new file.

The tables are the very same (a test compares them); thousands of tests begin with a new file, and migrations are slow.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from functools import cache

from sqlalchemy import Connection, create_engine

from service.records.migrate import bring_up_to_date as by_migrations

BringUp = Callable[[Connection, str], bool]


def bring_up_to_date(connection: Connection, where: str) -> bool:
    """As `service.records.migrate` does it, sooner."""
    if connection.dialect.name != "sqlite" or not _is_new(connection):
        return by_migrations(connection, where)
    for statement in _made_by_migrations():
        connection.exec_driver_sql(statement)
    return True


def _is_new(connection: Connection) -> bool:
    return connection.exec_driver_sql("SELECT count(*) FROM sqlite_master").scalar() == 0


@cache
def _made_by_migrations() -> list[str]:
    """As SQL; without the lines that begin and end a transaction, for there is one already."""
    engine = create_engine("sqlite://")
    with engine.begin() as connection:
        by_migrations(connection, "memory")
        driver = connection.connection.driver_connection
        assert isinstance(driver, sqlite3.Connection)
        dump = list(driver.iterdump())
    engine.dispose()
    return [line for line in dump if line not in ("BEGIN TRANSACTION;", "COMMIT;")]
