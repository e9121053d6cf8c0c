"""From the start of the program to its page, with a long record: what of it the record takes.

    python benchmarks/start.py [--entries 1000000] [--starts 7] [--at DIR]

The record is that of some years: batches sealed anew from the recorded session ``plain``, a lot
received for every third of them and used up a while later, the two scales checked once for forty.
Each start is of a new process with a page cache that is warm: from ``exec`` until it prints its
address, and until ``/api/health`` has answered. Three floors: the same with an empty record; Python
opening the file and reading its newest row; the imports alone.

*First* is the first start with such a record, before anything was kept of it; then *as kept*.
With ``--at`` the record stays there and is taken again.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from benchmarks.page_processes import cpu, resident_mb
from benchmarks.record import STATION, Batches, opened
from weighd.domain.lot_fold import take
from weighd.domain.lot_record import RECEIVED, USED_UP, lot_body, receive_body
from weighd.domain.lots import LotBook
from weighd.domain.record import Entry, Tail, seal

CHECKED = Path(__file__).parents[1] / "fixtures/sessions/checked.golden.json"
#: A lot for so many batches, used up after so many lots; checks of the scales for so many batches.
BATCHES_A_LOT, LOTS_OPEN, BATCHES_A_CHECK = 3, 60, 40
BARE = """
import sqlite3, sys
with sqlite3.connect(f"file:{sys.argv[1]}?mode=ro", uri=True) as shell:
    print("at", shell.execute("SELECT seq, hash FROM entry WHERE station = ? AND seq ="
          " (SELECT max(seq) FROM entry WHERE station = ?)", ("bench", "bench")).fetchone())
"""


class Years(Batches):
    """Batches without end, with lots and checks between them."""

    def __init__(self) -> None:
        super().__init__()
        self._book, self._lots = LotBook(), list[str]()
        self._check = json.loads(CHECKED.read_text("utf-8"))["checks"][0]["body"]
        self._check.pop("key", None)

    def next(self) -> list[Entry]:
        """One more batch, and what was done between it and the one before."""
        out = list(self._between())
        if self._lots:
            for one in self.recorded:
                if "lot" in one.body:
                    one.body["lot"] = self._lots[-1]  # type: ignore[index]
        return out + super().next()

    def _between(self) -> Iterator[Entry]:
        if self._made % BATCHES_A_LOT == 0:
            code = f"L{len(self._lots) + 1:06d}"
            given = {
                "lot": code,
                "ingredient": "water",
                "name": "Water",
                "quantity_g": "25000",
                "supplier": "Invented Dairy",
                "expires": "2099-01-01",
            }
            yield self._seal(RECEIVED, receive_body(self._book, STATION, given, "Bench"))
            self._lots.append(code)
        if len(self._lots) > LOTS_OPEN and self._made % BATCHES_A_LOT == 1:
            old = self._lots[-LOTS_OPEN]
            yield self._seal(USED_UP, lot_body(self._book, USED_UP, old, {}, "Bench", ""))
        if self._made % BATCHES_A_CHECK == 0:
            for scale in ("bench", "fine"):
                yield self._seal("scale checked", {**self._check, "scale": scale})

    def _seal(self, kind: str, body: Any) -> Entry:
        one = seal(STATION, kind, self.recorded[0].at, dict(body), self.tail)
        self.tail = Tail(one.seq, one.hash)
        if kind != "scale checked":
            take(self._book, one)
        return one


def filled(folder: Path, entries: int) -> tuple[int, int]:
    """A record of so many entries or a few more; how many, and of how many lots."""
    journal, years, count = opened(folder), Years(), 0
    store = journal._store
    store.write(lambda connection: connection.exec_driver_sql("SELECT 1"))
    store._raw(store._writer).execute("PRAGMA synchronous = OFF")  # type: ignore[attr-defined]
    while count < entries:
        some = [one for _ in range(50) for one in years.next()]
        journal.append(some)
        count += len(some)
    journal.close()
    return count, len(years._lots)


class Started:
    """Some starts: seconds until the address, until the page's health, of a processor; MB."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.rows: list[tuple[float, float, float, float]] = []

    def once(self, command: list[str], *, how: signal.Signals = signal.SIGTERM) -> None:
        """Start, look, and end."""
        env = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
        began = time.perf_counter()
        process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=env
        )
        assert process.stdout is not None
        said = process.stdout.readline()
        ready = time.perf_counter() - began
        healthy, used, held = ready, 0.0, 0.0
        if "http" in said:
            with urllib.request.urlopen(said.split()[-1] + "api/health", timeout=600) as answer:
                assert json.load(answer)
            healthy = time.perf_counter() - began
            used, held = cpu(process.pid), resident_mb(process.pid)
            process.send_signal(how)
        process.wait()
        self.rows.append((ready, healthy, used, held))

    def tell(self) -> None:
        """The best and the middle; the processor's time is the steadier figure."""
        ready, healthy, used, held = (sorted(it) for it in zip(*self.rows, strict=True))
        mid = len(ready) // 2
        print(
            f"| {self.name} | {len(ready)} | {ready[0]:.2f} | {ready[mid]:.2f} | {healthy[mid]:.2f}"
            f" | {used[mid]:.2f} | {held[mid]:.0f} |",
            flush=True,
        )


