"""How fast a journal goes to a shared store, beside bare inserts of the same bytes.

``python benchmarks/sync.py [BATCHES]`` starts a PostgreSQL server of its own. The floor writes the
same rows of entries and signatures by the driver alone, in as many transactions of the same size:
what the outbox adds are the reading of the own journal, the check of each hash, the lists, and the
question for the tail.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import psycopg
from sqlalchemy import select

from tests.servers import Postgres
from tests.storage.kitchens import golden_batches, kitchen
from weighd.storage.address import read_address
from weighd.storage.journal import SqlJournal
from weighd.storage.outbox import Outbox
from weighd.storage.postgres import PostgresStore
from weighd.storage.schema import ENTRY, SIGNATURE

RUNS = 3


def send(own: SqlJournal, address: str) -> tuple[float, list[int]]:
    """Seconds that sending all of it takes, and how many entries each transaction had."""
    store, sizes = PostgresStore(read_address(address)), []
    box = Outbox(own, store, address)
    began = time.perf_counter()
    while sent := box.send().entries:
        sizes.append(sent)
    took = time.perf_counter() - began
    store.close()
    return took, sizes


def bare(address: str, tables: dict[Any, list[tuple[Any, ...]]], sizes: list[int]) -> float:
    """Seconds that inserts of the same rows take, in transactions of the same sizes."""
    PostgresStore(read_address(address)).close()
    texts = {
        table: f"INSERT INTO {table.name} VALUES ({', '.join(['%s'] * len(table.columns))})"
        for table in tables
    }
    with psycopg.connect(address) as connection, connection.cursor() as cursor:
        began = time.perf_counter()
        first = 0
        for size in sizes:
            rows = tables[ENTRY][first : first + size]
            upto = rows[-1][1]
            cursor.executemany(texts[ENTRY], rows)
            after = rows[0][1] - 1
            signed = [one for one in tables[SIGNATURE] if after < one[1] <= upto]
            if signed:
                cursor.executemany(texts[SIGNATURE], signed)
            connection.commit()
            first += size
        return time.perf_counter() - began


def main() -> None:
    batches = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    with Postgres() as server, tempfile.TemporaryDirectory() as folder:
        own = kitchen(Path(folder), "kitchen", 0)
        for n in range(0, batches, 20):
            own.append(golden_batches("kitchen", own.tail(), n, min(20, batches - n)))
        tables = {
            table: own.ask(lambda it, table=table: sorted(map(tuple, it.execute(select(table)))))
            for table in (ENTRY, SIGNATURE)
        }
        size = sum(len(str(value)) for rows in tables.values() for row in rows for value in row)
        ratios = []
        for n in range(RUNS):
            took, sizes = send(own, server.create(f"sent{n}"))
            floor = bare(server.create(f"bare{n}"), tables, sizes)
            ratios.append(took / floor)
            count = sum(sizes)
            print(
                f"{count} entries, {size / 1e6:.1f} MB in {len(sizes)} transactions: "
                f"{count / took:,.0f} entries/s, bare {count / floor:,.0f}/s, "
                f"{took / floor:.2f} times the floor"
            )
        print(f"ratio to the floor: {statistics.median(ratios):.2f} (median of {RUNS})")
        own.close()


if __name__ == "__main__":
    main()
