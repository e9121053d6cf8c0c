"""How long a trace takes on a large record, beside the bare indexed SQL that it cannot do without.

``python benchmarks/trace.py [--batches N] [--additions N] [--asks N] [--keep FILE]``
``python benchmarks/trace.py --postgresql [--stations N] [--url ADDRESS]``

The record is made up: batches of 20 additions, a lot of an ingredient lasting some 25 batches;
every tenth batch is a base, which about five of the batches after it have in them, bases of bases
among them. Only the tables that a trace reads are filled (``lot_use``, and on a shared store
``lot_name``: every station knows every lot): the entries themselves would be some gigabytes and are
not touched by it. Traced are lots and batches picked at random, each both ways. The floor asks the
same questions with ``sqlite3`` or ``psycopg`` alone and sums nothing. On PostgreSQL a trace is one
across all stations of a shared store, whose batches are dealt out to the stations in turn; a server
of its own is started where no address is given.
"""

from __future__ import annotations

import argparse
import random
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import psycopg

if __name__ == "__main__":  # run from a checkout, without being installed
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.servers import Postgres
from weighd.domain.trace import Trace, trace
from weighd.storage.address import read_address
from weighd.storage.everywhere import Everywhere
from weighd.storage.journal import SqlJournal, open_journal
from weighd.storage.postgres import PostgresStore

STATION = "bench"
#: Rows (batch, lot, grams) whose column, ``lot`` or ``batch``, is one of those.
Rows = Callable[[str, Sequence[str]], list[tuple[str, str, str]]]
INGREDIENTS = 60
LASTS = 25
BASE_EVERY = 10


def rows(
    batches: int, per_batch: int, rng: random.Random, stations: int = 1
) -> Iterator[tuple[object, ...]]:
    """Rows of ``lot_use``, in the order of the record."""
    seq = 0
    bases: list[str] = []
    uses = [0] * INGREDIENTS
    for n in range(1, batches + 1):
        station = station_of(n, stations)
        batch = batch_of(n, stations)
        used = rng.sample(range(INGREDIENTS), per_batch)
        takes_base = bool(bases) and rng.random() < 0.5
        for addition, which in enumerate(used, start=1):
            seq += 1
            uses[which] += 1
            lot = f"L{which:02d}-{uses[which] // LASTS:05d}"
            if addition == 1 and takes_base:
                lot = rng.choice(bases[-12:])
            grams = f"{rng.randint(50, 90_000) / 10:.1f}"
            yield (station, seq, 0, batch, addition, lot, f"ingredient-{which:02d}", grams, "0.12")
        if n % BASE_EVERY == 0:
            bases.append(batch)


def station_of(batch: int, stations: int) -> str:
    """Where a batch is weighed."""
    return STATION if stations == 1 else f"{STATION}-{batch % stations + 1}"


def batch_of(batch: int, stations: int) -> str:
    """The code of a batch."""
    return f"{station_of(batch, stations)}-{batch:05d}"


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


def in_sqlite(connection: sqlite3.Connection) -> Rows:
    """Asks one station's file for the uses of lots, or in batches."""

    def ask(column: str, those: Sequence[str]) -> list[tuple[str, str, str]]:
        marks = ",".join("?" * len(those))
        return connection.execute(
            f"SELECT batch, lot, g FROM lot_use WHERE station = ? AND {column} IN ({marks})",
            (STATION, *those),
        ).fetchall()

    return ask


def in_postgresql(connection: Any) -> Rows:
    """Asks a shared store for the same, at all stations."""

    def ask(column: str, those: Sequence[str]) -> list[tuple[str, str, str]]:
        found: list[tuple[str, str, str]] = connection.execute(
            f"SELECT batch, lot, g FROM lot_use WHERE {column} = ANY(%s)", (list(those),)
        ).fetchall()
        return found

    return ask


def bare(ask: Rows, lot: str) -> int:
    """The questions of a trace, asked bare; how many rows came."""
    seen, count, frontier, first = set[str](), 0, [lot], True
    while frontier:
        found = ask("lot", frontier)
        count += len(found)
        frontier = sorted({one[0] for one in found} - seen)
        seen |= set(frontier)
    down, frontier = set[str](), [lot]
    for forward in (True, False):
        wanted = sorted(seen) if forward else frontier
        while wanted:
            found = ask("batch", wanted[:400])
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


