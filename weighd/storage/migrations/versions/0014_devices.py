"""Devices that were paired with the station. The record is as it was."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "device",
        sa.Column("station", sa.Text, nullable=False),
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("may", sa.Text, nullable=False),
        sa.Column("mark", sa.Text, nullable=False),
        sa.Column("since", sa.Text, nullable=False),
        sa.Column("seen", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("station", "id", name="pk_device"),
    )
