"""Batches in process are found by their status. The record is as it was."""

from __future__ import annotations

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index("ix_batch_status", "batch", ["station", "status", "seq"])
