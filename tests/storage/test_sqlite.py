"""The SQLite file: how it is written, who may write it, and what edits by hand come to."""

from __future__ import annotations

import sqlite3
import tracemalloc
from contextlib import closing
from pathlib import Path

import pytest

from tests.storage.entries import STATION, Chain, intact
from tests.storage.files import by_hand
from weighd.domain.errors import JournalError
from weighd.storage import schema
from weighd.storage.journal import SqlJournal, open_journal, open_read_only, stations_in
from weighd.storage.lock import FileLock


def test_it_is_there_again_when_opened_again(path: Path) -> None:
    chain = Chain()
    first = open_journal(path, STATION)
    first.append(chain.whole_batch("kitchen-0001"))
    first.append([chain.opening("kitchen-0002", key="k")])
    seen = list(first.entries()), list(first.batches()), first.tail()
    first.close()
    second = open_journal(path, STATION)
    assert (list(second.entries()), list(second.batches()), second.tail()) == seen
    assert [one.seq for one in second.open_batch()] == [5]
    second.close()


def test_the_body_stands_in_the_file_as_it_was_hashed(journal: SqlJournal, path: Path) -> None:
    from weighd.domain.record import canonical

    entry = Chain().add("tared", "kitchen-0001", t=12.0, tare_g="251.30", ö="\u2028")
    journal.append([entry])
    with closing(sqlite3.connect(path)) as connection:
        ((text,),) = connection.execute("SELECT body FROM entry")
    assert text.encode() == canonical(entry.body)


def test_the_folder_of_a_new_record_is_made(tmp_path: Path) -> None:
    path = tmp_path / "a" / "b c?%#" / "weighd.db"
    journal = open_journal(path, STATION)
    journal.append([Chain().opening("kitchen-0001")])
    journal.close()
    assert sorted(one.name for one in path.parent.iterdir()) == ["weighd.db", "weighd.db.lock"]
    assert open_read_only(path, STATION).tail().seq == 1


def test_every_commit_is_synced_and_the_log_is_kept(journal: SqlJournal) -> None:
    # sqlite.org/pragma.html: 2 is FULL, "WAL mode with synchronous=FULL is durable" (from memory).
    def pragma(name: str) -> object:
        return journal._store.write(lambda c: c.exec_driver_sql(f"PRAGMA {name}").scalar())

    assert pragma("journal_mode") == "wal"
    assert pragma("synchronous") == 2
    assert pragma("foreign_keys") == 1
    assert pragma("busy_timeout") == 2000


def test_two_stations_share_a_file_and_not_a_chain(path: Path) -> None:
    for station in ("kitchen", "cellar"):
        journal = open_journal(path, station)
        journal.append(Chain(station=station).whole_batch("0001"))
        assert journal.tail().seq == 4
        assert journal.count_batches() == 1
        assert {one.station for one in journal.entries()} == {station}
        journal.close()
    assert list(stations_in(path)) == ["cellar", "kitchen"]
    with pytest.raises(JournalError) as caught:
        open_read_only(path)
    assert caught.value.code == "several-stations"
    assert "cellar, kitchen" in str(caught.value)
    assert open_read_only(path, "cellar").tail().seq == 4


def test_the_only_station_of_a_file_need_not_be_named(journal: SqlJournal, path: Path) -> None:
    assert list(open_read_only(path).entries()) == []
    journal.append(Chain().whole_batch("kitchen-0001"))
    assert len(open_read_only(path).batch("kitchen-0001")) == 4


def test_a_second_daemon_is_refused_and_may_come_when_the_first_is_gone(path: Path) -> None:
    first = open_journal(path, STATION)
    with pytest.raises(JournalError) as caught:
        open_journal(path, STATION)
    assert caught.value.code == "store-in-use"
    assert str(path) in str(caught.value)
    first.append([Chain().opening("kitchen-0001")])
    first.close()
    open_journal(path, STATION).close()


