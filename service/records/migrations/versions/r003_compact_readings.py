"""Readings in a third of the room: whole numbers for the sensor and its quantity, and for the instants.

Instants were kept to the microsecond and still are: they come over exactly, and so does every value.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "r003"
down_revision = "r002"
branch_labels = None
depends_on = None

FLAGS = {"clamped": 1, "sensor_clock_wrong": 2}
"""As they stood in the old rows, and their numbers in the new ones."""

SECONDS_OF_SQLITE = "CAST(strftime('%s', substr({0}, 1, 19)) AS INTEGER)"
MICROSECONDS_OF_SQLITE = "CAST(substr(substr({0}, 21) || '000000', 1, 6) AS INTEGER)"
ON_SQLITE = f"({SECONDS_OF_SQLITE} * 1000000 + {MICROSECONDS_OF_SQLITE})"
ON_POSTGRESQL = "CAST(round(EXTRACT(EPOCH FROM {0}) * 1000000) AS BIGINT)"


def upgrade() -> None:
    op.rename_table("readings", "old_readings")
    _make_tables()
    _carry_over()
    op.drop_table("old_readings")


def _make_tables() -> None:
    op.create_table(
        "series",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sensor", sa.String(), nullable=False),
        sa.Column("quantity", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_series")),
        sa.UniqueConstraint("sensor", "quantity", name=op.f("uq_series_sensor")),
        sa.ForeignKeyConstraint(["sensor"], ["sensors.name"], name=op.f("fk_series_sensor")),
    )
    _free_the_name_of_the_key()
    op.create_table(
        "readings",
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("value", sa.Float(), nullable=False),
        sa.Column("late_us", sa.BigInteger(), nullable=False),
        sa.Column("series_id", sa.Integer(), nullable=False),
        sa.Column("flag", sa.SmallInteger()),
        sa.PrimaryKeyConstraint("series_id", "at_us", name=op.f("pk_readings")),
        sa.ForeignKeyConstraint(["series_id"], ["series.id"], name=op.f("fk_readings_series_id")),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "hours",
        sa.Column("mean", sa.Float(), nullable=False),
        sa.Column("least", sa.Float(), nullable=False),
        sa.Column("most", sa.Float(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("heard", sa.Integer(), nullable=False),
        sa.Column("series_id", sa.Integer(), nullable=False),
        sa.Column("hour", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("series_id", "hour", name=op.f("pk_hours")),
        sa.ForeignKeyConstraint(["series_id"], ["series.id"], name=op.f("fk_hours_series_id")),
        sqlite_with_rowid=False,
    )


def _free_the_name_of_the_key() -> None:
    """PostgreSQL keeps the names of keys apart from their tables, and the new table wants this one."""
    if op.get_bind().dialect.name == "postgresql":
        op.drop_constraint("pk_readings", "old_readings", type_="primary")


def _carry_over() -> None:
    us = ON_POSTGRESQL if op.get_bind().dialect.name == "postgresql" else ON_SQLITE
    at, received = us.format("old.at"), us.format("old.received_at")
    flags = " ".join(f"WHEN '{name}' THEN {number}" for name, number in FLAGS.items())
    op.execute(
        "INSERT INTO series (sensor, quantity) "
        "SELECT DISTINCT sensor, quantity FROM old_readings ORDER BY sensor, quantity"
    )
    op.execute(
        "INSERT INTO readings (series_id, at_us, value, late_us, flag) "
        f"SELECT series.id, {at}, old.value, {received} - {at}, CASE old.flag {flags} END "
        "FROM old_readings AS old JOIN series "
        "ON series.sensor = old.sensor AND series.quantity = old.quantity "
        "ORDER BY 1, 2"
    )
