"""Old batches put away: proofs, stock and traces go on, and nothing is lost on the way."""

from __future__ import annotations

import gzip
import json
import os
import shutil
import signal
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from tests.forked import run
from tests.station.old_batches import dated, lot_received
from tests.station.test_proving import recorded
from weighd.config import load
from weighd.domain.away import AWAY, PUT_AWAY, stub_of
from weighd.domain.canonical_json import canonical_text
from weighd.domain.errors import JournalError, OperatorError, RecordError
from weighd.domain.fold import fold
from weighd.main import archiving
from weighd.main.archiving import archive, batch_in, plan_archive, verify_archive_file, verify_with
from weighd.main.daemon import DATABASE, Daemon
from weighd.main.everything import verify_folder, write_everything
from weighd.main.proving import export_batch, head_of, verify_file
from weighd.station.lot_history import lots_in
from weighd.storage.journal import open_journal, open_read_only
from weighd.storage.keys import KEY_FILE, station_key
from weighd.storage.shelf import FormulaShelf

LOT = "LOT-01"
BATCHES = ("mill-0001", "mill-0002", "mill-0003")
STEPS = (
    "verified",
    "archive written",
    "archive verified",
    "before the change",
    "put away",
    "room given back",
)


@pytest.fixture(scope="module")
def kitchen(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a station with three batches of three years, signed, two out of a lot."""
    tmp_path = tmp_path_factory.mktemp("kitchen")
    plain = recorded("plain")
    station = plain[0].station
    accepted = (one.body for one in plain if one.kind == "addition accepted")
    first = next(one for one in accepted if one["lot"] == LOT)
    path = tmp_path / "weighd.toml"
    path.write_text(f'[station]\nname = "{station}"\ndata = "data"\n')
    journal = open_journal(tmp_path / "data" / DATABASE, station)
    journal.signer = station_key(tmp_path / "data" / KEY_FILE)
    goods = {"ingredient": first["ingredient"], "name": "Goods", "quantity_g": "50000"}
    lot_received(journal, LOT, goods, "2020-01-01T08:00:00.000Z")
    for n, batch in enumerate(BATCHES):
        source = recorded("over-pour") if n == 1 else plain
        for one in dated(source, journal.tail(), batch, f"202{n}"):
            journal.append([one])
    journal.close()
    return tmp_path


@pytest.fixture(scope="module")
def emptied(kitchen: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same with two batches put away."""
    folder = tmp_path_factory.mktemp("emptied") / "kitchen"
    shutil.copytree(kitchen, folder)
    away(folder / "weighd.toml")
    return folder


@pytest.fixture
def config(kitchen: Path, tmp_path: Path) -> Path:
    """A copy of the station, to do something to."""
    shutil.copytree(kitchen, tmp_path / "here")
    return tmp_path / "here" / "weighd.toml"


@pytest.fixture
def less(emptied: Path, tmp_path: Path) -> Path:
    """A copy of the one with two batches put away."""
    shutil.copytree(emptied, tmp_path / "here")
    return tmp_path / "here" / "weighd.toml"


def database(config: Path) -> Path:
    settings = load(config)
    return settings.place(settings.station.data) / DATABASE


def away(config: Path, before: str = "2022-01-01", **more: Any) -> archiving.Done:
    return archive(config, before, config.parent / "old.gz", "Ada", "three years are over", **more)


def stood(config: Path) -> dict[str, Any]:
    """What has to be the same afterwards: lots, traces, lists, hashes."""
    journal = open_read_only(database(config))
    try:
        return {
            "lots": lots_in(journal),
            "drawn": dict(journal.drawn()),
            "uses": list(journal.uses_of_lots([LOT])),
            "in": [list(journal.uses_in_batches([one])) for one in BATCHES],
            "list": list(journal.batches()),
            "signed": list(journal.signatures()),
        }
    finally:
        journal.close()


def code(it: Callable[[], object]) -> str:
    with pytest.raises((RecordError, JournalError, OperatorError)) as caught:
        it()
    assert caught.value.message
    return caught.value.code


def test_it_says_what_would_go_and_changes_nothing(config: Path) -> None:
    before = database(config).read_bytes()
    done = run("archive", "--config", config, "--before", "2022-01-01")
    assert (done.returncode, done.stderr) == (0, "")
    assert "mill-0001: opened 2020" in done.stdout
    assert "2 batches over before 2022-01-01 would go" in done.stdout
    assert "Nothing was changed" in done.stdout
    assert database(config).read_bytes() == before


def test_what_is_put_away_leaves_chain_heads_stock_and_traces_as_they_were(config: Path) -> None:
    path, was, size = database(config), stood(config), database(config).stat().st_size
    head = config.parent / "head.json"
    head.write_text(json.dumps(head_of(config).as_json()))
    key = station_key(path.with_name(KEY_FILE)).key
    done = away(config)
    assert [one.id for one in done.plan.batches] == ["mill-0001", "mill-0002"]
    assert path.stat().st_size == size - done.freed
    assert done.freed > 0
    assert {**stood(config)} == was
    assert was["lots"][0].used_g > 0
    # By itself: what is away is said, everything else holds, with the key and the head from before.
    report = verify_file(path, [key], [head]).report
    assert (report.batches, report.away) == (1, 2)
    assert report.archives == {"old.gz": done.sha256}
    assert report.signed == {key: 3}
    # With the archive all of it is verified again; and the archive by itself.
    report = verify_with(path, [key], [head], [done.archive]).report
    assert (report.batches, report.away) == (3, 0)
    assert verify_archive_file(done.archive, [key]).report.batches == 2
    one = config.parent / "one.json"
    one.write_text(json.dumps(batch_in(done.archive, "mill-0002")))
    assert verify_file(one, [key]).report.batches == 1
    # The lists can be drawn again from what is there.
    journal = open_journal(path, load(config).station.name)
    assert journal.rebuild_batches() == 3
    journal.close()
    assert {**stood(config)} == was


def test_a_batch_that_is_away_is_told_to_be(config: Path) -> None:
    done = away(config)
    path = database(config)
    assert code(lambda: export_batch(path, "mill-0001")) == "put-away"
    journal = open_read_only(path)
    with pytest.raises(RecordError) as caught:
        fold(journal.batch("mill-0001"))
    assert "old.gz" in caught.value.message
    (entry,) = journal.newest(PUT_AWAY)
    assert (entry.body["by"], entry.body["reason"]) == ("Ada", "three years are over")
    # What people ask with SQL counts what is there.
    journal.close()
    with closing(sqlite3.connect(path)) as connection:
        rows = connection.execute("SELECT DISTINCT batch FROM weighings").fetchall()
    assert rows == [("mill-0003",)]
    shown = run("verify", path, "--archive", done.archive)
    assert (shown.returncode, shown.stderr) == (0, "")
    assert "3 batches" in shown.stdout
    # The station goes on, and can put away more, next to the first.
    settings = load(config)
    daemon = Daemon(settings, [], FormulaShelf(settings.place(settings.station.formulas)))
    assert list(daemon.station.wake()) == []
    daemon.journal.close()
    more = archive(config, "2023-01-01", config.parent / "more.gz", "Ada", "another year")
    assert [one.id for one in more.plan.batches] == ["mill-0003"]
    assert verify_file(path).report.away == 3
    both = verify_with(path, [], [], [done.archive, more.archive]).report
    assert (both.batches, both.away) == (3, 0)
    assert verify_with(path, [], [], [more.archive]).report.away == 2


def test_open_batches_and_what_is_in_stock_stay(config: Path) -> None:
    journal = open_journal(database(config), load(config).station.name)
    goods = {"ingredient": "base", "name": "Base", "quantity_g": "500", "made_in": "mill-0001"}
    lot_received(journal, "mill-0001", goods, "2022-06-01T08:00:00.000Z")
    plain = dated(recorded("plain"), journal.tail(), "mill-0004", "2020")
    for one in plain[:-1]:  # still open
        journal.append([one])
    journal.close()
    plan = plan_archive(config, "2024-01-01")
    assert [one.id for one in plan.batches] == ["mill-0002", "mill-0003"]
    assert "in stock" in plan.kept["mill-0001"]
    assert "mill-0004" not in plan.kept
    config.write_text(config.read_text() + "[retention]\nbatches_days = 365\n")
    assert [one.id for one in plan_archive(config, "").batches] == ["mill-0002", "mill-0003"]


def test_what_the_shared_store_lacks_stays(config: Path) -> None:
    journal = open_read_only(database(config))
    mine = [one.seq for one in journal.batch("mill-0001")]
    plan = archiving.plan_of(journal, "2024-01-01", max(mine))
    journal.close()
    assert [one.id for one in plan.batches] == ["mill-0001"]
    assert "shared store" in plan.kept["mill-0002"]


@pytest.mark.parametrize(
    ("before", "by", "reason", "due"),
    [
        ("", "Ada", "old", "bad-day"),
        ("2022", "Ada", "old", "bad-day"),
        ("9999-01-01", "Ada", "old", "bad-day"),
        ("2019-01-01", "Ada", "old", "nothing-old"),
        ("2022-01-01", " ", "old", "bad-value"),
        ("2022-01-01", "Ada", "", "bad-value"),
    ],
)
def test_what_cannot_be_asked_is_told(
    config: Path, before: str, by: str, reason: str, due: str
) -> None:
    out = config.parent / "old.gz"
    assert code(lambda: archive(config, before, out, by, reason)) == due
    assert not out.exists()


def test_nothing_is_written_over_and_a_running_station_is_left_alone(config: Path) -> None:
    before, out = stood(config), config.parent / "old.gz"
    out.write_bytes(b"another archive")
    assert code(lambda: away(config)) == "file-exists"
    assert out.read_bytes() == b"another archive"
    out.unlink()
    held = open_journal(database(config), load(config).station.name)
    assert code(lambda: away(config)) == "store-in-use"
    held.close()
    assert stood(config) == before
    assert verify_file(database(config)).report.away == 0


def test_a_record_that_does_not_hold_is_not_put_away(config: Path) -> None:
    with closing(sqlite3.connect(database(config))) as connection, connection:
        connection.execute("UPDATE entry SET at = replace(at, 'T', 't') WHERE seq = 20")
    assert code(lambda: away(config)) == "hash-mismatch"
    assert not (config.parent / "old.gz").exists()


# --- whatever breaks, wherever --------------------------------------------------------------------


@pytest.mark.parametrize("at", STEPS)
def test_killed_at_any_step_it_loses_nothing(config: Path, at: str) -> None:
    was, child = stood(config), os.fork()
    if child == 0:
        try:
            away(
                config,
                step=lambda name: os.kill(os.getpid(), signal.SIGKILL) if name == at else None,
            )
        finally:
            os._exit(1)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status)
    assert os.WTERMSIG(status) == signal.SIGKILL
    assert stood(config) == was
    done = STEPS.index(at) >= STEPS.index("put away")
    assert verify_file(database(config)).report.away == (2 if done else 0)
    out = config.parent / "old.gz"
    if done:
        assert verify_with(database(config), [], [], [out]).report.batches == 3
    else:  # what it left is a whole archive or none, and it can be done again
        if out.exists():
            assert verify_archive_file(out).report.batches == 2
            out.unlink()
        away(config)
        assert verify_with(database(config), [], [], [out]).report.batches == 3


