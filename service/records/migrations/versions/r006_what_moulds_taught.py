"""What each mould taught of the shop."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from service.records.utc import UtcDateTime

revision = "r006"
down_revision = "r005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "taught",
        sa.Column("mould_id", sa.Integer(), nullable=False),
        sa.Column("fact_number", sa.Integer(), nullable=False),
        sa.Column("method", sa.String(), nullable=False),
        sa.Column("at", UtcDateTime(), nullable=False),
        sa.Column("blob", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("mould_id", name=op.f("pk_taught")),
        sa.ForeignKeyConstraint(["mould_id"], ["moulds.id"], name=op.f("fk_taught_mould_id")),
    )
