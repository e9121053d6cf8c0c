"""Chains of entries to store: a batch that opens, is weighed and closes, as a station writes it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from weighd.domain.record import Entry, Tail, seal

STATION = "kitchen"


class Chain:
    """Makes entries that follow one another, from ``tail`` on."""

    def __init__(self, tail: Tail | None = None, station: str = STATION) -> None:
        self.tail = tail or Tail()
        self.station = station
        self._bound: dict[str, tuple[int, str]] = {}

    def add(self, kind: str, batch: str, **body: Any) -> Entry:
        """One more entry of a batch."""
        n, after = self._bound.get(batch, (0, "0" * 64))
        whole = {**body, "batch": batch, "n": n + 1, "after": after}
        at = f"2026-03-01T08:{self.tail.seq // 60 % 60:02}:{self.tail.seq % 60:02}.000Z"
        entry = seal(self.station, kind, at, whole, self.tail)
        self.tail = Tail(entry.seq, entry.hash)
        self._bound[batch] = (n + 1, entry.hash)
        return entry

    def opening(self, batch: str, additions: int = 2, **more: Any) -> Entry:
        """The entry that opens a batch of an invented formula."""
        return self.add(
            "batch opened",
            batch,
            **{
                "formula": {
                    "id": "test-ice",
                    "name": "Test ice",
                    "revision": "ab12",
                    "content": {},
                },
                "batch_g": "2400",
                "operator": "Ada",
                "additions": [{"n": n + 1, "target_g": "500"} for n in range(additions)],
                **more,
            },
        )

    def weighing(self, batch: str, addition: int = 1, **more: Any) -> Entry:
        """An accepted addition, with evidence of the size that a real one has."""
        readings = [
            {"t": 12.0 + k / 8, "raw": f"53542c2b{k:08x}", "grams": f"{500 + k / 10:.1f}"}
            for k in range(16)
        ]
        return self.add(
            "addition accepted",
            batch,
            addition=addition,
            net_g="500.10",
            evidence={"gross": readings},
            **more,
        )

    def check(self, scale: str, outcome: str = "pass", **more: Any) -> Entry:
        """A check of a scale: an entry of no batch."""
        at = f"2026-03-01T08:{self.tail.seq // 60 % 60:02}:{self.tail.seq % 60:02}.000Z"
        body = {"scale": scale, "outcome": outcome, "steps": [], "last_good": None, **more}
        entry = seal(self.station, "scale checked", at, body, self.tail)
        self.tail = Tail(entry.seq, entry.hash)
        return entry

    def lot(self, kind: str, lot: str, **more: Any) -> Entry:
        """An entry of a lot: of no batch."""
        at = f"2026-03-01T08:{self.tail.seq // 60 % 60:02}:{self.tail.seq % 60:02}.000Z"
        entry = seal(self.station, kind, at, {"lot": lot, "by": "Ada", **more}, self.tail)
        self.tail = Tail(entry.seq, entry.hash)
        return entry

    def whole_batch(self, batch: str) -> list[Entry]:
        """A batch from opening to closing: four entries."""
        return [
            self.opening(batch),
            self.weighing(batch, 1),
            self.weighing(batch, 2),
            self.add("batch closed", batch),
        ]

    def all_weighed(self, batch: str) -> list[Entry]:
        """A batch from opening to what comes after weighing: four entries."""
        return [
            self.opening(batch),
            self.weighing(batch, 1),
            self.weighing(batch, 2),
            self.add("all weighed", batch, additions=2),
        ]

    def endless(self, batch: str = "kitchen-0001") -> Iterator[list[Entry]]:
        """Appends without end: the opening, then weighings with a lot named, two at a time."""
        yield [self.opening(batch)]
        while True:
            key = f"key-{self.tail.seq}"
            yield [self.add("lot named", batch, lot="L7", key=key), self.weighing(batch)]


def intact(entries: list[Entry]) -> bool:
    """Whether entries are a chain from the first on, each giving the hash it carries."""
    tail = Tail()
    for entry in entries:
        again = seal(entry.station, entry.kind, entry.at, entry.body, tail)
        if (again.seq, again.prev, again.hash) != (entry.seq, entry.prev, entry.hash):
            return False
        tail = Tail(entry.seq, entry.hash)
    return True