def test_a_file_reached_by_another_name_is_the_same_file(path: Path, tmp_path: Path) -> None:
    first = open_journal(path, STATION)
    link = tmp_path / "link.db"
    link.symlink_to(path)
    with pytest.raises(JournalError) as caught:
        open_journal(link, STATION)
    assert caught.value.code == "store-in-use"
    first.close()


def test_an_open_that_fails_lets_go_of_the_lock(path: Path) -> None:
    open_journal(path, STATION).close()
    by_hand(path, "UPDATE alembic_version SET version_num = '9999'")
    with pytest.raises(JournalError):
        open_journal(path, STATION)
    by_hand(path, f"UPDATE alembic_version SET version_num = '{schema.REVISIONS[-1]}'")
    FileLock(path).release()
    open_journal(path, STATION).close()


def test_an_entry_edited_by_hand_is_read_as_it_stands(journal: SqlJournal, path: Path) -> None:
    journal.append(Chain().whole_batch("kitchen-0001"))
    by_hand(path, "UPDATE entry SET body = replace(body, '500.10', '499.90') WHERE seq = 2")
    entries = list(journal.entries())
    assert entries[1].body["net_g"] == "499.90"
    assert not intact(entries)


@pytest.mark.parametrize("body", ["", "{", "[]", "7", "[" * 100_000])
def test_an_entry_that_is_no_json_any_more_is_named(
    journal: SqlJournal, path: Path, body: str
) -> None:
    journal.append(Chain().whole_batch("kitchen-0001"))
    by_hand(path, f"UPDATE entry SET body = '{body}' WHERE seq = 3")
    with pytest.raises(JournalError) as caught:
        list(journal.entries())
    assert caught.value.code == "unreadable-entry"
    assert caught.value.where == "entry 3"
    assert [one.seq for one in journal.entries(limit=2)] == [1, 2]


def test_the_list_of_batches_is_drawn_again_from_the_entries(
    journal: SqlJournal, path: Path
) -> None:
    chain = Chain()
    for n in range(30):
        journal.append(chain.whole_batch(f"kitchen-{n:04}"))
    journal.append([chain.opening("kitchen-0099"), chain.weighing("kitchen-0099")])
    listed = list(journal.batches())
    by_hand(path, "DELETE FROM batch WHERE id < 'kitchen-0010'", "UPDATE batch SET accepted = 9")
    assert list(journal.batches()) != listed
    assert journal.rebuild_batches() == 31
    assert list(journal.batches()) == listed
    by_hand(path, "UPDATE entry SET body = '[]' WHERE seq = 5")
    with pytest.raises(JournalError):
        journal.rebuild_batches()
    assert list(journal.batches()) == listed


def test_a_reader_keeps_little_of_the_record_for_itself(journal: SqlJournal) -> None:
    # sqlite.org/pragma.html, cache_size: below zero it is kibibytes (from memory).
    kept = journal._store.read(lambda c: c.exec_driver_sql("PRAGMA cache_size").scalar())
    assert kept == -512


def test_memory_stays_flat_when_all_entries_are_read(journal: SqlJournal) -> None:
    chain = Chain()
    journal.append([chain.opening("kitchen-0001")])
    for _ in range(30):
        journal.append([chain.weighing("kitchen-0001") for _ in range(100)])
    next(iter(journal.entries()))  # what is loaded once is not counted
    tracemalloc.start()
    count = sum(1 for _ in journal.entries())
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert count == 3001
    whole = sum(len(str(one.body)) for one in journal.entries())
    assert most < whole / 2


def test_checks_are_found_by_the_index_of_batches_and_not_by_reading_everything(
    journal: SqlJournal, path: Path
) -> None:
    journal.append(Chain().whole_batch("kitchen-0001"))
    wanted = (
        "EXPLAIN QUERY PLAN SELECT * FROM entry WHERE station = 'kitchen' AND batch IS NULL "
        "AND kind = 'scale checked' ORDER BY seq DESC LIMIT 10"
    )
    with closing(sqlite3.connect(path)) as connection:
        (step,) = connection.execute(wanted).fetchall()
    assert "SEARCH entry USING INDEX ix_entry_batch" in step[-1]
