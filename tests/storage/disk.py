"""A program with a disk that fails when told to: run by the fault tests under ``shim.c``.

``disk.py obey FILE`` keeps a record and does what it is told, a line at a time: ``append``,
``tail``, ``fail ERRNO`` (syncs), ``full ERRNO`` (writes), ``heal``; it answers ``ok SEQ`` or the
code of the error.

``disk.py die FILE FIRST EVERY`` kills a child at the ``FIRST`` write or sync of a daemon's life,
then ``EVERY`` later, and so on, until a life ends by itself, and looks at what is left after each.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.storage.entries import STATION, Chain, intact
from weighd.domain.errors import JournalError
from weighd.storage.journal import open_journal, open_read_only

REPOSITORY = Path(__file__).parents[2]


def build(folder: Path) -> Path:
    """Compile the shim. Skips the test, aloud, where there is no compiler."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None:
        pytest.skip("no C compiler: a failing disk cannot be pretended here")
    built = folder / "shim.so"
    source = Path(__file__).with_name("shim.c")
    subprocess.run([compiler, "-shared", "-fPIC", "-o", built, source, "-ldl"], check=True)
    return built


def start(
    shim: Path, what: str, path: Path, *more: str, module: str = "tests.storage.disk"
) -> subprocess.Popen[str]:
    """This program, or another, with the shim before the C library."""
    return subprocess.Popen(
        [sys.executable, "-m", module, what, str(path), *more],
        cwd=REPOSITORY,
        env={**os.environ, "LD_PRELOAD": str(shim)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        bufsize=1,
    )


def obey(path: Path) -> None:
    """Do what is asked on standard input."""
    disk = ctypes.CDLL(None)
    journal = open_journal(path, STATION)
    chain = Chain(journal.tail())
    for line in sys.stdin:
        order, *more = line.split()
        tail = chain.tail
        try:
            if order == "append":
                journal.append([chain.opening(f"kitchen-{tail.seq:04}"), chain.add("tared", "x")])
            elif order in ("fail", "heal"):
                disk.disk_fail(int(more[0]) if more else 0)
            if order in ("full", "heal"):
                disk.disk_full(int(more[0]) if more else 0)
            print("ok", journal.tail().seq, flush=True)
        except JournalError as error:
            chain.tail = tail
            print(error.code, flush=True)


def die_everywhere(path: Path, first: int, every: int) -> None:
    """Lives of a daemon, each ended so many calls to the disk later than the one before."""
    ends = 0
    while _life(path, first + ends * every):
        ends += 1
    print("ends", ends, flush=True)


def _life(path: Path, at: int) -> bool:
    """One life on a new file, and what is left of it. Says whether it was ended early."""
    folder = path.parent / f"life-{at}"
    folder.mkdir()
    record = folder / path.name
    told, tell = os.pipe()
    child = os.fork()
    if child == 0:
        _live(record, at, tell)
        os._exit(0)
    os.close(tell)
    with os.fdopen(told) as heard:
        committed = [line.split()[1] for line in heard]
    _, status = os.waitpid(child, 0)
    killed = os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    assert killed or status == 0, f"life {at} ended with {status}"
    for again in (open_read_only, open_journal):
        if again is open_read_only and not (record.exists() and committed):
            continue
        journal = again(record, STATION)
        entries = list(journal.entries())
        assert intact(entries), f"life {at}: the chain is broken"
        assert [one.hash for one in entries[: len(committed) * 2][1::2]] == committed, f"life {at}"
        # What was not reported may be there, but whole: they are written two by two.
        assert len(entries) in (len(committed) * 2, len(committed) * 2 + 2), f"life {at}: half"
        assert journal.count_batches() == len(entries) // 2
        journal.append([])
        if again is open_journal:
            chain = Chain(journal.tail())
            journal.append([chain.opening("kitchen-9999")])
            assert [one.kind for one in journal.open_batch()] == ["batch opened"]
        journal.close()
    shutil.rmtree(folder)
    return killed


def _live(record: Path, at: int, tell: int) -> None:
    ctypes.CDLL(None).disk_kill(ctypes.c_long(at))
    journal = open_journal(record, STATION)
    chain = Chain()
    for n in range(4):
        batch = f"kitchen-{n:04}"
        journal.append([chain.opening(batch), chain.weighing(batch)])
        os.write(tell, f"committed {chain.tail.hash}\n".encode())
    journal.close()


if __name__ == "__main__":
    if sys.argv[1] == "die":
        die_everywhere(Path(sys.argv[2]), *map(int, sys.argv[3:]))
    else:
        obey(Path(sys.argv[2]))
