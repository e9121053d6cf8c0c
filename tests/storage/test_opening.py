"""Opening a file: what is left alone, and what reading leaves behind."""

from __future__ import annotations

import os
import shutil
import struct
from pathlib import Path

import pytest

from tests.storage.entries import STATION, Chain, intact
from tests.storage.files import by_hand, look_of
from weighd.domain.errors import JournalError
from weighd.storage.journal import SqlJournal, open_journal, open_read_only, stations_in


def refused(path: Path, code: str) -> str:
    """Open both ways, see both refused, and see that not a byte or a date moved."""
    before = look_of(path.parent)
    for opener in (open_journal, open_read_only):
        with pytest.raises(JournalError) as caught:
            opener(path, STATION)
        assert caught.value.code == code
        assert caught.value.where == str(path)
        assert caught.value.remedy
    assert look_of(path.parent) == before
    return str(caught.value)


def test_a_newer_record_is_refused_and_not_touched(path: Path) -> None:
    open_journal(path, STATION).close()
    by_hand(path, "UPDATE alembic_version SET version_num = '9999'", "CREATE TABLE scent (a)")
    os.utime(path, (1_700_000_000, 1_700_000_000))
    path.with_name("weighd.db.lock").unlink()
    assert "newer" in refused(path, "store-newer")


def test_a_newer_record_that_died_in_the_middle_is_not_touched(path: Path, tmp_path: Path) -> None:
    journal = open_journal(path, STATION)
    journal.append([Chain().opening("kitchen-0001")])
    journal._store.write(
        lambda c: c.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    )
    (tmp_path / "died").mkdir()
    for name in ("weighd.db", "weighd.db-wal", "weighd.db-shm"):
        shutil.copy2(path.with_name(name), tmp_path / "died" / name)
    journal.close()
    died = tmp_path / "died" / "weighd.db"
    before = {name: look_of(died.parent)[name] for name in ("weighd.db", "weighd.db-wal")}
    for opener in (open_journal, open_read_only):
        with pytest.raises(JournalError) as caught:
            opener(died, STATION)
        assert caught.value.code == "store-newer"
    after = look_of(died.parent)
    assert {name: after[name] for name in before} == before
    assert "weighd.db.lock" not in after


