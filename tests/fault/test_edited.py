"""A record edited with the database's own shell: every column of every table, rows taken out, put
in and swapped. Nothing that was changed verifies; and what is drawn from the record can be drawn
again.
"""

from __future__ import annotations

import shutil
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from tests.fault.real_kitchen import DATABASE, STATION, Kitchen
from weighd.domain.errors import JournalError, RecordError
from weighd.main import chain_check
from weighd.main.proving import redraw, verify_file
from weighd.storage.journal import open_journal
from weighd.storage.keys import KEY_FILE, read_station_key
from weighd.storage.schema import BATCH, ENTRY, LOT_NAME, LOT_SUM, LOT_USE, SIGNATURE, Table

#: The record, what is signed of it, and what is drawn from it.
RECORD, DRAWN = (ENTRY, SIGNATURE), (BATCH, LOT_USE, LOT_SUM, LOT_NAME)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two evenings' record and its key."""
    folder = tmp_path_factory.mktemp("made")
    kitchen = Kitchen(folder, lambda _: None, lambda *_: None)
    kitchen.evening(0)
    kitchen.evening(1)
    kitchen.real.close()
    return folder


@pytest.fixture
def record(made: Path, tmp_path: Path) -> Path:
    shutil.copy(made / DATABASE, tmp_path)
    shutil.copy(made / KEY_FILE, tmp_path)
    return tmp_path / DATABASE


def edit(record: Path, *statements: str) -> None:
    with closing(sqlite3.connect(record)) as shell, shell:
        for one in statements:
            shell.execute(one)


def refused(record: Path, *, chain_only: bool = False, trusted: bool = True) -> str:
    """The code of what verification says of it."""
    keys = [read_station_key(record.with_name(KEY_FILE)).key] if trusted else []
    with pytest.raises((RecordError, JournalError)) as caught:
        verify_file(record, keys, chain_only=chain_only)
    assert caught.value.where
    return caught.value.code


def all_rows(record: Path) -> list[object]:
    with closing(sqlite3.connect(record)) as shell:
        return [list(shell.execute(f"SELECT * FROM {one.name}")) for one in (*RECORD, *DRAWN)]


def middle(table: Table) -> str:
    count = f"(SELECT count(*) / 2 FROM {table.name})"
    return f"rowid = (SELECT rowid FROM {table.name} ORDER BY rowid LIMIT 1 OFFSET {count})"


def test_the_record_as_it_was_made_holds_both_ways(record: Path) -> None:
    key = read_station_key(record.with_name(KEY_FILE)).key
    whole, chain = (verify_file(record, [key], chain_only=only) for only in (False, True))
    assert whole.ends == chain.ends
    assert whole.report.signed == chain.report.signed == {key: 2}
    assert (whole.report.unsigned, chain.report.unsigned) == (0, 0)


@pytest.mark.parametrize(
    ("table", "column"),
    [(table, one.name) for table in RECORD for one in table.columns],
    ids=lambda it: getattr(it, "name", it),
)
@pytest.mark.parametrize("value", ["'x'", "NULL", "7", "{} || ' '"])
def test_no_column_of_the_record_can_be_changed(
    record: Path, table: Table, column: str, value: str
) -> None:
    change = f"UPDATE {table.name} SET {column} = {value.format(column)} WHERE {middle(table)}"
    before = all_rows(record)
    try:
        edit(record, change)
    except sqlite3.IntegrityError:
        return  # the database itself refuses it
    if all_rows(record) == before:
        return  # a number with a blank behind it is that number
    assert refused(record)
    if (table, column) not in ((ENTRY, "batch"), (ENTRY, "key")):
        assert refused(record, chain_only=True)


