"""Sixteen stations and one shared store, everything between them cut, killed and stopped at random:
every entry arrives once, in order, chain and signatures whole.

Fourteen stations have a sender each in this process; two are real daemons, which are killed while
they send. Each has a line of its own, cut by its own dice in the middle of a transaction, just
before and just after a commit, and before the commit's answer arrives; the database is stopped as
if it had lost its power, and the broker of the floor restarted. ``WEIGHD_SIXTEEN_S`` makes it go
on for so many seconds, ``WEIGHD_SEED`` repeats its dice.
"""

from __future__ import annotations

import os
import random
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing
from pathlib import Path

import pytest

from tests.line import CUT_AFTER, CUT_BEFORE, PASS, SWALLOW, Line
from tests.servers import Mosquitto, Postgres, wait_until
from tests.station.daemon import Served
from tests.storage.entries import intact
from tests.storage.kitchens import golden_batches, kitchen, weigh
from tests.storage.shared_store import emptied
from tests.storage.test_outbox import rows
from weighd.clock import SystemClock
from weighd.domain.record import Tail
from weighd.main.proving import verify_journal
from weighd.main.sending import Pace, Sender, open_shared
from weighd.station.outgoing import Going
from weighd.storage.address import read_address
from weighd.storage.journal import SqlJournal, open_read_only

SECONDS = float(os.environ.get("WEIGHD_SIXTEEN_S", "3"))
SEED = os.environ.get("WEIGHD_SEED") or str(random.SystemRandom().randrange(10**9))
SIMULATED = [f"station-{n:02}" for n in range(1, 15)]
DAEMONS = ["bench-15", "bench-16"]
PACE = Pace(call_s=0.5, first_s=0.05, longest_s=0.5, keep_s=0.2)
#: Seconds that all of them may take to come to an end together, on a machine that is busy.
PATIENCE_S = 150.0


class Dice:
    """What becomes of a station's line: a rule with dice of its own."""

    def __init__(self, name: str, count: Counter[str]) -> None:
        self._dice = random.Random(f"{SEED} {name}")
        self._count = count
        self._simulated = name in SIMULATED
        self._sending = self._committing = False

    def __call__(self, up: bool, chunk: bytes) -> str:
        roll, where = self._dice.random(), "anywhere"
        if up and b"COMMIT" in chunk and self._sending:
            self._sending, self._committing, where = False, True, "at a commit"
        elif not up and self._committing:
            self._committing, where = False, "before its answer"
        elif up and b"INSERT INTO" in chunk:
            self._sending, where = True, "in a transaction"
            if self._simulated and roll > 0.98:
                self._count["swallowed"] += 1
                return SWALLOW
        # A daemon is slower to come back than the senders here.
        if roll > (0.002 if where == "anywhere" else 0.12 if self._simulated else 0.04):
            return PASS
        self._count[where] += 1
        return self._dice.choice((CUT_BEFORE, CUT_AFTER))


