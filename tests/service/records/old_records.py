"""Records as the first coatbell wrote them: its migration is run, and rows are put in with plain SQL."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, create_engine, text

from service.records.migrate import FOLDER

Row = Mapping[str, Any]

AT = "2026-03-02 14:20:00.123456"
LATER = "2026-03-02 14:20:01.999999"
OLD_ROWS: dict[str, Sequence[Row]] = {
    "site": [
        {
            "id": 1,
            "name": "Saltmarsh Bronze",
            "altitude_m": 4.0,
            "time_zone": "Europe/London",
            "units": "metric",
            "day_starts_hour": 7,
            "day_ends_hour": 19,
        }
    ],
    "rooms": [{"id": 1, "name": "Shell room", "still_air_m_s": 0.2}],
    "sensors": [
        {"name": "bench", "room_id": 1, "first_heard": AT, "last_good": LATER},
        {"name": "loft; 'north'", "room_id": None, "first_heard": AT, "last_good": None},
    ],
    "memory": [{"name": "last beat", "value": "2026-03-02T14:20:00+00:00"}],
    "moulds": [{"id": 1}],
    "facts": [
        {
            "number": 1,
            "mould_id": 1,
            "kind": "note",
            "at": AT,
            "recorded_at": LATER,
            "hand": "bench 1",
            "body": '{"kind":"note","text":"hung by the door"}',
            "replaces": None,
            "key": "k1",
            "digest": "a" * 64,
        },
        {
            "number": 2,
            "mould_id": 1,
            "kind": "note",
            "at": LATER,
            "recorded_at": LATER,
            "hand": "",
            "body": '{"kind":"note","text":"hung by the window"}',
            "replaces": 1,
            "key": None,
            "digest": "b" * 64,
        },
    ],
    "profiles": [{"mould_id": 1, "fact_number": 2, "at": AT, "blob": "{}"}],
    "readings": [
        {
            "sensor": sensor,
            "quantity": quantity,
            "at": at,
            "value": value,
            "received_at": received,
            "flag": flag,
        }
        for sensor, quantity, at, value, received, flag in (
            ("bench", "air_temperature", AT, 294.15, LATER, None),
            ("bench", "air_temperature", "2026-03-02 14:20:30.000000", 294.1499999999999, LATER, None),
            ("bench", "relative_humidity", AT, 1.0, AT, "clamped"),
            ("loft; 'north'", "weight", "1999-12-31 23:59:59.999999", 4.2, AT, "sensor_clock_wrong"),
            ("loft; 'north'", "weight", "2096-02-29 00:00:00.000001", 1e-300, AT, None),
            ("loft; 'north'", "weight", "2026-10-25 00:59:59.999500", -0.1, AT, None),
        )
    ],
    "rejects": [
        {
            "id": 1,
            "topic": "room/bench",
            "payload": "nan",
            "received_at": AT,
            "reason": "not_finite",
            "words": "That is not a number.",
            "sensor": "bench",
            "quantity": None,
        }
    ],
    "alerts": [
        {
            "id": 1,
            "key": "next-dip-due/1/3",
            "kind": "next dip due",
            "subject": "Redshank",
            "mould_id": 1,
            "since": AT,
            "title": "Redshank: coat 3 of 9",
            "body": "Backup, from the grey tank.",
            "link": "http://127.0.0.1:8321/mould/1",
            "opened_at": AT,
            "cleared_at": None,
        }
    ],
    "deliveries": [
        {
            "id": 1,
            "alert_id": 1,
            "recipient": "bench 1",
            "attempts": 1,
            "next_try_at": None,
            "last_try_at": AT,
            "delivered_at": LATER,
            "error": None,
        }
    ],
}
"""Rows for every table there was, but the head of the ledger, which the first migration fills."""

INSTANTS = {"at", "recorded_at", "received_at", "first_heard", "last_good", "since", "opened_at"}
INSTANTS |= {"cleared_at", "next_try_at", "last_try_at", "delivered_at"}


def write_old_records(url: str, rows: Mapping[str, Sequence[Row]] = OLD_ROWS) -> None:
    """A database at the first revision, with these rows."""
    engine = create_engine(url)
    with engine.begin() as connection:
        migrate_to(connection, "r001")
        for table, some in rows.items():
            for row in some:
                _insert(connection, table, row)
        connection.execute(text("UPDATE ledger_head SET number = 2, digest = :digest"), {"digest": "b" * 64})
    engine.dispose()


def migrate_to(connection: Connection, revision: str) -> None:
    config = Config(attributes={"connection": connection})
    config.set_main_option("script_location", str(FOLDER))
    command.upgrade(config, revision)


def _insert(connection: Connection, table: str, row: Row) -> None:
    """Instants as each database kept them: a text without a zone, or an instant of its own."""
    postgresql = connection.dialect.name == "postgresql"
    held = [
        f"CAST(:{name} AS timestamptz)" if postgresql and name in INSTANTS else f":{name}" for name in row
    ]
    zoned = {
        name: f"{value}+00" if postgresql and name in INSTANTS and value else value
        for name, value in row.items()
    }
    connection.execute(text(f"INSERT INTO {table} ({', '.join(row)}) VALUES ({', '.join(held)})"), zoned)
