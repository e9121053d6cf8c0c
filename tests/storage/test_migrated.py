"""Records with data as each older weighd left them: brought up to date, and then verified."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.storage.files import by_hand, look_of
from tests.storage.kitchens import golden_batches
from weighd.cli.exits import STORE, code_for
from weighd.domain.errors import JournalError
from weighd.domain.record import Tail
from weighd.main.proving import verify_file
from weighd.storage import before_upgrade
from weighd.storage.faults import FOLDER
from weighd.storage.journal import open_journal
from weighd.storage.rows import line, line_row, stored
from weighd.storage.schema import BATCH
from weighd.storage.sqlite import look

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


def opened(path: Path) -> JournalError | None:
    """Open a record as a daemon does; why it could not."""
    try:
        open_journal(path, STATION).close()
    except JournalError as error:
        return error
    return None


def test_before_an_upgrade_a_copy_is_made_and_it_is_the_way_back(tmp_path: Path) -> None:
    path = tmp_path / "weighd.db"
    count = filled(path, "0006")
    assert opened(path) is None
    (copy,) = (tmp_path / FOLDER).iterdir()
    assert copy.name == f"weighd-0006-{count}.db"
    assert copy.stat().st_mode & 0o777 == 0o640
    # What an older weighd would find: its own revision, whole.
    assert look(copy) == "0006"
    with closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert connection.execute("SELECT count(*) FROM entry").fetchone() == (count,)
    # Gone back as docs/how-to/upgrade.md has it, and upgraded again.
    path.rename(tmp_path / "weighd-newer.db")
    shutil.copyfile(copy, path)
    assert look(path) == "0006"
    assert opened(path) is None
    assert verify_file(path).report.entries == count
    assert list((tmp_path / FOLDER).iterdir()) == [copy]
    assert opened(path) is None, "one that is up to date is not copied"


def test_a_record_of_a_newer_weighd_is_left_alone_in_words(tmp_path: Path) -> None:
    path = tmp_path / "weighd.db"
    open_journal(path, STATION).close()
    by_hand(path, "UPDATE alembic_version SET version_num = '9999'")
    before = look_of(tmp_path)
    error = opened(path)
    assert error is not None
    assert (error.code, code_for(error)) == ("store-newer", STORE)
    assert "newer weighd" in str(error) and FOLDER in error.remedy
    assert {name: one for name, one in look_of(tmp_path).items() if name in before} == before
    assert not (tmp_path / FOLDER).exists()


def test_without_room_for_the_copy_nothing_is_touched(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "weighd.db"
    filled(path, "0009")
    before = path.read_bytes()
    monkeypatch.setattr(before_upgrade, "SPARE", 1 << 60)
    error = opened(path)
    assert error is not None
    assert error.code == "store-full"
    assert "a copy is made" in error.message and "MB" in error.message
    assert path.read_bytes() == before
    assert not (tmp_path / FOLDER).exists()


def test_the_newest_copies_stay(tmp_path: Path) -> None:
    path = tmp_path / "weighd.db"
    for number, revision in enumerate(("0007", "0008", "0009", "0010", "0011")):
        path.unlink(missing_ok=True)
        filled(path, revision)
        assert opened(path) is None
        for one in (tmp_path / FOLDER).glob(f"weighd-{revision}-*"):
            os.utime(one, (number, number))
    left = sorted(one.name.split("-")[1] for one in (tmp_path / FOLDER).iterdir())
    assert left == ["0009", "0010", "0011"]