class Floor:
    """All of it: the store, the stations and the lines between them."""

    def __init__(self, postgres: Postgres, folder: Path, stack: ExitStack) -> None:
        self.postgres = postgres
        self.address = postgres.create("sixteen")
        self.folder = folder
        self.count: Counter[str] = Counter()
        self.lines: dict[str, Line] = {}
        self.journals: dict[str, SqlJournal] = {}
        self.senders: dict[str, Sender] = {}
        self.daemons: dict[str, Served] = {}
        self.batches: Counter[str] = Counter()
        self.broker = stack.enter_context(Mosquitto())
        emptied(self.address).close()
        for name in (*SIMULATED, *DAEMONS):
            line = Line(postgres.port, Dice(name, self.count))
            self.lines[name] = stack.enter_context(line)
        # Both daemons start while the others are made.
        with ThreadPoolExecutor(2) as pool:
            starting = [pool.submit(self._serve, name) for name in DAEMONS]
            for name in SIMULATED:
                self._simulate(name, stack)
            for one in starting:
                stack.enter_context(one.result())

    def through(self, name: str) -> str:
        """The shared store's address by a station's line."""
        return self.address.replace(f":{self.postgres.port}/", f":{self.lines[name].port}/")

    def _simulate(self, name: str, stack: ExitStack) -> None:
        journal = stack.enter_context(closing(kitchen(self.folder, name, 0)))
        self.journals[name] = journal
        self.batches[name] = 2
        journal.append(golden_batches(name, Tail(), 0, 2))
        self.start(name)
        stack.callback(lambda: self.senders[name].stop(10))

    def start(self, name: str) -> None:
        """Begin sending, as a station that was started does."""
        sender = Sender(
            self.journals[name],
            read_address(self.through(name)),
            SystemClock(),
            kept=self.folder / name / "shared.json",
            pace=PACE,
            dice=random.Random(f"{SEED} {name} again"),
            open_store=lambda address: open_shared(address, deadline_s=1.5),
        )
        sender.start(lambda: None)
        self.senders[name] = sender

    def _serve(self, name: str) -> ExitStack:
        folder = self.folder / name
        folder.mkdir()
        with closing(kitchen(folder, name, 0)) as journal:
            journal.append(golden_batches(name, Tail(), 0, 9))
        (folder / name).rename(folder / "data")
        config = folder / "weighd.toml"
        config.write_text(
            f'[station]\nname = "{name}"\ndata = "data"\nformulas = "formulas"\n'
            f'[shared]\nstore = "{self.through(name)}"\n'
            f'[floor]\nbroker = "mqtt://127.0.0.1:{self.broker.port}"\n'
        )
        (folder / "formulas").mkdir()
        (folder / "formulas" / "ingredients.toml").write_text('[ingredients.milk]\nname = "Milk"\n')
        mine = ExitStack()
        self.daemons[name] = mine.enter_context(Served(config))
        return mine

    # --- what happens -------------------------------------------------------------------------

    def happen(self, dice: random.Random) -> None:
        """One thing, at one station or to the store."""
        name = dice.choice(SIMULATED)
        what = dice.choices(
            ("weigh", "cut", "restart", "receive", "kill", "stop store", "stop broker"),
            (40, 20, 8, 15, 4, 2, 3),
        )[0]
        self.count[what] += 1
        match what:
            case "weigh":
                weigh(self.journals[name], self.batches[name], 1)
                self.batches[name] += 1
            case "cut":
                self.lines[dice.choice((*SIMULATED, *DAEMONS))].cut()
            case "restart":
                self.senders[name].stop(0)  # what is under way is left to itself
                self.start(name)
            case "receive":
                self.receive(dice.choice(DAEMONS))
            case "kill":
                self.kill(dice.choice(DAEMONS))
            case "stop store":
                self.stop_store(dice.uniform(0.0, 0.3))
            case "stop broker":
                self.broker.stop()
                self.broker.start()

    @property
    def all_cut(self) -> bool:
        """Whether lines were cut where it is hardest."""
        return all(
            self.count[it] for it in ("at a commit", "before its answer", "in a transaction")
        )

    def receive(self, name: str) -> None:
        """A daemon records something, by REST: whatever the network does, it is quick."""
        lot = {"ingredient": "milk", "quantity_g": "500", "by": "Ada"}
        answer = self.daemons[name].ask("POST", "/api/lots", lot)
        assert answer.status_code == 201, answer.text

    def kill(self, name: str) -> None:
        """SIGKILL, and started again."""
        self.daemons[name].kill()
        self.daemons[name].begin()

    def stop_store(self, seconds: float) -> None:
        """The database loses its power for a while."""
        self.postgres.stop(at_once=True)
        time.sleep(seconds)
        self.postgres.start()

    def seen(self, name: str) -> bool:
        """Whether a daemon sees on the floor that both are here and have sent all."""
        cards = self.daemons[name].get("/api/floor")["state"]["stations"]
        told = cards.values() if isinstance(cards, dict) else cards
        here = {one["name"]: (one["standing"], (one["sharing"] or {}).get("state")) for one in told}
        return here == dict.fromkeys(DAEMONS, ("here", "current"))

    def sent(self, name: str) -> bool:
        """Whether a station says that all is there."""
        if name in self.daemons:
            told = self.daemons[name].state()["sharing"]
            return bool(told["state"] == "current" and not told["code"] and told["contact"])
        now = self.senders[name].now
        return bool(now.state is Going.CURRENT and not now.code and now.contact)


@pytest.fixture
def floor(postgres: Postgres, tmp_path: Path) -> Iterator[Floor]:
    with ExitStack() as stack:
        yield Floor(postgres, tmp_path, stack)


@pytest.mark.timeout(SECONDS + 3 * PATIENCE_S)
def test_every_entry_arrives_once_and_in_order(floor: Floor) -> None:
    print(f"WEIGHD_SEED={SEED}")
    dice, there = random.Random(SEED), SqlJournal(open_shared(read_address(floor.address)), "")
    # One of the daemons is killed while it sends, whatever the dice say, and the store stopped.
    wait_until(lambda: all(tail(floor, name) > 0 for name in DAEMONS), "they begin to send")
    floor.kill(DAEMONS[0])
    floor.stop_store(0.1)
    floor.broker.stop()
    floor.broker.start()
    # On a machine that is busy, until each was cut in each way.
    end = time.monotonic() + SECONDS
    while time.monotonic() < end or (not floor.all_cut and time.monotonic() < end + PATIENCE_S):
        floor.happen(dice)
        time.sleep(dice.uniform(0.0, 0.04))
    floor.receive(DAEMONS[1])
    for line in floor.lines.values():
        line.rule = None  # calm again, but for what is swallowed already
    for name in floor.lines:
        wait_until(lambda name=name: floor.sent(name), f"{name} has sent all", PATIENCE_S)  # type: ignore[misc]
    for name in DAEMONS:
        wait_until(lambda name=name: floor.seen(name), f"{name} sees the floor", PATIENCE_S)  # type: ignore[misc]
    for daemon in floor.daemons.values():
        daemon.stop(30)
    print(dict(floor.count), {name: line.cuts for name, line in floor.lines.items()})
    assert floor.all_cut
    looked_into = {DAEMONS[0], dice.choice(SIMULATED)} if SECONDS < 60 else {*floor.lines}
    for name in floor.lines:
        own = floor.journals.get(name) or open_read_only(floor.daemons[name].database, name)
        there.close()
        there = SqlJournal(open_shared(read_address(floor.address)), name)
        assert rows(there) == rows(own), name
        assert [one[1] for one in rows(there)[0]] == list(range(1, own.tail().seq + 1))
        assert intact(list(there.entries()))
        if name in looked_into:  # evidence and signatures too: that takes a second each
            report, last = verify_journal(there, [], [])
            assert (report.entries, last) == (own.tail().seq, own.tail().hash)
            assert sum(report.signed.values()) == len(rows(own)[1]) > 0
    there.close()


def tail(floor: Floor, name: str) -> int:
    """The number of a station's newest entry in the shared store."""
    found = floor.postgres.ask(
        f"SELECT coalesce(max(seq), 0) FROM entry WHERE station = '{name}'",
        *("-t", "-A"),
        database="sixteen",
    )
    return int(found)
