"""Every attempt to tell somebody, what they said to it, ways that refused for good, and browsers to push to."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from service.records.utc import UtcDateTime

revision = "r004"
down_revision = "r003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("alerts") as alerts:
        alerts.add_column(sa.Column("dip_before", UtcDateTime()))
        alerts.add_column(sa.Column("tank", sa.String()))
    _tries()
    _replies()
    _ways_off()
    _pushes()


def _tries() -> None:
    op.create_table(
        "tries",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("delivery_id", sa.Integer(), nullable=False),
        sa.Column("way", sa.String(), nullable=False),
        sa.Column("repeat", sa.Boolean(), nullable=False),
        sa.Column("begun_at", UtcDateTime(), nullable=False),
        sa.Column("ended_at", UtcDateTime()),
        sa.Column("outcome", sa.String()),
        sa.Column("words", sa.String()),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tries")),
        sa.ForeignKeyConstraint(["delivery_id"], ["deliveries.id"], name=op.f("fk_tries_delivery_id")),
    )
    op.create_index("ix_tries_delivery_id", "tries", ["delivery_id"])


def _replies() -> None:
    op.create_table(
        "replies",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("alert_id", sa.Integer(), nullable=False),
        sa.Column("person", sa.String(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("at", UtcDateTime(), nullable=False),
        sa.Column("until", UtcDateTime()),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_replies")),
        sa.ForeignKeyConstraint(["alert_id"], ["alerts.id"], name=op.f("fk_replies_alert_id")),
    )
    op.create_index("ix_replies_alert_id", "replies", ["alert_id"])


def _ways_off() -> None:
    op.create_table(
        "ways_off",
        sa.Column("recipient", sa.String(), nullable=False),
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("way", sa.String(), nullable=False),
        sa.Column("since", UtcDateTime(), nullable=False),
        sa.Column("words", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("recipient", "mark", name=op.f("pk_ways_off")),
    )


def _pushes() -> None:
    op.create_table(
        "push_subscriptions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person", sa.String(), nullable=False),
        sa.Column("device", sa.String(), nullable=False),
        sa.Column("endpoint", sa.String(), nullable=False),
        sa.Column("p256dh", sa.String(), nullable=False),
        sa.Column("auth", sa.String(), nullable=False),
        sa.Column("made_at", UtcDateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_push_subscriptions")),
        sa.UniqueConstraint("endpoint", name=op.f("uq_push_subscriptions_endpoint")),
    )
