"""Vessels whose mass was weighed here. The record is as it was."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "vessel",
        sa.Column("station", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("kept", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("station", "name", name="pk_vessel"),
    )