@pytest.mark.parametrize("at", ["archive written", "before the change", "put away"])
def test_what_fails_at_any_step_leaves_the_record_as_it_was(config: Path, at: str) -> None:
    was = stood(config)

    def fail(name: str) -> None:
        if name == at:
            raise JournalError("store-full", "No room.")

    assert code(lambda: away(config, step=fail)) == "store-full"
    assert stood(config) == was
    assert verify_file(database(config)).report.away == (2 if at == "put away" else 0)


def test_a_disk_that_fails_to_sync_leaves_no_archive_and_the_record_whole(
    config: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_fd: int) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr("weighd.storage.archive_file.os.fsync", broken)
    with pytest.raises(JournalError):
        away(config)
    assert [one.name for one in config.parent.glob("old*")] == []
    monkeypatch.undo()
    assert verify_file(database(config)).report.away == 0


# --- what was done to it shows --------------------------------------------------------------------


def _sql(text: str) -> Callable[[Path], None]:
    def change(config: Path) -> None:
        with closing(sqlite3.connect(database(config))) as connection, connection:
            assert connection.execute(text).rowcount > 0

    return change


@pytest.mark.parametrize(
    ("change", "due"),
    [
        (_sql("UPDATE entry SET body = replace(body, 'LOT-01', 'LOT-09') WHERE kind = 'away'"), ""),
        (_sql("UPDATE entry SET body = replace(body, 'old.gz', 'new.gz') WHERE kind = 'away'"), ""),
        (_sql("UPDATE entry SET at = '2019' || substr(at, 5) WHERE seq = 3"), ""),
        (_sql("UPDATE entry SET hash = prev WHERE seq = 3"), "chain-broken"),
        (_sql("DELETE FROM entry WHERE seq = 5"), "entry-missing"),
        (_sql("UPDATE entry SET kind = 'tared' WHERE seq = 3"), "hash-mismatch"),
        (_sql("DELETE FROM entry WHERE kind = 'put away'"), "entry-emptied"),
        (_sql("UPDATE entry SET body = replace(body, 'Ada', 'Bob') WHERE kind = 'put away'"), ""),
        (_sql("UPDATE entry SET body = '{}' WHERE seq = 4"), "unreadable-entry"),
    ],
)
def test_stubs_cannot_be_changed(less: Path, change: Callable[[Path], None], due: str) -> None:
    verify_file(database(less), chain_only=True)
    change(less)
    told = code(lambda: verify_file(database(less)))
    code(lambda: verify_file(database(less), chain_only=True))
    assert told == due if due else told in ("does-not-follow", "hash-mismatch")


