"""Every record test runs on both databases: a SQLite file, and PostgreSQL where one is given."""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import Engine, create_engine

from service.clock import FakeClock
from service.records.database import Database
from service.records.store import Records
from service.records.tables import Table
from tests.parts import missing
from tests.service.records.making import START

POSTGRESQL = "COATBELL_TEST_POSTGRESQL"
BOTH = ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)]


@pytest.fixture(params=BOTH)
def url(request: pytest.FixtureRequest) -> str:
    """The URL of an empty database: a new file, or a schema that was emptied."""
    return _url(request, "postgresql_url")


@pytest.fixture(params=BOTH)
def fresh_url(request: pytest.FixtureRequest) -> str:
    """As `url`, but no table is there yet, and what the test does to the tables themselves is cleared away."""
    return _url(request, "fresh_postgresql_url")


def _url(request: pytest.FixtureRequest, postgresql: str) -> str:
    found: str = request.getfixturevalue("sqlite_url" if request.param == "sqlite" else postgresql)
    return found


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'coatbell.db'}"


@pytest.fixture(scope="session")
def server() -> Iterator[Engine]:
    given = os.environ.get(POSTGRESQL) or missing(f"Set {POSTGRESQL} to a URL (see .ci/postgresql).")
    engine = create_engine(given, isolation_level="AUTOCOMMIT")
    yield engine
    engine.dispose()


@pytest.fixture
def fresh_postgresql_url(server: Engine) -> Iterator[str]:
    with schema_in(server) as found:
        yield found


@pytest.fixture(scope="session")
def shared_schema(server: Engine) -> Iterator[str]:
    """Made once: tables take longer to make than to empty."""
    with schema_in(server) as found:
        Database(found).close()
        yield found


@pytest.fixture
def postgresql_url(shared_schema: str) -> str:
    tables = ", ".join(Table.metadata.tables)
    engine = create_engine(shared_schema)
    with engine.begin() as connection:
        connection.exec_driver_sql(f"TRUNCATE {tables} RESTART IDENTITY")
        connection.exec_driver_sql("INSERT INTO ledger_head VALUES (1, 0, '')")
    engine.dispose()
    return shared_schema


@contextmanager
def schema_in(server: Engine) -> Iterator[str]:
    """A new schema on the server, as a URL; dropped at the end."""
    name = f"coatbell_{uuid.uuid4().hex}"
    with server.connect() as connection:
        connection.exec_driver_sql(f"CREATE SCHEMA {name}")
        # Half an hour off the full hour, so that a lost or doubled time zone shows.
        options = f"-csearch_path={name} -ctimezone=America/St_Johns"
        inside = server.url.update_query_dict({"options": options})
        yield inside.render_as_string(hide_password=False)
        connection.exec_driver_sql(f"DROP SCHEMA {name} CASCADE")


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(START)


@pytest.fixture
def database(url: str) -> Iterator[Database]:
    with Database(url) as opened:
        yield opened


@pytest.fixture
def records(database: Database, clock: FakeClock) -> Records:
    return Records(database, clock)


@pytest.fixture
def sqlite_database(sqlite_url: str) -> Iterator[Database]:
    with Database(sqlite_url) as opened:
        yield opened


@pytest.fixture
def sqlite_records(sqlite_database: Database, clock: FakeClock) -> Records:
    return Records(sqlite_database, clock)
