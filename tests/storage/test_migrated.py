"""Records with data as each older weighd left them: brought up to date, and then verified."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.storage.kitchens import golden_batches
from weighd.domain.record import Tail
from weighd.main.proving import verify_file
from weighd.storage.journal import open_journal
from weighd.storage.rows import line, line_row, stored
from weighd.storage.schema import BATCH

DATABASES = Path(__file__).parents[2] / "fixtures" / "databases"
STATION = "mill"
#: Tables that are drawn from the entries, or beside them: a fixture's own rows do not belong here.
DRAWN = ("lot_use", "lot_sum", "lot_name", "signature", "batch", "entry")


def filled(path: Path, revision: str) -> int:
    """The tables of a revision with real batches in them; how many entries there are."""
    entries = golden_batches(STATION, Tail(), 0, 8)
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.executescript((DATABASES / f"{revision}.sql").read_text("utf-8"))
        there = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
        for table in DRAWN:
            if table in there:
                connection.execute(f"DELETE FROM {table}")
        for one in entries:
            row = stored(one)
            marks = ", ".join(f":{name}" for name in row)
            connection.execute(f"INSERT INTO entry ({', '.join(row)}) VALUES ({marks})", row)
        lines = {}
        for one in entries:
            name = one.body.get("batch")
            made = line(lines[name][1] if name in lines else None, one)
            if made is not None:
                lines[name] = (lines[name][0] if name in lines else one.seq, made)
        names = [column.name for column in BATCH.columns]
        for seq, made in lines.values():
            row = {**line_row(made), "station": STATION, "seq": seq}
            marks = ", ".join(f":{name}" for name in names)
            connection.execute(f"INSERT INTO batch ({', '.join(names)}) VALUES ({marks})", row)
    return len(entries)


@pytest.mark.parametrize("revision", sorted(one.stem for one in DATABASES.glob("*.sql")))
def test_a_record_of_every_older_weighd_verifies_after_it_was_brought_up_to_date(
    tmp_path: Path, revision: str
) -> None:
    path = tmp_path / "weighd.db"
    count = filled(path, revision)
    journal = open_journal(path, STATION)
    if revision >= "0007":  # from then on uses were drawn with each entry, which this did not do
        journal.rebuild_batches()
    journal.close()
    report = verify_file(path).report
    assert (report.entries, report.batches, report.unread) == (count, 8, set())
