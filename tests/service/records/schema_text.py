"""A database's tables as plain text: every column, key, reference and index, one a line, in a fixed order."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection, Inspector, inspect, text


def schema_text(connection: Connection) -> str:
    found = inspect(connection)
    tables = sorted(name for name in found.get_table_names() if name != "alembic_version")
    return "\n".join("\n".join(_table(found, connection, name)) + "\n" for name in tables)


def _table(found: Inspector, connection: Connection, name: str) -> Iterator[str]:
    yield f"{name}{_without_rowid(connection, name)}"
    for column in found.get_columns(name):
        yield f"  {column['name']:<16} {_type(column, connection)}"
    key = found.get_pk_constraint(name)
    yield f"  key {key['name']}: {', '.join(key['constrained_columns'])}"
    for unique in sorted(found.get_unique_constraints(name), key=lambda u: str(u["name"])):
        yield f"  unique {unique['name']}: {', '.join(unique['column_names'])}"
    for refers in sorted(found.get_foreign_keys(name), key=lambda f: str(f["name"])):
        to = f"{refers['referred_table']}({', '.join(refers['referred_columns'])})"
        yield f"  refers {refers['name']}: {', '.join(refers['constrained_columns'])} -> {to}"
    for index in sorted(found.get_indexes(name), key=lambda i: str(i["name"])):
        if "duplicates_constraint" not in index:
            columns = ", ".join(str(column) for column in index["column_names"])
            yield f"  {'unique ' if index['unique'] else ''}index {index['name']}: {columns}"


def _type(column: Any, connection: Connection) -> str:
    said = column["type"].compile(connection.dialect)
    counts = " counts up" if "nextval" in str(column["default"]) else ""
    default = f" default {column['default']}" if column["default"] and not counts else ""
    return f"{said}{'' if column['nullable'] else ' not null'}{default}{counts}"


def _without_rowid(connection: Connection, name: str) -> str:
    if connection.dialect.name != "sqlite":
        return ""
    made = connection.execute(
        text("SELECT sql FROM sqlite_master WHERE name = :name"), {"name": name}
    ).scalar()
    return " (without rowid)" if "WITHOUT ROWID" in str(made).upper() else ""
