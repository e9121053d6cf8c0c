"""The daemon is killed while it writes: what it called recorded is there, and all is whole."""

from __future__ import annotations

import os
import random
import signal
import time
from pathlib import Path

import pytest

from tests.dose import dose
from tests.storage.disk import build, start
from tests.storage.entries import STATION, Chain, intact
from weighd.domain.errors import JournalError
from weighd.storage.journal import open_journal

LIVES = dose(10, 30)
#: A life ends at every so many-th call to the disk, from one of the first on.
EVERY = dose(8, 1)


def life(path: Path, batch: str, tell: int) -> None:
    """A daemon that appends until it is killed, and tells of every append that returned."""
    journal = open_journal(path, STATION)
    for entries in Chain(journal.tail()).endless(batch):
        journal.append(entries)
        os.write(tell, "".join(f"{one.seq} {one.hash}\n" for one in entries).encode())


def ended_life(path: Path, batch: str, seconds: float) -> dict[int, str]:
    """Let a daemon live that long from its first append on; what it said was recorded."""
    told, tell = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            life(path, batch, tell)
        finally:
            os._exit(1)
    os.close(tell)
    with os.fdopen(told) as heard:
        first = heard.readline()
        time.sleep(seconds)
        os.kill(child, signal.SIGKILL)
        lines = [first, *heard]
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status)
    return {int(seq): digest for seq, digest in (line.split() for line in lines)}


def test_what_was_called_recorded_survives_being_killed_at_any_moment(tmp_path: Path) -> None:
    path = tmp_path / "weighd.db"
    seed = random.SystemRandom().randrange(10**6)
    print(f"seed {seed}")
    chance = random.Random(seed)
    recorded: dict[int, str] = {}
    for n in range(LIVES):
        recorded |= ended_life(path, f"kitchen-{n:04}", chance.uniform(0, 0.15))
        journal = open_journal(path, STATION)  # the lock went with the one that held it
        entries = list(journal.entries())
        assert intact(entries)
        assert {one.seq: one.hash for one in entries if one.seq in recorded} == recorded
        # The second of a pair is never missing: it was one append.
        assert entries[-1].kind != "lot named"
        lines = journal.batches()
        assert lines[0].accepted == sum(
            one.kind == "addition accepted" for one in journal.batch(lines[0].id)
        )
        assert journal.count_batches() == n + 1
        journal.close()
    assert len(recorded) > LIVES * 3


def test_killed_at_every_write_and_every_sync_of_a_life(tmp_path: Path) -> None:
    """Making the file, four appends and closing it, ended at its calls to the disk in turn."""
    program = start(
        build(tmp_path),
        "die",
        tmp_path / "weighd.db",
        str(random.SystemRandom().randint(1, EVERY)),
        str(EVERY),
    )
    said, _ = program.communicate(timeout=100)
    assert program.returncode == 0, "what went wrong stands above, on standard error"
    ends = int(said.split()[-1])
    # Each of four appends writes several pages and syncs once; fewer would mean nothing was hit.
    assert ends > 40 // EVERY


def test_a_second_daemon_waits_until_the_first_is_dead(tmp_path: Path) -> None:
    path = tmp_path / "weighd.db"
    told, tell = os.pipe()
    child = os.fork()
    if child == 0:
        life(path, "kitchen-0001", tell)
    os.close(tell)
    os.read(told, 10)
    with pytest.raises(JournalError) as caught:
        open_journal(path, STATION)
    assert caught.value.code == "store-in-use"
    assert str(path) in str(caught.value)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    os.close(told)
    journal = open_journal(path, STATION)
    assert journal.tail().seq >= 1
    journal.close()
