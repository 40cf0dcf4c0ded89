"""Copies of records that lie in PostgreSQL, by its own programs: pg_dump and pg_restore, and psql to bring back."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from subprocess import DEVNULL, PIPE, Popen
from tempfile import TemporaryFile
from typing import Any

from sqlalchemy import text
from sqlalchemy.engine import URL, make_url

from service.errors import BadInput, NotFound, Unavailable
from service.records.backup import stamp
from service.records.database_errors import in_words
from service.records.files import files_in_words, make_folder, put
from service.records.ledger_lines import COLUMNS, Book, looking, row_of
from service.records.tables import Table
from service.voice import say

PATTERN = "coatbell-????????T??????Z.dump"
OURS = (*Table.metadata.tables, "alembic_version")
WHOLE_NUMBERS = ("number", "mould_id", "replaces")
ESCAPES = {"\\\\": "\\", "\\t": "\t", "\\n": "\n", "\\r": "\r", "\\b": "\b", "\\f": "\f", "\\v": "\v"}


def dumps(folder: Path) -> list[Path]:
    """The copies in `folder`, oldest first."""
    return sorted(folder.glob(PATTERN))


def dump(url: str, folder: Path, now: datetime) -> Path:
    """Copy coatbell's tables into `folder` while they are in use; returns the copy.

    Raises Unavailable: ``pg_dump_missing``, ``pg_dump_failed``, ``disk_full``, ``database_read_only``.
    """
    schema = _schema(url)
    with files_in_words(folder):
        make_folder(folder)
        part = folder / f"unfinished-{os.getpid()}.part"
        try:
            tables = [f'--table="{schema}"."{name}"' for name in OURS]
            _run("pg_dump", ["--format=custom", f"--file={part}", *tables], url)
            return put(part, folder / f"coatbell-{stamp(now)}.dump")
        finally:
            part.unlink(missing_ok=True)


def thin_out_dumps(folder: Path, newest: Path, keep: int) -> None:
    """The newest `keep` copies stay."""
    others = [copy for copy in dumps(folder) if copy != newest]
    for old in others[: max(len(others) - max(keep, 1) + 1, 0)]:
        old.unlink()


def dumped_book(copy: Path) -> Book:
    """The ledger inside a copy, read without a database.

    Raises NotFound or BadInput where it is none, Unavailable where pg_restore is missing.
    """
    if not copy.is_file():
        raise NotFound(
            "back_up_unknown", say("There is no back-up {copy}.", copy=copy), say("Choose one that is there.")
        )
    data = {name: _table(copy, name) for name in ("facts", "ledger_head", "moulds", "site")}
    heads = [(int(row["number"]), row["digest"]) for row in data["ledger_head"] if row["id"] == "1"]
    rows = sorted((row_of(_read(row)) for row in data["facts"]), key=lambda row: row.number)
    zones = [row["time_zone"] for row in data["site"]]
    return Book(
        tuple(rows),
        heads[0] if heads else None,
        frozenset(int(row["id"]) for row in data["moulds"]),
        {},
        zones[0] if zones else None,
    )


def bring_back(url: str, copy: Path, now: datetime) -> str | None:
    """Put a copy in the place of coatbell's tables, in one transaction; coatbell must be stopped.

    Returns the schema in which the old tables are kept; None where there were none. Broken off, nothing is changed.
    Raises BadInput for a copy of other tables, Unavailable where the programs are missing or fail.
    """
    schema = _schema(url)
    if not re.search(rf" TABLE DATA {re.escape(schema)} facts ", _run("pg_restore", ["--list", str(copy)])):
        raise BadInput(
            "back_up_elsewhere",
            say("The back-up {copy} is not of tables in the schema “{schema}”.", copy=copy, schema=schema),
            say("Bring it back with pg_restore into a database of its own, and name that one in site.toml."),
        )
    there = _tables(url, schema)
    kept = f"coatbell_kept_{stamp(now).lower()}" if there else None
    moved = [f'ALTER TABLE "{schema}"."{name}" SET SCHEMA "{kept}";' for name in there]
    _pour(copy, url, [f'CREATE SCHEMA "{kept}";', *moved] if kept else [])
    return kept


def _pour(copy: Path, url: str, first: Sequence[str]) -> None:
    """From pg_restore into psql, in one transaction: if either ends before its time, nothing was done."""
    into = make_url(url)
    arguments = ["--set=ON_ERROR_STOP=1", "--quiet", "--no-psqlrc", "--file=-", f"--dbname={_plain(into)}"]
    out = [_path("pg_restore"), "--no-owner", "--no-privileges", "--file=-", str(copy)]
    with (
        TemporaryFile() as said,
        Popen(
            [_path("psql"), *arguments], stdin=PIPE, stdout=DEVNULL, stderr=said, env=_environment(into)
        ) as psql,
        Popen(out, stdout=PIPE, stderr=said, env=_environment(None)) as restoring,
    ):
        assert psql.stdin is not None
        assert restoring.stdout is not None
        with suppress(BrokenPipeError), psql.stdin:
            psql.stdin.write("".join(f"{line}\n" for line in ["BEGIN;", *first]).encode())
            shutil.copyfileobj(restoring.stdout, psql.stdin)
            if restoring.wait() == 0:
                psql.stdin.write(b"COMMIT;\n")
        restoring.stdout.close()
        if psql.wait() or restoring.wait():
            said.seek(0)
            raise _failed("psql", said.read().decode("utf-8", "replace"))


def _schema(url: str) -> str:
    where = make_url(url)
    with in_words(where.render_as_string(hide_password=True)), looking(where) as connection:
        return str(connection.execute(text("SELECT current_schema()")).scalar_one())


def _tables(url: str, schema: str) -> list[str]:
    """Which of ours are there, those that point at others first."""
    where = make_url(url)
    with in_words(where.render_as_string(hide_password=True)), looking(where) as connection:
        found = connection.execute(
            text("SELECT tablename FROM pg_tables WHERE schemaname = :schema"), {"schema": schema}
        ).scalars()
        return [name for name in found if name in OURS]


def _table(copy: Path, name: str) -> list[Mapping[str, Any]]:
    """A table's rows as text, out of the COPY block in which pg_restore writes them."""
    script = _run("pg_restore", ["--data-only", f"--table={name}", "--file=-", str(copy)])
    return list(_copied(script.split("\n")))


