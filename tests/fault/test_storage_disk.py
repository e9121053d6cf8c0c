"""The disk fails, fills up, cannot be written or is taken away: what was recorded stays."""

from __future__ import annotations

import errno
import os
import sqlite3
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.storage.disk import build, start
from tests.storage.entries import STATION, Chain, intact
from weighd.domain.errors import JournalError
from weighd.storage import faults, sqlite
from weighd.storage.journal import SqlJournal, open_journal, open_read_only


def fails(call: Callable[[], object], code: str) -> JournalError:
    with pytest.raises(JournalError) as caught:
        call()
    assert caught.value.code == code, caught.value
    assert caught.value.where
    assert caught.value.remedy
    return caught.value


# --- a sync that fails -----------------------------------------------------------------------


class Daemon:
    """A daemon in a process of its own, on a disk that fails when told to."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "weighd.db"
        self._process = start(build(folder), "obey", self.path)

    def __call__(self, order: str) -> str:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(order + "\n")
        return self._process.stdout.readline().strip()

    def kill(self) -> None:
        self._process.kill()
        self._process.communicate()


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[Daemon]:
    started = Daemon(tmp_path)
    yield started
    started.kill()


def numbers(path: Path) -> list[int]:
    journal = open_journal(path, STATION)
    with closing(journal):
        entries = list(journal.entries())
        assert intact(entries)
        assert journal.count_batches() == len(entries) // 2
        return [one.seq for one in entries]


@pytest.mark.parametrize("error", [errno.EIO, errno.ENOSPC, errno.EDQUOT])
def test_an_append_that_cannot_be_synced_is_refused_and_is_not_there_after_a_crash(
    daemon: Daemon, error: int
) -> None:
    """SQLite leaves the pages of such a commit in its log, whole; a restart would find them."""
    assert daemon("append") == "ok 2"
    assert daemon("append") == "ok 4"
    daemon(f"fail {error}")
    assert daemon("append") == "store-io"
    assert daemon("tail") == "ok 4"
    assert open_read_only(daemon.path, STATION).tail().seq == 4
    daemon.kill()
    assert numbers(daemon.path) == [1, 2, 3, 4]


def test_the_first_append_of_all_that_cannot_be_synced_is_not_there_either(daemon: Daemon) -> None:
    daemon(f"fail {errno.EIO}")
    assert daemon("append") == "store-io"
    daemon.kill()
    assert numbers(daemon.path) == []


def test_when_the_disk_is_well_again_so_is_the_journal(daemon: Daemon) -> None:
    assert daemon("append") == "ok 2"
    daemon(f"fail {errno.EIO}")
    for _ in range(5):
        assert daemon("append") == "store-io"
    assert daemon("heal") == "ok 2"
    assert daemon("append") == "ok 4"
    daemon.kill()
    assert numbers(daemon.path) == [1, 2, 3, 4]


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (errno.ENOSPC, "store-full"),
        (errno.EDQUOT, "store-io"),  # SQLite has one code for it and a disk that failed
        (errno.EROFS, "store-io"),
        (errno.EACCES, "store-io"),
        (errno.EIO, "store-io"),
    ],
)
def test_what_cannot_be_written_is_refused_and_goes_well_when_it_can(
    daemon: Daemon, error: int, code: str
) -> None:
    assert daemon("append") == "ok 2"
    daemon(f"full {error}")
    assert daemon("append") == code
    assert daemon("append") == code
    assert daemon("tail") == "ok 2"
    assert daemon("heal") == "ok 2"
    assert daemon("append") == "ok 4"
    daemon.kill()
    assert numbers(daemon.path) == [1, 2, 3, 4]


def test_a_file_system_that_went_read_only_is_called_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The kernel does that to a failing disk; here only what it says of it is pretended."""
    real = os.statvfs
    monkeypatch.setattr(
        os,
        "statvfs",
        lambda path: os.statvfs_result((*list(real(path))[:8], os.ST_RDONLY, 255)),
    )
    error = sqlite3.OperationalError("disk I/O error")
    error.sqlite_errorcode = sqlite3.SQLITE_IOERR
    told = faults.of_sqlite(error, tmp_path / "weighd.db", writing=True)
    assert told.code == "store-read-only"
    assert "right to write there" in told.remedy


# --- a disk that is full ---------------------------------------------------------------------


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 1 MB; skips aloud where none may be mounted."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(folder)]
    done = subprocess.run(mount, capture_output=True, text=True, check=False)
    if done.returncode:
        pytest.skip(f"no small disk may be mounted here: {done.stderr.strip()}")
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=True)


