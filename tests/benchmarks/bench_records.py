"""How fast readings are stored and found again. Prints figures and asserts nothing.

    python -m tests.benchmarks.bench_records [--rows 1000000]

Four sensors with two quantities each, one reading every 30 s: a million rows are 43 days. SQLite in a temporary
file; PostgreSQL beside it when COATBELL_TEST_POSTGRESQL names a server (see .ci/postgresql).
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from itertools import islice
from pathlib import Path

from sqlalchemy import create_engine

from service.clock import FakeClock
from service.reading import Quantity, Reading
from service.records.database import Database
from service.records.facts import NoteBody
from service.records.store import Records
from tests.service.records.making import hang

START = datetime(2026, 3, 2, tzinfo=UTC)
EVERY_S = 30.0
SENSORS = ["north", "south", "loft", "door"]
QUANTITIES = [Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY]
BATCH, SINGLES, FACTS = 1000, 500, 500


def readings() -> Iterator[Reading]:
    at = START
    while True:
        for sensor in SENSORS:
            for quantity in QUANTITIES:
                yield Reading(sensor, quantity, 294.15 + at.minute / 100, at, at)
        at += timedelta(seconds=EVERY_S)


def seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def store(records: Records, source: Iterator[Reading], rows: int, batch: int) -> float:
    """Rows a second."""
    spent = 0.0
    for _ in range(rows // batch):
        some = list(islice(source, batch))
        spent += seconds(lambda some=some: records.add_readings(some))  # type: ignore[misc]
    return rows / spent


def append(records: Records) -> float:
    """Facts a second, each flushed to the disk."""
    mould = hang(records).mould_id
    spent = seconds(lambda: [records.append(mould, NoteBody(text="x"), START, "b") for _ in range(FACTS)])
    return FACTS / spent


def thin_out(records: Records) -> float:
    """Rows a second, in steps of a day of one quantity of one sensor."""
    began, gone = time.perf_counter(), 0
    while some := records.thin_out_some(START + timedelta(days=10_000)):
        gone += some
    return gone / (time.perf_counter() - began)


def measure(records: Records, rows: int) -> dict[str, str]:
    source = readings()
    single = store(records, source, SINGLES, 1)
    many = store(records, source, rows - SINGLES, BATCH)
    until = max(reading.at for reading in records.newest("north"))
    ten_days = until - timedelta(days=10), until
    found = records.readings(SENSORS[:2], QUANTITIES[0], *ten_days)
    hour = until - timedelta(hours=1), until
    return {
        "single readings stored, rows/s": f"{single:,.0f}",
        f"in batches of {BATCH}, rows/s": f"{many:,.0f}",
        f"last 10 days of 2 sensors ({len(found):,} rows), ms": _ms(
            lambda: records.readings(SENSORS[:2], QUANTITIES[0], *ten_days)
        ),
        "the same, gathered by five minutes, ms": _ms(
            lambda: [records.five_minutes(sensor, QUANTITIES[0], *ten_days) for sensor in SENSORS[:2]]
        ),
        "last hour of 2 sensors, ms": _ms(lambda: records.readings(SENSORS[:2], QUANTITIES[0], *hour)),
        "newest of one sensor, ms": _ms(lambda: records.newest("north")),
        "facts appended, facts/s": f"{append(records):,.0f}",
        f"chain of {FACTS + 1} facts checked, ms": _ms(records.verify_chain),
        "thinned out to hours, rows/s": f"{thin_out(records):,.0f}",
    }


def _ms(work: Callable[[], object]) -> str:
    return f"{1000 * min(seconds(work) for _ in range(3)):,.1f}"


@contextmanager
def databases() -> Iterator[dict[str, str]]:
    """URL by name, each empty; gone at the end."""
    server = os.environ.get("COATBELL_TEST_POSTGRESQL")
    with tempfile.TemporaryDirectory() as folder:
        found = {"SQLite": f"sqlite:///{Path(folder) / 'coatbell.db'}"}
        if not server:
            yield found
            return
        schema = f"bench_{uuid.uuid4().hex}"
        engine = create_engine(server, isolation_level="AUTOCOMMIT")
        with engine.connect() as connection:
            connection.exec_driver_sql(f"CREATE SCHEMA {schema}")
            inside = engine.url.update_query_dict({"options": f"-csearch_path={schema}"})
            yield {**found, "PostgreSQL": inside.render_as_string(hide_password=False)}
            connection.exec_driver_sql(f"DROP SCHEMA {schema} CASCADE")
        engine.dispose()


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rows", type=int, default=1_000_000)
    rows = parser.parse_args().rows
    with databases() as urls:
        columns = {}
        for name, url in urls.items():
            with Database(url) as database:
                columns[name] = measure(Records(database, FakeClock(START)), rows)
                if database.file:
                    columns[name]["file, MB"] = f"{database.file.stat().st_size / 1e6:,.0f}"
    print(f"{rows:,} readings".ljust(52), *(name.rjust(12) for name in columns))
    for line in columns["SQLite"]:
        print(line.ljust(52), *(column.get(line, "").rjust(12) for column in columns.values()))


if __name__ == "__main__":
    main()