def table(
    traced: Callable[[str], Trace], ask: Rows, asked: Sequence[str], batches: Sequence[str]
) -> None:
    """How far lots reach, and the times."""
    reached = [len(traced(lot).forward) for lot in asked]
    print(f"a lot reaches {statistics.median(reached):.0f} batches, {max(reached)} at most")
    print("| asked | median, ms | 99th percentile, ms | most, ms |\n|---|---|---|---|")
    for name, these in (("a lot", asked), ("a batch", batches)):
        told(f"trace of {name}", timed(traced, these))
        told(f"bare SQL of {name}", timed(lambda it: bare(ask, it), these))


def picked(lots: Sequence[str], given: argparse.Namespace) -> tuple[list[str], list[str]]:
    """The lots and the batches that are traced."""
    rng = random.Random(2)
    asked = rng.sample(sorted(lots), min(given.asks, len(lots)))
    return asked, [batch_of(rng.randint(1, given.batches), given.stations) for _ in asked]


def on_sqlite(given: argparse.Namespace) -> None:
    """One station's own file."""
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
        with sqlite3.connect(path) as connection:
            count = connection.execute("SELECT count(*) FROM lot_use").fetchone()[0]
            lots = [one for (one,) in connection.execute("SELECT DISTINCT lot FROM lot_use")]
            size = path.stat().st_size / count
            print(f"SQLite: {count} additions, {size:.0f} bytes an addition; ", end="")
            table(traced, in_sqlite(connection), *picked(lots, given))
        journal.close()


def on_postgresql(given: argparse.Namespace, address: str) -> None:
    """A shared store of several stations, made anew."""
    store = PostgresStore(read_address(address))
    traced = Everywhere(store).trace
    with psycopg.connect(address, autocommit=True) as connection:
        took = copied(connection, given)
        count = first(connection, "SELECT count(*) FROM lot_use")
        lots = [one for (one,) in connection.execute("SELECT DISTINCT lot FROM lot_use")]
        size = first(connection, "SELECT pg_total_relation_size('lot_use')") / count
        print(f"PostgreSQL, {given.stations} stations: {count} additions, loaded in {took:.0f} s, ")
        print(f"{size:.0f} bytes an addition; ", end="")
        table(traced, in_postgresql(connection), *picked(lots, given))
    store.close()


def copied(connection: Any, given: argparse.Namespace) -> float:
    """Fill the tables by COPY; the seconds that it took."""
    begun = time.perf_counter()
    rng = random.Random(1)
    stations = sorted({station_of(n, given.stations) for n in range(1, given.stations + 1)})
    lots: dict[str, str] = {}
    with connection.transaction(), connection.cursor() as cursor:
        cursor.execute("TRUNCATE lot_use, lot_name")
        columns = "station, seq, part, batch, addition, lot, ingredient, g, u_g"
        with cursor.copy(f"COPY lot_use ({columns}) FROM STDIN") as copy:
            for row in rows(given.batches, given.additions, rng, given.stations):
                copy.write_row(row)
                lots.setdefault(str(row[5]), str(row[0]))
        with cursor.copy("COPY lot_name (station, lot, origin, code) FROM STDIN") as copy:
            for lot, origin in lots.items():
                for station in stations:
                    copy.write_row((station, lot, origin, lot))
    connection.execute("VACUUM ANALYZE lot_use")
    connection.execute("VACUUM ANALYZE lot_name")
    return time.perf_counter() - begun


def first(connection: Any, question: str) -> Any:
    """The first value of an answer."""
    return connection.execute(question).fetchone()[0]


def main() -> None:
    """Make the record, trace, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--batches", type=int, default=50_000)
    parser.add_argument("--additions", type=int, default=20, help="of each batch")
    parser.add_argument("--asks", type=int, default=1000)
    parser.add_argument("--keep", type=Path, help="keep the database there, and use it if it is")
    parser.add_argument("--postgresql", action="store_true", help="on a shared store")
    parser.add_argument("--stations", type=int, default=1, help="that share it")
    parser.add_argument("--url", help="an empty database of a server that runs")
    given = parser.parse_args()
    if not given.postgresql:
        given.stations = 1
        on_sqlite(given)
    elif given.url:
        on_postgresql(given, given.url)
    else:
        with Postgres() as server:
            on_postgresql(given, server.create("trace"))


if __name__ == "__main__":
    main()