def station(folder: Path) -> list[str]:
    """The command that serves the record in a folder, with two scales that have to be checked."""
    (folder / "formulas").mkdir(exist_ok=True)
    scale = '[scales.{}]\nport = "/dev/nothing-there"\nshape = "digits-unit"\ninterval_g = "0.1"\n'
    config = folder / "weighd.toml"
    config.write_text(
        f'[http]\nport = 0\n[station]\nname = "{STATION}"\ndata = "."\nformulas = "formulas"\n'
        '[log]\nlevel = "error"\n' + scale.format("bench") + scale.format("fine")
    )
    return [sys.executable, "-m", "weighd", "serve", "--config", str(config)]


def main() -> None:
    """Build, start, print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--entries", type=int, default=1_000_000)
    parser.add_argument("--starts", type=int, default=7)
    parser.add_argument("--at", type=Path, help="a folder for some GB, which is kept")
    given = parser.parse_args()
    print(f"{os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}")
    place = given.at or Path(tempfile.mkdtemp())
    place.mkdir(parents=True, exist_ok=True)
    many, empty = place / "many", Path(tempfile.mkdtemp())
    try:
        if not many.exists():
            began = time.perf_counter()
            count, lots = filled(many, given.entries)
            took = time.perf_counter() - began
            print(f"{count} entries, {lots} lots, made in {took:.0f} s")
        size = (many / "weighd.db").stat().st_size
        print(f"{size / 1e6:.0f} MB")
        print(
            "| | starts | best, s | median, s | health, s | processor, s | MB |\n"
            + "|---" * 7
            + "|"
        )
        for cache in many.glob("weighd.start"):
            cache.unlink()
        first = Started("first")
        first.once(station(many))
        first.tell()
        rows = (
            ("imports alone", [sys.executable, "-c", IMPORTS]),
            ("newest row alone", [sys.executable, "-c", BARE, str(many / "weighd.db")]),
            ("empty record", station(empty)),
            ("as kept", station(many)),
        )
        found = [Started(name) for name, _ in rows]
        for _ in range(given.starts):  # by turns, so that what others do meets all of them
            for one, (_, command) in zip(found, rows, strict=True):
                one.once(command)
        for one in found:
            one.tell()
    finally:
        shutil.rmtree(empty)
        if given.at is None:
            shutil.rmtree(place)
    print(f"load afterwards {os.getloadavg()[0]:.1f}")


IMPORTS = "import weighd.main.serving; print('at')"

if __name__ == "__main__":
    main()
