"""Corrections: uses of lots say whether another was named first; the views anew."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from weighd.storage.views import make_views

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    # Before this revision nothing could be put right.
    op.add_column("lot_use", sa.Column("corrected", sa.Integer, nullable=False, server_default="0"))
    make_views(op.get_bind())
