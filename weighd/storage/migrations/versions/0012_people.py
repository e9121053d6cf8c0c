"""People with PINs and rights. The record is as it was."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "person",
        sa.Column("station", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("rights", sa.Text, nullable=False),
        sa.Column("pin", sa.Text, nullable=False),
        sa.Column("since", sa.Text, nullable=False),
        sa.Column("retired", sa.Text, nullable=False),
        sa.Column("wrong", sa.Integer, nullable=False),
        sa.Column("wrong_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("station", "name", name="pk_person"),
    )
