"""Batches in process are found without reading every batch."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from tests.storage.entries import STATION
from weighd.storage.journal import open_journal


def test_the_database_does_not_read_every_batch_to_find_them(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    open_journal(path, STATION).close()
    with closing(sqlite3.connect(path)) as connection:
        plan = connection.execute(
            "EXPLAIN QUERY PLAN SELECT id FROM batch WHERE station = ? AND status = ? ORDER BY seq",
            (STATION, "in process"),
        ).fetchall()
    assert [row[3] for row in plan] == [
        "SEARCH batch USING INDEX ix_batch_status (station=? AND status=?)"
    ]
