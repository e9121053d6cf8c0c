"""How long a trace takes on a large record, beside the bare indexed SQL that it cannot do without.

``python benchmarks/trace.py [--batches N] [--additions N] [--asks N] [--keep FILE]``

The record is made up: batches of 20 additions, a lot of an ingredient lasting some 25 batches;
every tenth batch is a base, which about five of the batches after it have in them, bases of bases
among them. Only the table that a trace reads is filled (``lot_use``): the entries themselves would
be some gigabytes and are not touched by it. Traced are lots and batches picked at random, each both
ways. The floor asks the same questions with ``sqlite3`` alone and sums nothing.
"""

from __future__ import annotations

import argparse
import random
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path

from weighd.domain.trace import trace
from weighd.storage.journal import SqlJournal, open_journal

STATION = "bench"
INGREDIENTS = 60
LASTS = 25
BASE_EVERY = 10


def rows(batches: int, per_batch: int, rng: random.Random) -> Iterator[tuple[object, ...]]:
    """Rows of ``lot_use``, in the order of the record."""
    seq = 0
    bases: list[str] = []
    uses = [0] * INGREDIENTS
    for n in range(1, batches + 1):
        batch = f"{STATION}-{n:05d}"
        used = rng.sample(range(INGREDIENTS), per_batch)
        takes_base = bool(bases) and rng.random() < 0.5
        for addition, which in enumerate(used, start=1):
            seq += 1
            uses[which] += 1
            lot = f"L{which:02d}-{uses[which] // LASTS:05d}"
            if addition == 1 and takes_base:
                lot = rng.choice(bases[-12:])
            grams = f"{rng.randint(50, 90_000) / 10:.1f}"
            yield (STATION, seq, 0, batch, addition, lot, f"ingredient-{which:02d}", grams, "0.12")
        if n % BASE_EVERY == 0:
            bases.append(batch)


def filled(path: Path, batches: int, per_batch: int) -> SqlJournal:
    """A database with so many additions in it."""
    open_journal(path, STATION).close()
    rng = random.Random(1)
    with sqlite3.connect(path) as connection:
        connection.executemany(
            "INSERT INTO lot_use (station, seq, part, batch, addition, lot, ingredient, g, u_g)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            rows(batches, per_batch, rng),
        )
    return open_journal(path, STATION)


def bare(connection: sqlite3.Connection, lot: str) -> int:
    """The questions of a trace, asked bare; how many rows came."""
    seen, count, frontier, first = set[str](), 0, [lot], True
    while frontier:
        marks = ",".join("?" * len(frontier))
        found = connection.execute(
            f"SELECT batch, lot, g FROM lot_use WHERE station = ? AND lot IN ({marks})",
            (STATION, *frontier),
        ).fetchall()
        count += len(found)
        frontier = sorted({one[0] for one in found} - seen)
        seen |= set(frontier)
    down, frontier = set[str](), [lot]
    for forward in (True, False):
        wanted = sorted(seen) if forward else frontier
        while wanted:
            some = wanted[:400]
            marks = ",".join("?" * len(some))
            found = connection.execute(
                f"SELECT batch, lot, g FROM lot_use WHERE station = ? AND batch IN ({marks})",
                (STATION, *some),
            ).fetchall()
            count += len(found)
            wanted = wanted[400:]
            if not forward:
                wanted += sorted({one[1] for one in found} - down)
                down |= set(wanted)
    return count + first


def timed(what: Callable[[str], object], lots: Sequence[str]) -> list[float]:
    """Milliseconds of each."""
    out = []
    for lot in lots:
        begun = time.perf_counter()
        what(lot)
        out.append((time.perf_counter() - begun) * 1000)
    return sorted(out)


def told(name: str, times: Sequence[float]) -> None:
    """A line of the table."""
    p99 = times[min(len(times) - 1, round(len(times) * 0.99))]
    print(f"| {name} | {statistics.median(times):.2f} | {p99:.2f} | {times[-1]:.2f} |")


def main() -> None:
    """Make the record, trace, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--batches", type=int, default=50_000)
    parser.add_argument("--additions", type=int, default=20, help="of each batch")
    parser.add_argument("--asks", type=int, default=1000)
    parser.add_argument("--keep", type=Path, help="keep the database there, and use it if it is")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = given.keep or Path(folder) / "weighd.db"
        there = path.exists()
        journal = (
            open_journal(path, STATION) if there else filled(path, given.batches, given.additions)
        )
        traced = partial(
            trace,
            uses_of=journal.uses_of_lots,
            uses_in=journal.uses_in_batches,
            masses=journal.masses_of_batches,
        )
        rng = random.Random(2)
        with sqlite3.connect(path) as connection:
            count = connection.execute("SELECT count(*) FROM lot_use").fetchone()[0]
            lots = [one for (one,) in connection.execute("SELECT DISTINCT lot FROM lot_use")]
            asked = rng.sample(sorted(lots), min(given.asks, len(lots)))
            batches = [f"{STATION}-{rng.randint(1, given.batches):05d}" for _ in asked]
            reached = [len(traced(lot).forward) for lot in asked]
            print(
                f"{count} additions; a lot reaches {statistics.median(reached):.0f} batches, ",
                end="",
            )
            print(f"{max(reached)} at most; {path.stat().st_size / count:.0f} bytes an addition")
            print("| asked | median, ms | 99th percentile, ms | most, ms |\n|---|---|---|---|")
            for name, these in (("a lot", asked), ("a batch", batches)):
                told(
                    f"trace of {name}",
                    timed(traced, these),
                )
                told(f"bare SQL of {name}", timed(lambda it: bare(connection, it), these))
        journal.close()


if __name__ == "__main__":
    main()
