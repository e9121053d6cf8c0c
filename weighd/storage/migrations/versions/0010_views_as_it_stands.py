"""The views anew: what was put right stands as it is now. The record is as it was."""

from __future__ import annotations

from alembic import op

from weighd.storage.views import make_views

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    make_views(op.get_bind())
