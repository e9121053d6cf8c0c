"""Journals of stations with real entries: the golden records, sealed anew under their names."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from tests.reports.records import GOLDEN
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.verify import read_checks, read_export
from weighd.storage.journal import SqlJournal, open_journal
from weighd.storage.keys import KEY_FILE, station_key


def resealed(
    entries: Sequence[Entry], tail: Tail, batch: str, station: str = "mill"
) -> list[Entry]:
    """The same entries after ``tail``, those of a batch under another name."""
    out, after, known = list[Entry](), "0" * 64, dict[str, Entry]()
    for one in entries:
        body = {key: _renamed(value, known) for key, value in one.body.items() if key != "key"}
        if "batch" in body:
            body |= {"batch": batch, "after": after}
        made = known[one.hash] = seal(station, one.kind, one.at, body, tail)
        after = made.hash if "batch" in body else after
        out.append(made)
        tail = Tail(made.seq, made.hash)
    return out


def _renamed(value: Any, known: Mapping[str, Entry]) -> Any:
    """A value of a body; where it names an entry by number and hash, under its new ones."""
    if isinstance(value, list):
        return [_renamed(one, known) for one in value]
    if not isinstance(value, dict):
        return value
    out = {key: _renamed(one, known) for key, one in value.items()}
    named = known.get(str(out.get("hash")))
    if named is not None:
        out |= {"hash": named.hash, **({"seq": named.seq} if "seq" in out else {})}
    return out


@cache
def _golden() -> list[list[Entry]]:
    documents: list[dict[str, Any]] = [json.loads(one.read_text("utf-8")) for one in GOLDEN]
    every = [(*read_checks(one), *read_export(one)) for one in documents]
    return [sorted(one, key=lambda entry: entry.seq) for one in every]


def golden_batches(station: str, tail: Tail, first: int, count: int) -> list[Entry]:
    """``count`` batches of the golden records in turn, the first of them the ``first``."""
    out: list[Entry] = []
    for n in range(first, first + count):
        which = n % len(GOLDEN)
        if n >= len(GOLDEN) and "checked" in GOLDEN[which].name:
            which = 0  # a scale's first check is its first only once
        entries = _golden()[which]
        out += resealed(entries, tail, f"{station}-{n + 1:04d}", station)
        tail = Tail(out[-1].seq, out[-1].hash)
    return out


def kitchen(folder: Path, station: str, batches: int) -> SqlJournal:
    """An open journal of a station with its key, and with so many batches in it."""
    journal = open_journal(folder / station / "weighd.db", station)
    journal.signer = station_key(folder / station / KEY_FILE)
    weigh(journal, 0, batches)
    return journal


def weigh(journal: SqlJournal, first: int, batches: int) -> None:
    """Some batches more, an entry at a time as a station writes them."""
    for one in golden_batches(journal.station, journal.tail(), first, batches):
        journal.append([one])
