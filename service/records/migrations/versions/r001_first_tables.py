"""The first tables."""

from __future__ import annotations

from collections.abc import Iterator

import sqlalchemy as sa
from alembic import op

from service.records.utc import UtcDateTime

revision = "r001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    _shop()
    _facts()
    _air()
    _alerts()


def _shop() -> None:
    op.create_table(
        "site",
        _number("id"),
        _text("name"),
        sa.Column("altitude_m", sa.Float(), nullable=False),
        _text("time_zone"),
        _text("units"),
        sa.Column("day_starts_hour", sa.Integer(), nullable=False),
        sa.Column("day_ends_hour", sa.Integer(), nullable=False),
        *_key("site", "id"),
    )
    op.create_table(
        "rooms",
        sa.Column("id", sa.Integer(), nullable=False),
        _text("name"),
        sa.Column("still_air_m_s", sa.Float(), nullable=False),
        *_key("rooms", "id", unique=("name",)),
    )
    op.create_table(
        "sensors",
        _text("name"),
        sa.Column("room_id", sa.Integer()),
        _instant("first_heard"),
        _instant("last_good", maybe=True),
        *_key("sensors", "name", refers={"room_id": "rooms.id"}),
    )
    op.create_table("memory", _text("name"), _text("value"), *_key("memory", "name"))


def _facts() -> None:
    op.create_table("moulds", sa.Column("id", sa.Integer(), nullable=False), *_key("moulds", "id"))
    op.create_table(
        "facts",
        _number("number"),
        sa.Column("mould_id", sa.Integer(), nullable=False),
        _text("kind"),
        _instant("at"),
        _instant("recorded_at"),
        _text("hand"),
        _text("body"),
        sa.Column("replaces", sa.Integer()),
        _text("key", maybe=True),
        _text("digest"),
        *_key(
            "facts",
            "number",
            unique=("replaces", "key"),
            refers={"mould_id": "moulds.id", "replaces": "facts.number"},
        ),
    )
    op.create_index("ix_facts_mould_id", "facts", ["mould_id"])
    op.create_index("ix_facts_kind", "facts", ["kind"])
    head = op.create_table(
        "ledger_head",
        _number("id"),
        sa.Column("number", sa.Integer(), nullable=False),
        _text("digest"),
        *_key("ledger_head", "id"),
    )
    op.bulk_insert(head, [{"id": 1, "number": 0, "digest": ""}])
    op.create_table(
        "profiles",
        sa.Column("mould_id", sa.Integer(), nullable=False),
        sa.Column("fact_number", sa.Integer(), nullable=False),
        _instant("at"),
        _text("blob"),
        *_key("profiles", "mould_id", refers={"mould_id": "moulds.id"}),
    )


def _air() -> None:
    op.create_table(
        "readings",
        _text("sensor"),
        _text("quantity"),
        _instant("at"),
        sa.Column("value", sa.Float(), nullable=False),
        _instant("received_at"),
        _text("flag", maybe=True),
        *_key("readings", "sensor", "quantity", "at", refers={"sensor": "sensors.name"}),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "rejects",
        sa.Column("id", sa.Integer(), nullable=False),
        _text("topic"),
        _text("payload"),
        _instant("received_at"),
        _text("reason"),
        _text("words"),
        _text("sensor", maybe=True),
        _text("quantity", maybe=True),
        *_key("rejects", "id"),
    )
    op.create_index("ix_rejects_sensor", "rejects", ["sensor"])


def _alerts() -> None:
    op.create_table(
        "alerts",
        sa.Column("id", sa.Integer(), nullable=False),
        _text("key"),
        _text("kind"),
        _text("subject"),
        sa.Column("mould_id", sa.Integer()),
        _instant("since", maybe=True),
        _text("title"),
        _text("body"),
        _text("link"),
        _instant("opened_at"),
        _instant("cleared_at", maybe=True),
        *_key("alerts", "id", unique=("key",), refers={"mould_id": "moulds.id"}),
    )
    op.create_table(
        "deliveries",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("alert_id", sa.Integer(), nullable=False),
        _text("recipient"),
        sa.Column("attempts", sa.Integer(), nullable=False),
        _instant("next_try_at", maybe=True),
        _instant("last_try_at", maybe=True),
        _instant("delivered_at", maybe=True),
        _text("error", maybe=True),
        *_key("deliveries", "id", refers={"alert_id": "alerts.id"}),
    )
    op.create_index("ix_deliveries_alert_id", "deliveries", ["alert_id"])
    op.create_index("ix_deliveries_waiting", "deliveries", ["delivered_at", "next_try_at"])


def _text(name: str, maybe: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.String(), nullable=maybe)


def _instant(name: str, maybe: bool = False) -> sa.Column[object]:
    return sa.Column(name, UtcDateTime(), nullable=maybe)


def _number(name: str) -> sa.Column[int]:
    """A key that coatbell counts up itself."""
    return sa.Column(name, sa.Integer(), autoincrement=False, nullable=False)


def _key(
    table: str, *columns: str, unique: tuple[str, ...] = (), refers: dict[str, str] | None = None
) -> Iterator[sa.Constraint]:
    yield sa.PrimaryKeyConstraint(*columns, name=op.f(f"pk_{table}"))
    for column in unique:
        yield sa.UniqueConstraint(column, name=op.f(f"uq_{table}_{column}"))
    for column, target in (refers or {}).items():
        yield sa.ForeignKeyConstraint([column], [target], name=op.f(f"fk_{table}_{column}"))
