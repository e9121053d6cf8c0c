"""What was learned of the scales. The record is as it was."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "learned",
        sa.Column("station", sa.Text, nullable=False),
        sa.Column("scale", sa.Text, nullable=False),
        sa.Column("identity", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("known", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("station", "scale", name="pk_learned"),
    )
