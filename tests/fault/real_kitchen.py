"""A station with its real journal and key on a real disk, in virtual time, that can die anywhere.

What it does is a list of things with a key each, done in order; a life begins where the record of
the lives before it ends, as a daemon does. Between any two effects it passes a named point.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from tests.station.process_cook import CONTENT, Cook
from tests.station.scripted import LineDecoder
from weighd.domain.record import Entry
from weighd.domain.signed import SignatureVerifier
from weighd.domain.verify import Verifier, export, verify_export
from weighd.station.inputs import Answer, ClockSet, Recalled
from weighd.station.off_bench import without_evidence
from weighd.storage.journal import SqlJournal, open_journal, open_read_only
from weighd.storage.keys import KEY_FILE, StationKey, made, station_key
from weighd.storage.sqlite import look

STATION = "test"
DATABASE = "weighd.db"
VESSEL = Decimal(300)
NETS = (Decimal(500), Decimal(120), Decimal(2))
Point = Callable[[str], None]
Told = Callable[[str, int], None]


class _Signer:
    """The station's key, with a point before and after each signature."""

    def __init__(self, key: StationKey, point: Point) -> None:
        self._key, self._point = key, point
        self.key = key.key

    def sign(self, statement: bytes) -> str:
        self._point("to be signed")
        value = self._key.sign(statement)
        self._point("signed, not written")
        return value


class Kitchen(Cook):
    """``point`` is called between effects, ``told`` with what a page was told: key and entry."""

    def __init__(self, folder: Path, point: Point, told: Told) -> None:
        self._point, self._told = point, told
        self.real = open_journal(folder / DATABASE, STATION)
        point("journal opened")
        self.real.signer = _Signer(station_key(folder / KEY_FILE), point)
        point("key read")
        entries = list(self.real.entries())
        self._base = entries[-1].at if entries else "2026-11-25T09:00:00.000Z"
        super().__init__(entries)
        for kept in (self.real.open_batch(), *self.real.in_process()):
            of = kept[0].body["batch"] if kept else ""
            assert list(kept) == [one for one in entries if one.body.get("batch") == of]
        point("awake")

    def take(self, event: Any) -> Answer | None:
        if isinstance(event, ClockSet):  # time goes on while nobody is there
            at = datetime.fromisoformat(self._base) + timedelta(seconds=60)
            event = ClockSet(event.t, at.isoformat(timespec="milliseconds").replace("+00:00", "Z"))
        return super().take(event)

    def _append(self, entries: Sequence[Entry]) -> None:
        kinds = " and ".join(one.kind for one in entries)
        self._point(f"{kinds}: to be written")
        self.real.append(entries)
        self._point(f"{kinds}: durable, nobody told")
        super()._append(entries)

    def tell(self, do: str, key: str, **given: Any) -> str:
        """A command with a key; what was answered is told. The batch it is of."""
        answer = self.do(do, key=key, **given)
        assert answer is not None
        assert answer.entry is not None
        self._told(key, answer.entry)
        self._point(f"{do}: told")
        return answer.batch

    def has(self, key: str) -> bool:
        """Whether a command with this key was done in this life or one before."""
        return any(one.body.get("key") == key for one in self.journal)

    # --- an evening -------------------------------------------------------------------------------

    def evening(self, n: int) -> None:
        """Lots received, a batch weighed out of them, its steps, and a correction afterwards."""
        lots = [self.lot(f"{n} lot {k}", name) for k, name in enumerate(("milk", "sugar"))]
        batch = self.weigh_all(f"{n}", lots)
        self.steps(f"{n}", batch)
        first = next(one for one in self.of(batch) if one.kind == "addition accepted")
        asked = {"entry": first.body["n"], "field": "lot", "old": lots[0], "new": "L9"}
        if not self.has(f"{n} correct"):
            self.recall(batch)
        self.tell("correct", f"{n} correct", batch=batch, by="Bo", reason="misread", **asked)

    def lot(self, key: str, ingredient: str) -> str:
        goods = {"ingredient": ingredient, "quantity_g": "5000"}
        self.tell("receive lot", key, by="Ada", goods=goods)
        entry = next(one for one in self.journal if one.body.get("key") == key)
        return str(entry.body["lot"])

    def weigh_all(self, key: str, lots: Sequence[str]) -> str:
        if not self.has(f"{key} start"):
            self.lift("0.0")
        batch = self.tell("start", f"{key} start", formula=CONTENT, by="Ada")
        if not self.has(f"{key} tare"):
            self.lift(str(VESSEL))
        self.tell("tare", f"{key} tare", batch=batch)
        load = VESSEL
        for n, net in enumerate(NETS, start=1):
            if not self.has(f"{key} accept {n}"):
                self.show(load)
                if n <= len(lots):
                    self.tell("name lot", f"{key} name {n}", batch=batch, lot=lots[n - 1])
                self.pour(load + net)
            load += net
            self.tell("accept", f"{key} accept {n}", batch=batch, addition=n)
        return batch

    def steps(self, key: str, batch: str) -> None:
        for n, (do, minutes, more) in enumerate(
            (
                ("begin step", 0, {"step": 1, "confirmed": ("hot pan",)}),
                ("end step", 3, {"step": 1}),
                ("begin step", 0, {"step": 2, "pair": "65.6 °C, 30 min"}),
                ("enter temperature", 20, {"step": 2, "temperature": "66"}),
                ("enter temperature", 30, {"step": 2, "temperature": "66.2 °C"}),
                ("end step", 0, {"step": 2}),
                ("begin step", 0, {"step": 3}),
                ("enter temperature", 60, {"step": 3, "temperature": "3.5"}),
                ("end step", 240, {"step": 3}),
            )
        ):
            if not self.has(f"{key} step {n}"):
                self.t += minutes * 60
            self.tell(do, f"{key} step {n}", batch=batch, by="Bo", **more)

    def recall(self, batch: str) -> None:
        """As the running station does where a command is of a batch that is over."""
        entries = tuple(without_evidence(one) for one in self.of(batch))
        self.take(Recalled(self.t, entries))