def _copied(lines: Sequence[str]) -> Iterator[Mapping[str, Any]]:
    columns: list[str] | None = None
    for line in lines:
        if columns is None:
            begins = re.match(r"COPY \S+ \((.*)\) FROM stdin;", line)
            columns = begins[1].replace('"', "").split(", ") if begins else None
        elif line == "\\.":
            columns = None
        else:
            yield dict(zip(columns, map(_value, line.split("\t")), strict=True))


def _value(raw: str) -> str | None:
    """As the manual of COPY says of its text format."""
    return None if raw == "\\N" else re.sub(r"\\.", lambda found: ESCAPES.get(found[0], found[0][1:]), raw)


def _read(row: Mapping[str, Any]) -> dict[str, Any]:
    told: dict[str, Any] = {name: row[name] for name in COLUMNS.split(", ")}
    for name in WHOLE_NUMBERS:
        told[name] = None if told[name] is None else int(told[name])
    for name in ("at", "recorded_at"):
        told[name] = datetime.fromisoformat(str(told[name]))
    return told


def _run(program: str, arguments: Sequence[str], url: str | None = None) -> str:
    """Run one of PostgreSQL's programs. The password goes by the environment: others can see a command line."""
    where = make_url(url) if url else None
    done = subprocess.run(
        [_path(program), *([f"--dbname={_plain(where)}"] if where is not None else []), *arguments],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=_environment(where),
        check=False,
    )
    if done.returncode:
        raise _failed(program, done.stderr)
    return done.stdout


def _path(program: str) -> str:
    path = shutil.which(program)
    if path is None:
        raise Unavailable(
            f"{program}_missing",
            say("PostgreSQL's own program {program} is not on this machine.", program=program),
            say(
                "Install PostgreSQL's client programs (on Debian: apt install postgresql-client), or run this "
                "on the machine that holds the database."
            ),
        )
    return path


def _plain(url: URL) -> str:
    """As libpq reads it: without the password, and with blanks written out."""
    plain = url.set(drivername="postgresql")._replace(password=None)
    return plain.render_as_string(hide_password=False).replace("+", "%20")


def _environment(url: URL | None) -> dict[str, str]:
    known = {**os.environ, "PGCLIENTENCODING": "UTF8", "PGTZ": "UTC"}
    return {**known, "PGPASSWORD": str(url.password)} if url is not None and url.password else known


def _failed(program: str, words: str) -> Unavailable | BadInput:
    said = (words.strip().splitlines() or [say("it did not say why")])[0].rstrip(".")
    if "input file" in said:
        return BadInput(
            "back_up_damaged",
            say("The back-up cannot be read: {said}.", said=said),
            say("Choose an older one."),
        )
    return Unavailable(
        f"{program}_failed",
        say("PostgreSQL's program {program} could not do it: {said}.", program=program, said=said),
        say("Nothing was changed. {program} must be as new as the database at least.", program=program),
    )