def test_an_entry_that_was_emptied_without_being_put_away_is_missed(config: Path) -> None:
    """Somebody makes stubs by hand, to hide what was weighed."""
    journal = open_read_only(database(config))
    mine = journal.batch("mill-0002")
    journal.close()
    with closing(sqlite3.connect(database(config))) as connection, connection:
        for one in mine:
            stub = stub_of(one, "lost.gz")
            values = (AWAY, canonical_text(dict(stub.body)), one.seq)
            connection.execute("UPDATE entry SET kind = ?, body = ? WHERE seq = ?", values)
    assert code(lambda: verify_file(database(config))) == "entry-emptied"


def test_an_archive_that_was_changed_cut_or_is_another_s_is_refused(less: Path) -> None:
    config, path = less, less.parent / "old.gz"
    whole = path.read_bytes()
    lines = gzip.decompress(whole).splitlines(keepends=True)
    key = station_key(database(config).with_name(KEY_FILE)).key

    def with_lines(some: list[bytes]) -> str:
        path.write_bytes(gzip.compress(b"".join(some), mtime=0))
        return code(lambda: verify_archive_file(path, [key]))

    assert with_lines([one.replace(b'"over"', b'"ever"') for one in lines]) == "hash-mismatch"
    assert with_lines(lines[:-1]) == "cut-short"
    assert with_lines([*lines[:3], *lines[4:]]) == "hash-mismatch"
    assert with_lines([*lines, lines[1]]) == "hash-mismatch"
    assert (
        with_lines([lines[0].replace(b'archive":1', b'archive":2'), *lines[1:]]) == "not-an-archive"
    )
    assert with_lines([b"[]\n", *lines[1:]]) == "unreadable-entry"
    other = lines[-1].replace(b'"value":"', b'"value":"00')
    assert with_lines([*lines[:-1], other]) in ("bad-signature", "unreadable-signature")
    path.write_bytes(whole[: len(whole) // 2])
    assert code(lambda: verify_archive_file(path)) == "cut-short"
    path.write_bytes(b"\x1f\x8bno archive")
    assert code(lambda: verify_archive_file(path)) == "not-an-archive"
    path.write_bytes(whole)
    assert code(lambda: verify_archive_file(path, ["00" * 32])) == "wrong-key"
    # One that was never put away here, though it is whole.
    away_two = config.parent / "again.gz"
    away_two.write_bytes(gzip.compress(gzip.decompress(whole), mtime=0, compresslevel=1))
    assert code(lambda: verify_with(database(config), [], [], [away_two])) == "not-in-journal"


def test_everything_goes_into_a_folder_all_the_same(less: Path) -> None:
    folder = write_everything(less, None, less.parent / "all", sheets=False).folder
    assert [one.name for one in (folder / "batches").iterdir()] == ["mill-0003.json"]
    report = verify_folder(folder).report
    assert (report.batches, report.away) == (1, 2)
