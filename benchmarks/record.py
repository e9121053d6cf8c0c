"""The record: how fast it is written, how fast it is verified, and how much room it takes.

    python benchmarks/record.py [--acceptances 2000] [--entries 1000000] [--whole 10000] [--at DIR]

1. *Written.* Acceptances with their evidence through the journal, one durable commit each:
   canonical JSON, hash, chain, list of batches, what was drawn of lots, and a signature where a
   batch ends. The floor is SQLite alone: the same rows of ``entry``, in the same commits.
2. *Verified.* A journal of so many entries, every batch signed: its chain and signatures
   (``weighd verify --chain``), the start of the program and all processors included. The floor is
   SHA-256 over the same bytes in memory, on one core; with reading them from the file by one
   statement a page it is told beside. Then a journal of ``--whole`` entries with every verdict made
   again from its evidence (``weighd verify``). Memory is the most that a process of it held.
3. *Room.* Bytes in the file for each addition, beside its evidence alone, compressed.

Additions are those of the recorded session ``plain``, sealed anew, one batch after the other: real
readings, real evidence. Times are of this machine and this run; the ratios mean something.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import lzma
import os
import resource
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
import zlib
from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

from weighd.domain.chain import Row
from weighd.domain.record import Entry, Tail, bytes_around, canonical, seal
from weighd.domain.verify import read_export
from weighd.storage.journal import SqlJournal, open_journal
from weighd.storage.keys import KEY_FILE, station_key
from weighd.storage.rows import stored

STATION = "bench"
SESSION = Path(__file__).parents[1] / "fixtures/sessions/plain.golden.json"


class Batches:
    """Batches without end, each as the recorded one, with another name and at another place."""

    def __init__(self) -> None:
        self.tail = Tail()
        self._made = 0
        document = json.loads(SESSION.read_text("utf-8"))
        self.recorded = read_export(document)

    def next(self) -> list[Entry]:
        """One more batch, from opening to closing."""
        self._made += 1
        batch, after, out = f"bench-{self._made:06d}", "0" * 64, []
        for n, one in enumerate(self.recorded, start=1):
            body: dict[str, Any] = {**one.body, "batch": batch, "n": n, "after": after}
            if "key" in body:
                body["key"] = f"{batch}-{n}"
            entry = seal(STATION, one.kind, one.at, body, self.tail)
            self.tail, after = Tail(entry.seq, entry.hash), entry.hash
            out.append(entry)
        return out


def opened(folder: Path) -> SqlJournal:
    """A new journal with its key."""
    folder.mkdir()
    journal = open_journal(folder / "weighd.db", STATION)
    journal.signer = station_key(folder / KEY_FILE)
    return journal


def written(folder: Path, acceptances: int) -> None:
    """Durable acceptances a second, beside bare commits of the same rows, by turns."""
    batches, ours, bare = Batches(), list[float](), list[float]()
    journal, ours_used, bare_used = opened(folder / "ours"), 0.0, 0.0
    with closing(sqlite3.connect(folder / "bare.db", isolation_level=None)) as floor:
        floor.execute("PRAGMA journal_mode = WAL")
        floor.execute("PRAGMA synchronous = FULL")
        floor.execute(
            "CREATE TABLE entry (seq INTEGER, station TEXT, kind TEXT, at TEXT, batch TEXT,"
            " key TEXT, body TEXT, prev TEXT, hash TEXT, PRIMARY KEY (station, seq))"
        )
        while len(ours) < acceptances:
            for waiting in commits(batches.next()):
                began, had = time.perf_counter(), time.process_time()
                tail, sealed = Tail(waiting[0].seq - 1, waiting[0].prev), []
                for it in waiting:
                    sealed.append(seal(it.station, it.kind, it.at, it.body, tail))
                    tail = Tail(sealed[-1].seq, sealed[-1].hash)
                journal.append(sealed)
                took, used = time.perf_counter() - began, time.process_time() - had
                some = [tuple(stored(it)[name] for name in Row._fields) for it in sealed]
                began, had = time.perf_counter(), time.process_time()
                floor.execute("BEGIN IMMEDIATE")
                for row in some:
                    floor.execute("INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", row)
                floor.execute("COMMIT")
                if any(it.kind == "addition accepted" for it in waiting):
                    bare.append(time.perf_counter() - began)
                    bare_used += time.process_time() - had
                    ours.append(took)
                    ours_used += used
    journal.close()
    print(f"written: {len(ours)} acceptances, the ends of their batches signed")
    for name, times, used in (("ours", ours, ours_used), ("bare", bare, bare_used)):
        rate, each = len(times) / sum(times), 1e6 * used / len(times)
        print(f"  {name}  {rate:6.0f} a second, median {1e6 * middle(times):.0f} us,")
        print(f"        {each:.0f} us of the processor")
    print(f"  ratio {sum(bare) / sum(ours):.2f}, of medians {middle(bare) / middle(ours):.2f},")
    print(f"  of the processor {bare_used / ours_used:.2f}")


def commits(made: Sequence[Entry]) -> Iterator[list[Entry]]:
    """The entries of a batch as they are committed: one by one, but for the last acceptance,
    which ends the batch in the same commit."""
    waiting = list[Entry]()
    for one, after in zip(made, [*made[1:], None], strict=True):
        waiting.append(one)
        if after is None or after.kind != "batch closed":
            yield waiting
            waiting = []


def middle(times: list[float]) -> float:
    """The median."""
    return sorted(times)[len(times) // 2]


def filled(folder: Path, entries: int) -> int:
    """A journal of so many entries or a few more, signed, without waiting for the disk."""
    journal, batches, count = opened(folder), Batches(), 0
    store = journal._store
    store.write(lambda connection: connection.exec_driver_sql("SELECT 1"))
    raw = store._raw(store._writer)  # type: ignore[attr-defined]
    raw.execute("PRAGMA synchronous = OFF")
    while count < entries:
        some = [one for _ in range(50) for one in batches.next()]
        journal.append(some)
        count += len(some)
    journal.close()
    return count


def verified(folder: Path, entries: int, whole: int) -> None:
    """Verification of the chain beside bare hashing; a stretch with its verdicts."""
    began = time.perf_counter()
    database = folder / "many/weighd.db"
    count = filled(folder / "many", entries)
    print(f"verified: {count} entries, made in {time.perf_counter() - began:.0f} s")
    key = station_key(folder / "many" / KEY_FILE).key
    took, used, most = timed("verify", database, "--key", key, "--chain")
    hashing, reading, size = floor_of(database, count)
    print(f"  {size / 1e6:.0f} MB: hashed in {hashing:.1f} s, read and hashed in {reading:.1f} s")
    print(f"  chain and signatures in {took:.1f} s, at most {most} MB a process;")
    print(f"  {used:.1f} s of processors, {used / hashing:.1f} times what hashing takes of one")
    print(f"  ratio to hashing {took / hashing:.1f}, to both {took / reading:.1f}")
    count = filled(folder / "some", whole)
    hashing, _, _ = floor_of(folder / "some/weighd.db", count)
    took, _, most = timed("verify", folder / "some/weighd.db")
    print(
        f"  {count} with every verdict made again in {took:.1f} s, {1e6 * took / count:.0f} us an"
        f" entry, {most} MB; ratio to hashing {took / hashing:.0f}"
    )


def floor_of(database: Path, count: int) -> tuple[float, float, int]:
    """Seconds to hash the bytes of all entries, to read them too; how many bytes they are."""
    hashing, reading, size = 0.0, 0.0, 0
    with closing(sqlite3.connect(database)) as shell:
        for first in range(0, count, 1_000):
            began = time.perf_counter()
            page = shell.execute(
                "SELECT body, seq, station, kind, at, prev, batch, key, hash FROM entry"
                " WHERE station = ? AND seq > ? AND seq <= ? ORDER BY seq",
                (STATION, first, first + 1_000),
            ).fetchall()
            reading += time.perf_counter() - began
            whole = [bytes_around(*row[:6]) for row in page]
            size += sum(map(len, whole))
            began = time.process_time()  # memory alone: not what others keep it waiting
            for one in whole:
                hashlib.sha256(one).hexdigest()
            hashing += time.process_time() - began
    return hashing, hashing + reading, size


def timed(*command: str | Path) -> tuple[float, float, int]:
    """Seconds that a command of ours takes, of processors too; the most MB of a process of it."""
    before, had = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [str(Path(sys.executable).with_name("weighd")), *map(str, command)],
        check=True,
        stdout=subprocess.DEVNULL,
    )
    took = time.perf_counter() - before
    has = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = has.ru_utime - had.ru_utime + has.ru_stime - had.ru_stime
    return took, used, has.ru_maxrss // 1024


def room(folder: Path) -> None:
    """Bytes an addition takes, beside its evidence compressed."""
    database = folder / "some/weighd.db"
    with closing(sqlite3.connect(database)) as shell:
        shell.execute("VACUUM")
        additions = shell.execute(
            "SELECT count(*) FROM entry WHERE kind = 'addition accepted'"
        ).fetchone()[0]
        bodies = [
            json.loads(one)
            for (one,) in shell.execute(
                "SELECT body FROM entry WHERE kind = 'addition accepted' LIMIT 500"
            )
        ]
        tables = (
            dict(
                shell.execute("SELECT name, sum(pgsize) FROM dbstat GROUP BY name ORDER BY 2 DESC")
            )
            if has_dbstat(shell)
            else {}
        )
    whole = database.stat().st_size / additions
    evidence = [canonical(one["evidence"]) for one in bodies]
    raw = [
        bytes.fromhex("".join(it["raw"] for part in ("gross", "tare") for it in one[part]))
        for one in (it["evidence"] for it in bodies)
    ]
    print(f"room: {whole:.0f} bytes an addition, all other entries, lists and indexes with it")
    print(
        f"  its body {mean(map(canonical, bodies)):.0f}, the evidence in that {mean(evidence):.0f}"
    )
    print(f"  evidence by zlib {mean(map(zlib.compress, evidence)):.0f}, by lzma")
    print(f"  {mean(map(lzma.compress, evidence)):.0f}; the bytes of the scale in it")
    print(f"  {mean(raw):.0f}, by zlib {mean(map(zlib.compress, raw)):.0f}")
    for name, size in list(tables.items())[:8]:
        print(f"  {name:<24} {size / additions:7.0f} an addition")


def has_dbstat(shell: sqlite3.Connection) -> bool:
    """Whether this SQLite can say which table takes how much."""
    try:
        shell.execute("SELECT 1 FROM dbstat LIMIT 1")
    except sqlite3.OperationalError:
        return False
    return True


def mean(some: Any) -> float:
    """The mean length."""
    lengths = [len(one) for one in some]
    return sum(lengths) / len(lengths)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--acceptances", type=int, default=2_000)
    parser.add_argument("--entries", type=int, default=1_000_000)
    parser.add_argument("--whole", type=int, default=10_000, help="entries with verdicts")
    parser.add_argument("--at", type=Path, help="a folder for some GB; a temporary one otherwise")
    given = parser.parse_args()
    print(f"{os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}")
    folder = Path(tempfile.mkdtemp(dir=given.at))
    try:
        written(folder, given.acceptances)
        verified(folder, given.entries, given.whole)
        room(folder)
    finally:
        shutil.rmtree(folder)
    print(f"load afterwards {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
