"""Views for whoever asks with SQL. The record is as it was.

Views hold nothing, so they are made as this weighd has them, whatever they were then. A revision
that changes them makes them anew likewise.
"""

from __future__ import annotations

from alembic import op

from weighd.storage.views import make_views

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    make_views(op.get_bind())
