"""What a shop sets up in the browser, and the language it speaks."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from service.records.utc import UtcDateTime

revision = "r005"
down_revision = "r004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("site") as site:
        site.add_column(sa.Column("language", sa.String(), nullable=False, server_default="en"))
    op.create_table(
        "set_up",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("part", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("body", sa.String()),
        sa.Column("at", UtcDateTime(), nullable=False),
        sa.Column("hand", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_set_up")),
    )
    op.create_index("ix_set_up_part", "set_up", ["part", "name"])
