"""Every record test runs on both databases: a SQLite file, and PostgreSQL where one is given."""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine
from sqlalchemy.engine import make_url

from service.clock import FakeClock
from service.records.database import Database
from service.records.store import Records
from tests.parts import missing
from tests.service.records.making import START

POSTGRESQL = "COATBELL_TEST_POSTGRESQL"
BOTH = ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)]


@pytest.fixture(params=BOTH)
def url(request: pytest.FixtureRequest) -> str:
    """The URL of an empty database: a new file, or a new schema."""
    name = "sqlite_url" if request.param == "sqlite" else "postgresql_url"
    found: str = request.getfixturevalue(name)
    return found


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'coatbell.db'}"


@pytest.fixture
def postgresql_url() -> Iterator[str]:
    given = os.environ.get(POSTGRESQL) or missing(f"Set {POSTGRESQL} to a URL (see .ci/postgresql).")
    schema = f"coatbell_{uuid.uuid4().hex}"
    engine = create_engine(given, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql(f"CREATE SCHEMA {schema}")
        inside = make_url(given).update_query_dict({"options": f"-csearch_path={schema}"})
        yield inside.render_as_string(hide_password=False)
        connection.exec_driver_sql(f"DROP SCHEMA {schema} CASCADE")
    engine.dispose()


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
