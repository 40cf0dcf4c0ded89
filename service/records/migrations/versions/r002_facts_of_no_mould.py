"""Facts that are about no mould, such as a tank; and a place for what was worked out of a whole life."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from service.records.utc import UtcDateTime

revision = "r002"
down_revision = "r001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("facts") as facts:
        facts.alter_column("mould_id", existing_type=sa.Integer(), nullable=True)
    op.create_table(
        "worked_out",
        sa.Column("mould_id", sa.Integer(), nullable=False),
        sa.Column("fact_number", sa.Integer(), nullable=False),
        sa.Column("method", sa.String(), nullable=False),
        sa.Column("at", UtcDateTime(), nullable=False),
        sa.Column("blob", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("mould_id", name=op.f("pk_worked_out")),
        sa.ForeignKeyConstraint(["mould_id"], ["moulds.id"], name=op.f("fk_worked_out_mould_id")),
    )
