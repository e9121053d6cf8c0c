"""The views anew: weighings say which lots they were taken from. The record is as it was."""

from __future__ import annotations

from alembic import op

from weighd.storage.views import make_views

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    make_views(op.get_bind())
