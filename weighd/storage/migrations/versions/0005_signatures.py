"""Signatures of batches. The record is as it was: what was made before stays unsigned."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "signature",
        sa.Column("station", sa.Text, nullable=False),
        sa.Column("seq", sa.BigInteger, nullable=False),
        sa.Column("key", sa.Text, nullable=False),
        sa.Column("batch", sa.Text, nullable=False),
        sa.Column("entries", sa.Integer, nullable=False),
        sa.Column("head", sa.Text, nullable=False),
        sa.Column("value", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("station", "seq", name="pk_signature"),
        sa.Index("ix_signature_batch", "station", "batch", "entries"),
    )
