"""Corrected lots in the tables of uses: written with the entry, and drawn again just so."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from decimal import Decimal
from pathlib import Path
from typing import Any

from tests.storage.entries import STATION, Chain
from weighd.domain.record import Entry
from weighd.storage.journal import open_journal
from weighd.storage.memory import MemoryJournal


def corrected(chain: Chain, part: int, old: str, new: str, g: str) -> Entry:
    drew = {"addition": 1, "ingredient": "milk", "part": part, "g": g, "u_g": "0.3"}
    return chain.add("corrected", "kitchen-0001", field="lot", old=old, new=new, drew=drew)


def tables(path: Path) -> list[Any]:
    with closing(sqlite3.connect(path)) as connection:
        return [
            connection.execute(f"SELECT * FROM {name} ORDER BY 1, 2, 3").fetchall()
            for name in ("lot_use", "lot_sum")
        ]


def test_tables_drawn_again_are_those_that_were_kept_and_memory_has_them_too(
    tmp_path: Path,
) -> None:
    path, chain = tmp_path / "weighd.db", Chain()
    lots = [{"lot": "L-1", "g": "200"}, {"lot": "L-2", "g": "300.10"}]
    entries = [
        chain.opening("kitchen-0001"),
        chain.weighing("kitchen-0001", 1, lot="L-2", lots=lots, u_g="0.3", ingredient="milk"),
        chain.weighing("kitchen-0001", 2, lot="", u_g="0.4", ingredient="sugar"),
        corrected(chain, 1, "L-1", "L-3", "200"),
        corrected(chain, 2, "L-2", "L-3", "300.10"),
        corrected(chain, 2, "L-3", "", "300.10"),
        corrected(chain, 2, "no such", "L-4", "300.10"),
    ]
    journal, memory = open_journal(path, STATION), MemoryJournal(STATION)
    for one in entries:
        journal.append([one])
    memory.append(entries[:-1])
    asked = journal.uses_in_batches(["kitchen-0001"]), journal.drawn()
    assert [(one.lot, one.g, one.corrected) for one in asked[0]] == [
        ("L-3", Decimal(200), True),
        ("", Decimal("300.10"), True),
        ("", Decimal("500.10"), False),
    ]
    assert {lot: (one.g, one.u2, one.uses) for lot, one in asked[1].items()} == {
        "L-3": (Decimal(200), Decimal("0.09"), 1)
    }
    assert (memory.uses_in_batches(["kitchen-0001"]), memory.drawn()) == asked
    kept = tables(path)
    journal.rebuild_batches()
    assert tables(path) == kept
    assert (journal.uses_in_batches(["kitchen-0001"]), journal.drawn()) == asked
    journal.close()
