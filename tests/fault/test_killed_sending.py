"""SIGKILL while a station's journal is sent to the shared store: between any two statements of a
sending, before and after its commit. Each entry arrives once, in order, and both sides are whole.

``make faults`` adds 200 kills at times drawn at random: WEIGHD_KILLS.
"""

from __future__ import annotations

import os
import random
import signal
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import Engine, event

from tests.servers import Postgres
from tests.storage.entries import STATION
from tests.storage.kitchens import kitchen, weigh
from tests.storage.shared_store import emptied
from weighd.main.proving import verify_journal
from weighd.storage.address import read_address
from weighd.storage.journal import SqlJournal, open_journal
from weighd.storage.outbox import Outbox
from weighd.storage.postgres import PostgresStore

KILLS = int(os.environ.get("WEIGHD_KILLS", "5"))


@pytest.fixture(scope="module")
def address(postgres: Postgres) -> str:
    return postgres.create("killed")


@pytest.fixture
def database(tmp_path: Path, address: str) -> Path:
    emptied(address).close()
    kitchen(tmp_path, STATION, 2).close()
    return tmp_path / "weighd.db"


def die() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def sent(database: Path, address: str, before: Callable[[], None]) -> bool:
    """Send all in a process of its own; whether it was killed."""
    child = os.fork()
    if child == 0:
        try:
            own = open_journal(database, STATION)
            store = PostgresStore(read_address(address))
            box = Outbox(own, store, "test")
            before()
            while box.send().entries:
                pass
        except BaseException:  # noqa: BLE001  (nothing above may run twice)
            os._exit(1)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    killed = os.WIFSIGNALED(status)
    assert killed or status == 0
    return killed


def at_statement(n: int) -> Callable[[], None]:
    """Die before the n-th thing that is said to the shared store, commits among them."""
    left = [n]

    def count(*_: object) -> None:
        left[0] -= 1
        if left[0] == 0:
            die()

    def begin() -> None:
        for what in ("before_cursor_execute", "after_cursor_execute", "commit"):
            event.listen(Engine, what, count)

    return begin


def in_order_and_whole(database: Path, address: str, *, all_there: bool) -> int:
    """What is there is a first part of what is here, and holds; how many entries that is."""
    own = open_journal(database, STATION)
    store = PostgresStore(read_address(address))
    there = SqlJournal(store, STATION)
    mine, theirs = list(own.entries()), list(there.entries())
    assert theirs == mine[: len(theirs)]
    verify_journal(there, [], [])
    verify_journal(own, [], [])
    if all_there:
        assert len(theirs) == len(mine)
        assert list(there.signatures()) == list(own.signatures())
        assert there.batches() == own.batches()
        assert there.drawn() == own.drawn()
    own.close()
    store.close()
    return len(theirs)


def test_killed_between_any_two_statements_of_a_sending(database: Path, address: str) -> None:
    kills = 0
    while sent(database, address, at_statement(kills + 1)):
        kills += 1
        if kills % 6 == 0:
            in_order_and_whole(database, address, all_there=False)
    in_order_and_whole(database, address, all_there=True)
    assert kills > 10


def test_killed_at_any_time_while_more_is_weighed(database: Path, address: str) -> None:
    seed = random.SystemRandom().randrange(10**6)
    print(f"seed {seed}")
    chance, kills = random.Random(seed), 0

    def soon() -> None:
        signal.signal(signal.SIGALRM, lambda *_: die())
        signal.setitimer(signal.ITIMER_REAL, chance.uniform(0.0005, 0.03))

    while kills < KILLS:
        own = open_journal(database, STATION)
        weigh(own, own.count_batches() + 1, 1)
        own.close()
        killed = sent(database, address, soon)
        kills += killed
        chance.random()  # the child's draws are its own
        if kills % 10 == 0 and killed:
            in_order_and_whole(database, address, all_there=False)
    assert not sent(database, address, lambda: time.sleep(0))
    in_order_and_whole(database, address, all_there=True)
