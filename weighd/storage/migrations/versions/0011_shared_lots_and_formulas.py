"""What lots are called at each station, what others drew, and revisions of formulas for all.

The record is as it was: the names are drawn from the receipts that there are. The uses of lots get
indexes that serve one station and all of them.
"""

from __future__ import annotations

import json

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    names = op.create_table(
        "lot_name",
        sa.Column("station", sa.Text, nullable=False),
        sa.Column("lot", sa.Text, nullable=False),
        sa.Column("origin", sa.Text, nullable=False),
        sa.Column("code", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("station", "lot", name="pk_lot_name"),
    )
    op.create_index("ix_lot_name_code", "lot_name", ["code", "origin"])
    own = sa.text("station = origin")
    op.create_index("ix_lot_name_own", "lot_name", ["code"], sqlite_where=own, postgresql_where=own)
    op.create_table(
        "heard",
        sa.Column("station", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("sums", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("station", name="pk_heard"),
    )
    op.create_table(
        "formula_revision",
        sa.Column("number", sa.BigInteger, nullable=False, autoincrement=False),
        sa.Column("formula", sa.Text, nullable=False),
        sa.Column("revision", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("content", sa.Text, nullable=False),
        sa.Column("station", sa.Text, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_formula_revision"),
    )
    op.create_index("ix_formula_revision", "formula_revision", ["formula", "number"])
    for column in ("lot", "batch"):
        op.drop_index(f"ix_lot_use_{column}", "lot_use")
        op.create_index(f"ix_lot_use_{column}", "lot_use", [column, "station", "seq"])
    entry = sa.table(
        "entry", *(sa.column(it) for it in ("station", "seq", "kind", "batch", "body"))
    )
    wanted = sa.select(entry.c.station, entry.c.body).where(
        entry.c.batch.is_(None), entry.c.kind == "lot received"
    )
    found: dict[tuple[str, str], dict[str, str]] = {}
    for station, text in op.get_bind().execute(wanted.order_by(entry.c.station, entry.c.seq)):
        try:
            body = json.loads(text)
            lot = str(body["lot"])
        except (KeyError, TypeError, ValueError, RecursionError):
            continue
        if "corrects" not in body:
            row = {"station": station, "lot": lot, "origin": station, "code": lot}
            found.setdefault((station, lot), row)
    if found:
        op.bulk_insert(names, list(found.values()))