def fill(disk: Path) -> Path:
    """A file that takes all the room there is."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as stream:
        try:
            while True:
                stream.write(bytes(4096))
        except OSError as error:
            assert error.errno == errno.ENOSPC
    return filler


def test_on_a_full_disk_an_append_is_refused_and_goes_well_when_there_is_room(
    small_disk: Path,
) -> None:
    path = small_disk / "weighd.db"
    journal = open_journal(path, STATION)
    chain = Chain()
    journal.append(chain.whole_batch("kitchen-0001"))
    filler = fill(small_disk)
    refused, n = None, 1
    while refused is None:  # the log has some room of its own left
        n += 1
        tail = chain.tail
        entries = chain.whole_batch(f"kitchen-{n:04}")
        try:
            journal.append(entries)
        except JournalError as error:
            refused = error
    assert refused.code == "store-full"
    assert "disk is full" in str(refused)
    assert "Nothing of this was recorded" in str(refused)
    fails(lambda: journal.append(entries), "store-full")
    assert journal.tail() == tail
    assert intact(list(journal.entries()))
    assert journal.count_batches() == n - 1
    filler.unlink()
    journal.append(entries)
    journal.close()
    again = open_journal(path, STATION)
    assert len(list(again.entries())) == n * 4
    assert intact(list(again.entries()))
    again.close()


def test_a_record_on_a_full_disk_can_be_read_and_says_why_it_cannot_be_opened(
    small_disk: Path,
) -> None:
    path = small_disk / "weighd.db"
    journal = open_journal(path, STATION)
    journal.append(Chain().whole_batch("kitchen-0001"))
    journal.close()
    filler = fill(small_disk)
    assert open_read_only(path, STATION).tail().seq == 4
    fails(lambda: open_journal(path, STATION), "store-full")
    fails(lambda: open_journal(small_disk / "another.db", STATION), "store-full")
    filler.unlink()
    open_journal(path, STATION).close()
    open_journal(small_disk / "another.db", STATION).close()


# --- a place that cannot be written ----------------------------------------------------------


def test_a_disk_that_may_only_be_read_is_called_so_and_read(small_disk: Path) -> None:
    path = small_disk / "weighd.db"
    journal = open_journal(path, STATION)
    journal.append(Chain().whole_batch("kitchen-0001"))
    journal.close()
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    fails(lambda: open_journal(path, STATION), "store-read-only")
    fails(lambda: open_journal(small_disk / "new" / "weighd.db", STATION), "store-read-only")
    assert len(list(open_read_only(path, STATION).entries())) == 4


def code_as_nobody(call: Callable[[], object]) -> str:
    """Which code a call fails with for somebody who is not root."""
    told, tell = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            if os.geteuid() == 0:
                os.setgroups([])
                os.setgid(65534)
                os.setuid(65534)
            call()
            os.write(tell, b"no error")
        except JournalError as error:
            os.write(tell, error.code.encode())
        finally:
            os._exit(0)
    os.close(tell)
    os.waitpid(child, 0)
    with os.fdopen(told) as heard:
        return heard.read()


def test_a_file_or_a_folder_that_may_only_be_read_is_called_so() -> None:
    with tempfile.TemporaryDirectory(dir="/tmp") as name:
        folder = Path(name)
        path = folder / "weighd.db"
        journal = open_journal(path, STATION)
        journal.append([Chain().opening("kitchen-0001")])
        journal.close()
        path.chmod(0o444)
        folder.chmod(0o555)
        assert code_as_nobody(lambda: open_journal(path, STATION)) == "store-read-only"
        assert code_as_nobody(lambda: open_read_only(path, STATION).tail()) == "no error"
        folder.chmod(0o777)
        path.with_name("weighd.db.lock").chmod(0o666)
        assert code_as_nobody(lambda: open_journal(path, STATION)) == "store-read-only"


# --- other programs, and people --------------------------------------------------------------


@pytest.fixture
def journal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[SqlJournal]:
    monkeypatch.setattr(sqlite, "PATIENCE_S", 0.05)
    opened = open_journal(tmp_path / "weighd.db", STATION)
    yield opened
    opened.close()


def test_another_program_that_writes_is_waited_for_and_then_named(
    journal: SqlJournal, tmp_path: Path
) -> None:
    import sqlite3

    entries = [Chain().opening("kitchen-0001")]
    with closing(sqlite3.connect(tmp_path / "weighd.db", isolation_level=None)) as shell:
        shell.execute("BEGIN IMMEDIATE")
        fails(lambda: journal.append(entries), "store-locked")
        assert journal.tail().seq == 0
        shell.execute("ROLLBACK")
    journal.append(entries)


def test_a_file_that_was_taken_away_takes_no_more_entries(
    journal: SqlJournal, tmp_path: Path
) -> None:
    path = tmp_path / "weighd.db"
    chain = Chain()
    journal.append([chain.opening("kitchen-0001")])
    path.rename(tmp_path / "elsewhere.db")
    more = [chain.weighing("kitchen-0001")]
    fails(lambda: journal.append(more), "store-gone")
    path.write_bytes(b"")
    fails(lambda: journal.append(more), "store-gone")
    (tmp_path / "elsewhere.db").rename(path)
    journal.append(more)
    assert journal.tail().seq == 2


def test_a_connection_that_broke_is_made_again(journal: SqlJournal) -> None:
    chain = Chain()
    journal.append([chain.opening("kitchen-0001")])
    store = journal._store
    assert isinstance(store, sqlite.SqliteStore)
    assert store._writer is not None
    store._raw(store._writer).close()
    more = [chain.weighing("kitchen-0001")]
    fails(lambda: journal.append(more), "store-failed")
    journal.append(more)
    assert intact(list(journal.entries()))
    assert journal.tail().seq == 2
