"""The views anew: who let somebody act, and how often a batch was countersigned."""

from __future__ import annotations

from alembic import op

from weighd.storage.views import make_views

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    make_views(op.get_bind())