@pytest.mark.parametrize(
    "change",
    [
        f"UPDATE entry SET body = body || ' ' WHERE {middle(ENTRY)}",
        f"DELETE FROM entry WHERE {middle(ENTRY)}",
        "DELETE FROM entry WHERE seq = 1",
        "UPDATE signature SET batch = 'another' WHERE seq = (SELECT min(seq) FROM signature)",
        "UPDATE signature SET value = replace(value, '1', '2')",
        "DELETE FROM signature WHERE seq = (SELECT max(seq) FROM signature)",
        "UPDATE entry SET kind = 'away' WHERE kind = 'addition accepted'",
    ],
)
@pytest.mark.parametrize("size", [3, 8])
def test_in_stretches_the_same_is_found_as_in_one(
    record: Path, change: str, size: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = verify_file(record, chain_only=True)
    monkeypatch.setattr(chain_check, "ProcessPoolExecutor", lambda n, _: ThreadPoolExecutor(n))
    monkeypatch.setattr(chain_check.os, "cpu_count", lambda: 3)
    monkeypatch.setattr(chain_check, "STRETCH", size)
    assert verify_file(record, chain_only=True) == whole
    edit(record, change)
    code = refused(record, chain_only=True)
    monkeypatch.setattr(chain_check, "STRETCH", 20_000)
    assert refused(record, chain_only=True) == code


@pytest.mark.parametrize(
    ("table", "column"),
    [(table, one.name) for table in DRAWN for one in table.columns],
    ids=lambda it: getattr(it, "name", it),
)
def test_what_is_drawn_from_the_record_is_held_against_it_and_drawn_again(
    record: Path, table: Table, column: str
) -> None:
    edit(record, f"UPDATE {table.name} SET {column} = '77' WHERE {middle(table)}")
    assert refused(record) == "list-differs"
    if column == list(table.columns)[-1].name:
        redraw(record)
        verify_file(record)


@pytest.mark.parametrize("table", DRAWN, ids=lambda it: it.name)
@pytest.mark.parametrize("how", ["DELETE FROM {0} WHERE {1}", "DELETE FROM {0}"])
def test_rows_of_a_list_taken_out_are_missed(record: Path, table: Table, how: str) -> None:
    edit(record, how.format(table.name, middle(table)))
    assert refused(record) == "list-differs"
    redraw(record)
    verify_file(record)


SWAP = """UPDATE entry SET {0} = (SELECT {0} FROM entry AS other WHERE other.seq = 13 - entry.seq)
    WHERE seq IN (6, 7)"""
SWAPPED = tuple(SWAP.format(one) for one in ("kind", "at", "body", "hash", "prev"))
TURNED = ("UPDATE entry SET seq = 1000 - seq", "UPDATE entry SET seq = seq - 955")
COPIED = """INSERT INTO entry
    SELECT station, {0}, kind, at, batch, NULL, body, prev, hash FROM entry WHERE seq = 6"""
SIGNED = """INSERT INTO signature
    SELECT station, 1000, key, batch, entries, head, value FROM signature LIMIT 1"""


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        (("DELETE FROM entry WHERE seq = 9",), "entry-missing"),
        (("DELETE FROM entry WHERE seq = 1",), "entry-missing"),
        (("DELETE FROM entry WHERE seq > 40",), "cut-short"),
        (("UPDATE entry SET seq = seq + 1000 WHERE seq = 8",), "entry-missing"),
        (TURNED, "hash-mismatch"),
        (SWAPPED, "hash-mismatch"),
        (("DELETE FROM signature WHERE rowid = 3",), "not-signed"),
        ((COPIED.format(1000),), "hash-mismatch"),
        ((COPIED.format(0),), "unreadable-entry"),
        ((COPIED.format(6.5),), "unreadable-entry"),
        ((SIGNED,), "cut-short"),
    ],
)
def test_entries_taken_out_put_in_or_swapped(
    record: Path, changes: tuple[str, ...], code: str
) -> None:
    edit(record, *changes)
    for chain_only in (False, True):
        assert refused(record, chain_only=chain_only) == code
        # Without a key that is trusted, too: the station signed before, so it would have here.
        assert refused(record, chain_only=chain_only, trusted=False) == code


def test_a_list_that_lost_a_batch_does_not_keep_its_end_from_being_signed(record: Path) -> None:
    kitchen = Kitchen(record.parent, lambda _: None, lambda *_: None)
    kitchen.lot("2 lot 0", "milk")
    kitchen.weigh_all("2", [])
    edit(record, "DELETE FROM batch")
    kitchen.steps("2", kitchen.of(kitchen.journal[-1].body["batch"])[0].body["batch"])
    assert kitchen.journal[-1].kind == "batch closed"
    kitchen.real.close()
    assert refused(record) == "list-differs"
    redraw(record)
    assert sum(verify_file(record).report.signed.values()) == 3


def test_lists_are_not_drawn_again_under_a_running_station(record: Path) -> None:
    journal = open_journal(record, STATION)
    with pytest.raises(JournalError) as caught:
        redraw(record)
    assert caught.value.code == "store-in-use"
    journal.close()