def sound(path: Path, told: dict[str, int]) -> list[Entry]:
    """The record left behind: all that was told is there, once; it verifies, signatures and all.

    Read as ``weighd verify`` reads it, without touching it.
    """
    if look(path) is None:  # it died before there were tables
        assert not told
        return []
    journal = open_read_only(path, STATION)
    entries = list(journal.entries())
    signatures = list(journal.signatures())
    journal.close()
    keyed = [(one.body["key"], one.seq) for one in entries if one.body.get("key")]
    assert len(dict(keyed)) == len(keyed), "something was done twice"
    missing = told.items() - dict(keyed).items()
    assert not missing, f"told and not there: {missing}"
    verifier = Verifier(whole=True, reread=lambda _: LineDecoder())
    key = station_key(path.with_name(KEY_FILE)).key if path.with_name(KEY_FILE).exists() else ""
    signing = SignatureVerifier(made, [key] if signatures else [], whole=True)
    for one in entries:
        verifier.take(one)
        those = [it for seq, it in signatures if seq == one.seq]
        over = "batch" in one.body and verifier.is_over(one.body["batch"])
        if "batch" in one.body:
            signing.take(one, those, over=over)
        assert not over or those, f"entry {one.seq} ends a batch and is not signed"
    signing.finish([it for seq, it in signatures if seq > len(entries)], len(entries))
    verifier.finish()
    return entries


def drawn_tables(journal: SqlJournal) -> dict[str, list[tuple[Any, ...]]]:
    """The tables that are drawn from the entries, row by row."""
    return journal._store.read(
        lambda asked: {
            table: sorted(map(tuple, asked.exec_driver_sql(f"SELECT * FROM {table}")))
            for table in ("batch", "lot_use", "lot_sum")
        }
    )


def finished(folder: Path, told: dict[str, int], evenings: int) -> None:
    """The evenings ended at last: every batch closed, each shown alone, the tables true."""
    entries = sound(folder / DATABASE, told)
    batches = {one.body["batch"] for one in entries if "batch" in one.body}
    assert len(batches) == evenings
    journal = open_journal(folder / DATABASE, STATION)
    key = station_key(folder / KEY_FILE).key
    for batch in batches:
        own = journal.batch(batch)
        kinds = [one.kind for one in own]
        assert kinds.count("addition accepted") == len(NETS)
        assert kinds.count("batch closed") == 1
        given = [one for _, one in journal.signatures(batch)]
        document = export(STATION, batch, own, (), given)
        verify_export(document, lambda _: LineDecoder(), made, [key])
    stood = drawn_tables(journal)
    journal.rebuild_batches()
    assert drawn_tables(journal) == stood
    journal.close()