@pytest.mark.parametrize(
    "content",
    [b"x", b"hello, this is a letter\n" * 500, b"SQLite format 3\x00", bytes(4096)],
    ids=["one byte", "a letter", "only the magic", "zeros"],
)
def test_a_file_that_is_no_database_is_not_touched(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    refused(path, "store-not-ours")


def test_another_programs_database_is_not_touched(path: Path) -> None:
    by_hand(path, "CREATE TABLE letters (text)", "INSERT INTO letters VALUES ('dear')")
    refused(path, "store-not-ours")
    by_hand(
        path,
        "CREATE TABLE alembic_version (version_num TEXT)",
        "INSERT INTO alembic_version VALUES ('0001')",
    )
    refused(path, "store-not-ours")


def test_a_folder_is_no_record(tmp_path: Path) -> None:
    (tmp_path / "weighd.db").mkdir()
    for opener in (open_journal, open_read_only):
        with pytest.raises(JournalError) as caught:
            opener(tmp_path / "weighd.db", STATION)
        assert caught.value.code == "store-not-ours"


def test_a_record_that_was_emptied_beside_its_log_is_not_begun_anew(path: Path) -> None:
    path.touch()
    path.with_name("weighd.db-wal").write_bytes(b"a log")
    refused(path, "store-corrupt")


def test_a_record_whose_making_was_cut_short_is_begun_anew(path: Path) -> None:
    """A journal of no pages before (https://sqlite.org/fileformat2.html, 3) beside half a page."""
    head = bytes.fromhex("d9d505f920a163d7") + struct.pack(">5I", 0, 7, 0, 512, 4096)
    path.with_name("weighd.db-journal").write_bytes(head.ljust(512, b"\0"))
    path.write_bytes(bytes(1024) + b"half" * 512)
    with pytest.raises(JournalError) as caught:
        open_read_only(path, STATION)
    assert caught.value.code == "store-not-ours"
    open_journal(path, STATION).close()
    assert open_read_only(path, STATION).tail().seq == 0


def test_an_empty_file_is_begun(path: Path) -> None:
    path.touch()
    open_journal(path, STATION).close()
    assert open_read_only(path, STATION).tail().seq == 0


def test_a_damaged_record_is_called_damaged(path: Path) -> None:
    journal = open_journal(path, STATION)
    chain = Chain()
    for n in range(40):
        journal.append(chain.whole_batch(f"kitchen-{n:04}"))
    journal.close()
    damaged = bytearray(path.read_bytes())
    damaged[4096:] = b"\xa5" * (len(damaged) - 4096)
    path.write_bytes(damaged)
    with pytest.raises(JournalError) as caught:
        list(open_read_only(path, STATION).entries())
    assert caught.value.code == "store-corrupt"


# --- read only ----------------------------------------------------------------------------------


def test_it_is_read_beside_a_running_daemon(journal: SqlJournal, path: Path) -> None:
    chain = Chain()
    journal.append(chain.whole_batch("kitchen-0001"))
    beside = open_read_only(path, STATION)
    names = sorted(one.name for one in path.parent.iterdir())
    assert list(beside.entries()) == list(journal.entries())
    journal.append(chain.whole_batch("kitchen-0002"))
    assert beside.count_batches() == 2
    assert sorted(one.name for one in path.parent.iterdir()) == names
    with pytest.raises(JournalError) as caught:
        beside.append([chain.opening("kitchen-0003")])
    assert caught.value.code == "store-read-only"


def test_reading_a_quiet_record_makes_no_file(journal: SqlJournal, path: Path) -> None:
    journal.append(Chain().whole_batch("kitchen-0001"))
    journal.close()
    path.with_name("weighd.db.lock").unlink()
    before = look_of(path.parent)
    quiet = open_read_only(path, STATION)
    assert len(list(quiet.batch("kitchen-0001"))) == 4
    assert quiet.count_batches() == 1
    assert list(stations_in(path)) == [STATION]
    quiet.close()
    assert look_of(path.parent) == before


def test_a_reader_of_a_quiet_record_sees_a_daemon_that_starts_meanwhile(path: Path) -> None:
    chain = Chain()
    journal = open_journal(path, STATION)
    journal.append([chain.opening("kitchen-0001")])
    journal.append([chain.add("tared", "kitchen-0001") for _ in range(150)])
    journal.close()
    reading = iter(open_read_only(path, STATION).entries())
    first = next(reading)
    journal = open_journal(path, STATION)
    journal.append([chain.add("tared", "kitchen-0001") for _ in range(50)])
    rest = list(reading)
    journal.close()
    assert intact([first, *rest])
    assert len(rest) == 200


def test_what_a_died_daemon_left_in_its_log_is_read(path: Path, tmp_path: Path) -> None:
    journal = open_journal(path, STATION)
    journal.append(Chain().whole_batch("kitchen-0001"))
    (tmp_path / "died").mkdir()
    for name in ("weighd.db", "weighd.db-wal", "weighd.db-shm"):
        shutil.copy2(path.with_name(name), tmp_path / "died" / name)
    journal.close()
    died = tmp_path / "died" / "weighd.db"
    assert died.stat().st_size < 20_000  # the entries stand in the log
    assert len(list(open_read_only(died, STATION).entries())) == 4


def test_a_missing_record_is_not_made_by_reading(path: Path) -> None:
    with pytest.raises(JournalError) as caught:
        open_read_only(path, STATION)
    assert caught.value.code == "store-missing"
    assert look_of(path.parent) == {}
