"""A ledger with something of every kind in it, and a hand that changes it from outside, on either database."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, create_engine, make_url, text

from service.clock import FakeClock
from service.records.database import Database
from service.records.facts import (
    CheckBody,
    EndedBody,
    FaceBody,
    LearnAnewBody,
    NoteBody,
    PhotoBody,
    ResultBody,
    SensorOnBody,
    TankCheckBody,
    ToldBody,
    WeightBody,
    WiresBody,
    WithdrawnBody,
)
from service.records.store import Records
from tests.service.records.making import START, dip, hang, minutes, mould

PICTURE = b"\xff\xd8 not much of a picture \xff\xd9"
PICTURE_SHA256 = hashlib.sha256(PICTURE).hexdigest()
LAST = 30


def fill(records: Records, clock: FakeClock) -> None:
    """LAST entries: three moulds, dips, wires, checks, corrections, an end, a result, a photo, a tank, a message."""
    first, second, third = (hang(records, name).mould for name in ("Redshank", "Dunlin", "Knot"))
    bodies: list[tuple[int | None, Any, int | None]] = [
        (first, dip(1), None),
        (second, dip(1), None),
        (None, TankCheckBody(tank="grey", flow_s=22.0), None),
        (first, WiresBody(after_coat=1), None),
        (first, CheckBody(verdict="dry"), None),
        (first, dip(2, "grey"), None),
        (first, dip(2, "white"), 9),
        (second, NoteBody(text="“Süß”, said the hand"), None),
        (None, ToldBody(key="a/1", alert="next dip due", title="Dip", recipient="phone", attempts=1), None),
        (second, WeightBody(mass_kg=4.2), None),
        (second, WithdrawnBody(text="wrong mould"), 13),
        (third, mould("Knot II"), 3),
    ]
    photo = PhotoBody(sha256=PICTURE_SHA256, width_px=8, height_px=6, size_bytes=len(PICTURE), coat=1)
    bodies += [(first, photo, None), (first, EndedBody(outcome="dewaxed"), None)]
    bodies += [(first, ResultBody(verdict="sound"), None)]
    bodies += [(third, FaceBody(temperature_k=291.2), None), (third, SensorOnBody(sensor="hoist"), None)]
    bodies += [(None, LearnAnewBody(effect="draught", text="new fan"), None)]
    bodies += [(third, NoteBody(text=f"line {n}"), None) for n in range(LAST - 3 - len(bodies))]
    for number, (mould_id, body, replaces) in enumerate(bodies):
        clock.advance(60)
        hand = f"bench {number % 2 + 1}" if number % 5 else ""
        records.append(
            mould_id, body, minutes(number), hand, replaces, f"key-{number}" if number % 3 else None
        )
    records.save_profile(third, LAST, START, {})


def made(url: str, clock: FakeClock) -> str:
    """The URL again, with that ledger behind it."""
    with Database(url) as database:
        fill(Records(database, clock), clock)
    return url


def keep_picture(folder: Path) -> Path:
    file = folder / "photos" / f"{PICTURE_SHA256}.jpg"
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(PICTURE)
    return file


class Outsider:
    """Somebody with the database's own tools, whom no rule of ours holds back. Everything can be taken back."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def do(self, sql: str, **values: object) -> None:
        self._connection.execute(text(sql), values)

    def column(self, number: int, name: str) -> Any:
        found = self._connection.execute(text(f"SELECT {name} FROM facts WHERE number = :n"), {"n": number})
        return found.scalar_one()

    def change(self, number: int, name: str, value: object) -> None:
        self.do(f"UPDATE facts SET {name} = :value WHERE number = :number", value=value, number=number)

    def remove(self, number: int) -> None:
        self.do("DELETE FROM facts WHERE number = :number", number=number)

    def set_head_back(self, number: int) -> None:
        self.do(
            "UPDATE ledger_head SET number = :n, digest = (SELECT digest FROM facts WHERE number = :n)",
            n=number,
        )

    def swap(self, a: int, b: int) -> None:
        for old, new in ((a, -1), (b, a), (-1, b)):
            self.change(old, "number", new)

    def commit(self) -> None:
        self._connection.commit()


@contextmanager
def outsider(url: str) -> Iterator[Outsider]:
    """What is committed inside is put back at the end."""
    where = make_url(url)
    sqlite = where.get_backend_name() == "sqlite"
    engine = create_engine(where if sqlite else where.set(drivername="postgresql+psycopg"))
    with engine.connect() as connection:
        if not sqlite:
            _let_anything_pass(connection)
        kept = {t: _all(connection, t) for t in ("facts", "ledger_head", "moulds", "profiles")}
        connection.commit()
        try:
            yield Outsider(connection)
        finally:
            connection.rollback()
            for table, rows in kept.items():
                _put_back(connection, table, rows)
            connection.commit()
    engine.dispose()


def _let_anything_pass(connection: Connection) -> None:
    for table in ("facts", "profiles", "worked_out", "taught", "alerts", "deliveries"):
        names = connection.execute(
            text("SELECT conname FROM pg_constraint WHERE conrelid = CAST(:t AS regclass) AND contype = 'f'"),
            {"t": table},
        ).scalars()
        for name in names.all():
            connection.execute(text(f'ALTER TABLE {table} DROP CONSTRAINT "{name}"'))


def _all(connection: Connection, table: str) -> list[dict[str, Any]]:
    return [dict(row._mapping) for row in connection.execute(text(f"SELECT * FROM {table}"))]


def _put_back(connection: Connection, table: str, rows: list[dict[str, Any]]) -> None:
    connection.execute(text(f"DELETE FROM {table}"))
    if rows:
        names = ", ".join(rows[0])
        values = ", ".join(f":{name}" for name in rows[0])
        connection.execute(text(f"INSERT INTO {table} ({names}) VALUES ({values})"), rows)


def dump(file: Path) -> dict[str, list[tuple[Any, ...]]]:
    """Every table of a SQLite file, row by row."""
    with closing(sqlite3.connect(file)) as connection:
        names = [row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {name: sorted(connection.execute(f'SELECT * FROM "{name}"'), key=repr) for name in names}
