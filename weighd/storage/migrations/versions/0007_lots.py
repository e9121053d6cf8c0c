"""What additions drew from lots, out of the entries there are. The record is as it was."""

from __future__ import annotations

import json
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

_PAGE = 200


def upgrade() -> None:
    use = op.create_table(
        "lot_use",
        sa.Column("station", sa.Text, nullable=False),
        sa.Column("seq", sa.BigInteger, nullable=False),
        sa.Column("part", sa.Integer, nullable=False),
        sa.Column("batch", sa.Text, nullable=False),
        sa.Column("addition", sa.Integer, nullable=False),
        sa.Column("lot", sa.Text, nullable=False),
        sa.Column("ingredient", sa.Text, nullable=False),
        sa.Column("g", sa.Text, nullable=False),
        sa.Column("u_g", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("station", "seq", "part", name="pk_lot_use"),
    )
    op.create_index("ix_lot_use_lot", "lot_use", ["station", "lot", "seq"])
    op.create_index("ix_lot_use_batch", "lot_use", ["station", "batch", "seq"])
    total = op.create_table(
        "lot_sum",
        sa.Column("station", sa.Text, nullable=False),
        sa.Column("lot", sa.Text, nullable=False),
        sa.Column("g", sa.Text, nullable=False),
        sa.Column("u2", sa.Text, nullable=False),
        sa.Column("uses", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("station", "lot", name="pk_lot_sum"),
    )
    # At this revision an addition has one lot, or none.
    sums: dict[tuple[str, str], tuple[Decimal, Decimal, int]] = {}
    for page in _acceptances():
        rows = [row for row in map(_row, page) if row is not None]
        if rows:
            op.bulk_insert(use, rows)
        for row in rows:
            if row["lot"]:
                at = (row["station"], row["lot"])
                g, u2, uses = sums.get(at, (Decimal(0), Decimal(0), 0))
                square = (Decimal(row["u_g"]) ** 2).quantize(Decimal("1E-12"))
                sums[at] = (g + Decimal(row["g"]), u2 + square, uses + 1)
    if sums:
        told = [
            {"station": station, "lot": lot, "g": f"{g:f}", "u2": f"{u2:f}", "uses": uses}
            for (station, lot), (g, u2, uses) in sums.items()
        ]
        op.bulk_insert(total, told)


def _acceptances() -> Iterator[list[Any]]:
    entry = sa.table("entry", *(sa.column(name) for name in ("station", "seq", "kind", "body")))
    wanted = sa.select(entry.c.station, entry.c.seq, entry.c.body).order_by(
        entry.c.station, entry.c.seq
    )
    wanted = wanted.where(entry.c.kind == "addition accepted")
    after: tuple[str, int] = ("", 0)
    while True:
        station, seq = after
        here = sa.or_(
            entry.c.station > station, sa.and_(entry.c.station == station, entry.c.seq > seq)
        )
        page = list(op.get_bind().execute(wanted.where(here).limit(_PAGE)))
        yield page
        if len(page) < _PAGE:
            return
        after = (page[-1].station, page[-1].seq)


def _row(row: Any) -> dict[str, Any] | None:
    """What an acceptance drew; ``None`` where it cannot be read."""
    try:
        body = json.loads(row.body)
        g, u_g = Decimal(body["net_g"]), Decimal(body.get("u_g", "0"))
        return {
            "station": row.station,
            "seq": row.seq,
            "part": 0,
            "batch": str(body["batch"]),
            "addition": int(body["addition"]),
            "lot": str(body.get("lot", "")),
            "ingredient": str(body.get("ingredient")),
            "g": f"{g:f}",
            "u_g": f"{u_g:f}",
        }
    except (ArithmeticError, AttributeError, KeyError, TypeError, ValueError, RecursionError):
        return None
