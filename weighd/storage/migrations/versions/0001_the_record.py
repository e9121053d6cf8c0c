"""The record of a station, and the list of its batches."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "entry",
        sa.Column("station", sa.Text, nullable=False),
        sa.Column("seq", sa.BigInteger, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("batch", sa.Text),
        sa.Column("key", sa.Text),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("prev", sa.Text, nullable=False),
        sa.Column("hash", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("station", "seq", name="pk_entry"),
    )
    op.create_index("ix_entry_batch", "entry", ["station", "batch", "seq"])
    op.create_index("uq_entry_key", "entry", ["station", "key"], unique=True)
    op.create_table(
        "batch",
        sa.Column("station", sa.Text, nullable=False),
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("seq", sa.BigInteger, nullable=False),
        sa.Column("formula", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("batch_g", sa.Text, nullable=False),
        sa.Column("operator", sa.Text, nullable=False),
        sa.Column("opened", sa.Text, nullable=False),
        sa.Column("closed", sa.Text),
        sa.Column("status", sa.Text, nullable=False),
        sa.Column("additions", sa.Integer, nullable=False),
        sa.Column("accepted", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("station", "id", name="pk_batch"),
        sa.ForeignKeyConstraint(
            ["station", "seq"], ["entry.station", "entry.seq"], name="fk_batch_opened_by"
        ),
    )
    op.create_index("uq_batch_seq", "batch", ["station", "seq"], unique=True)
