"""A journal in memory: for replays, for tests, and for showing how weighing goes."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from decimal import Decimal

from weighd.domain.away import as_was
from weighd.domain.batch import Kind, Status
from weighd.domain.check_record import is_check
from weighd.domain.errors import JournalError
from weighd.domain.lot_record import is_lot_entry
from weighd.domain.lot_uses import Drawn, Use, drawn_by
from weighd.domain.record import Entry, Tail
from weighd.domain.signing import Signature
from weighd.domain.spelling import plain
from weighd.station.ports import ALL_WEIGHED, CODES, WRITTEN, BatchRow, Opening, Tally
from weighd.storage.rows import follow, key_used, keys_of, line, restored, stored


class MemoryJournal:
    """Keeps what a database would keep, and is gone with the process."""

    def __init__(self, station: str, start: Tail | None = None) -> None:
        self.station = station
        self._start = start or Tail()
        self._entries: list[Entry] = []
        self._lines: dict[str, BatchRow] = {}
        self._keys: dict[str, Entry] = {}
        self._turn = threading.Lock()
        self._closed = False

    def append(self, entries: Sequence[Entry]) -> None:
        """Add entries that follow the newest: all of them or, if it raises, none."""
        self._check_open()
        rows = [stored(one) for one in entries]
        # As a database would: what is kept shares nothing with what was handed over.
        kept = [restored(row) for row in rows]
        keys = keys_of(rows)
        with self._turn:
            follow(self.station, self._tail(), kept)
            for key in keys:
                if key in self._keys:
                    raise key_used(key)
            lines = dict(self._lines)
            for one in kept:
                batch = one.body.get("batch")
                after = line(lines.get(batch), one) if batch is not None else None
                if after is not None:
                    lines[after.id] = after
            self._lines = lines
            self._entries.extend(kept)
            self._keys.update(
                (str(row["key"]), one)
                for row, one in zip(rows, kept, strict=True)
                if row["key"] is not None
            )

    def tail(self) -> Tail:
        """Number and hash of the newest entry."""
        self._check_open()
        with self._turn:
            return self._tail()

    def batch(self, batch: str) -> Sequence[Entry]:
        """The entries of one batch, oldest first; empty when there is none."""
        self._check_open()
        with self._turn:
            return [one for one in self._entries if one.body.get("batch") == batch]

    def open_batch(self) -> Sequence[Entry]:
        """The entries of the batch that is still open; empty when none is."""
        for row in self.batches(limit=len(self._lines)):
            if row.status == Status.OPEN:
                return self.batch(row.id)
        return []

    def in_process(self) -> Sequence[Sequence[Entry]]:
        """The entries of each batch in process, the oldest first."""
        self._check_open()
        rows = list(self._lines.values())
        return [self.batch(row.id) for row in rows if row.status == Status.IN_PROCESS]

    def batches(self, *, limit: int = 50, before: str | None = None) -> Sequence[BatchRow]:
        """Newest first; ``before`` is a batch id to go on from, and nothing precedes a stranger."""
        self._check_open()
        rows = list(self._lines.values())  # in the order they were opened
        if before is not None:
            rows = rows[: [one.id for one in rows].index(before)] if before in self._lines else []
        return rows[::-1][: max(limit, 0)]

    def find_batches(self, words: Sequence[str], limit: int) -> Sequence[BatchRow]:
        """Those that have all these words, newest first."""

        def has_all(row: BatchRow) -> bool:
            text = plain(" ".join(getattr(row, one) for one in CODES + WRITTEN))
            return all(one in text for one in words)

        self._check_open()
        return [one for one in reversed(self._lines.values()) if has_all(one)][: max(limit, 0)]

    def newest_of_formulas(self) -> Mapping[str, BatchRow]:
        """The newest batch of each formula that was all weighed, by the formula's id."""
        self._check_open()
        return {one.formula: one for one in self._lines.values() if one.status in ALL_WEIGHED}

    def lines_of(self, batches: Iterable[str]) -> Mapping[str, BatchRow]:
        """The lines of these batches by their ids, as far as there are such."""
        self._check_open()
        return {one: self._lines[one] for one in batches if one in self._lines}

    def openings(self, formula: str) -> Sequence[Opening]:
        """Which revision of a formula each of its batches was opened with, oldest first."""
        out = []
        for one in map(as_was, self.entries()):
            named = one.body["formula"] if one.kind == Kind.OPENED else {}
            if named.get("id") == formula:
                by, revision = one.body["operator"], named.get("revision", "")
                out.append(Opening(one.body["batch"], one.at, by, revision))
        return out

    def tally(self, kinds: Collection[str]) -> Tally:
        """How many entries there are of these kinds."""
        counted = Counter[tuple[str, str, str]]()
        for one in self._entries:
            said = one.body.get("verdict") or one.body.get("outcome") or ""
            if one.kind in kinds:
                counted[one.kind, str(said), str(one.body.get("scale", ""))] += 1
        return Tally(self._tail().seq, [(*told, n) for told, n in counted.items()])

    def count_batches(self) -> int:
        """How many batches were ever opened."""
        self._check_open()
        return len(self._lines)

    def entry_for_key(self, key: str) -> Entry | None:
        """The entry that a command with this idempotency key made, if it made one."""
        self._check_open()
        return self._keys.get(key)

    def entries(
        self, *, after: int = 0, limit: int | None = None, kind: str | None = None
    ) -> Iterable[Entry]:
        """All entries in order, or those of a kind."""
        self._check_open()
        first = max(after - self._start.seq, 0)
        found = [one for one in self._entries[first:] if kind in (None, one.kind)]
        return iter(found[: None if limit is None else max(limit, 0)])

    def newest(self, kind: str, *, before: int | None = None) -> Iterable[Entry]:
        """The entries of a kind, newest first."""
        self._check_open()
        found = [one for one in self._entries if one.kind == kind]
        return iter([one for one in found[::-1] if before is None or one.seq < before])

    def checks(self, *, before: int | None = None) -> Iterable[Entry]:
        """The checks of scales, newest first."""
        self._check_open()
        found = [one for one in self._entries if is_check(one)]
        return iter([one for one in found[::-1] if before is None or one.seq < before])

    def lot_entries(self) -> Iterable[Entry]:
        """The entries of lots, oldest first."""
        self._check_open()
        return [one for one in self._entries if is_lot_entry(one)]

    def drawn(self) -> Mapping[str, Drawn]:
        """What was drawn from each lot by now."""
        out: dict[str, Drawn] = {}
        for one in self._uses():
            if one.lot:
                out[one.lot] = out.get(one.lot, Drawn()).and_also(one.g, one.u_g)
        return out

    def uses_of_lots(self, lots: Sequence[str]) -> Sequence[Use]:
        """What went where from these lots, in the order of the record."""
        return [one for one in self._uses() if one.lot in lots]

    def uses_in_batches(self, batches: Sequence[str]) -> Sequence[Use]:
        """What went into these batches, in the order of the record."""
        return [one for one in self._uses() if one.batch in batches]

    def masses_of_batches(self, batches: Sequence[str]) -> Mapping[str, Decimal]:
        """Grams of all that was weighed into each of these batches."""
        out: dict[str, Decimal] = {}
        for one in self.uses_in_batches(batches):
            out[one.batch] = out.get(one.batch, Decimal(0)) + one.g
        return out

    def _uses(self) -> list[Use]:
        self._check_open()
        return list(drawn_by(self._entries))

    def signatures(self, batch: str | None = None) -> Iterable[tuple[int, Signature]]:  # noqa: ARG002
        """None: what is only in memory is signed by nobody."""
        self._check_open()
        return ()

    def close(self) -> None:
        """Let go of it all. Does nothing the second time."""
        self._closed = True

    def _tail(self) -> Tail:
        return Tail(self._entries[-1].seq, self._entries[-1].hash) if self._entries else self._start

    def _check_open(self) -> None:
        if self._closed:
            raise JournalError("store-closed", "The record is closed.", remedy="Open it again.")
