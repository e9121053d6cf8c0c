"""Stations that share their lots by a store in memory, each cut off for as long as one likes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, cast

from weighd.domain.batch import Batch, Kind
from weighd.domain.errors import OperatorError
from weighd.domain.lot_fold import inner
from weighd.domain.lot_record import RECEIVED, SHARED, TOLD, is_lot_entry
from weighd.domain.lot_shared import Sum
from weighd.domain.lot_uses import Drawn, drawn_by
from weighd.domain.lot_verify import LotVerifier
from weighd.domain.lots import Lot
from weighd.domain.record import Entry
from weighd.station.inputs import CameDown, ClockSet, Command, Input
from weighd.station.lot_history import book_in, shared_in
from weighd.station.runner import run_through
from weighd.station.session import Header
from weighd.station.sharing import Shared
from weighd.station.station import Station
from weighd.storage.memory import MemoryJournal


class Store:
    """What stations sent up, and what it has to say to each of them."""

    def __init__(self) -> None:
        self.sent: dict[str, list[Entry]] = {}

    def entries_for(self, own: str, marks: dict[str, int]) -> list[Entry]:
        return [
            one
            for name, entries in self.sent.items()
            for one in entries
            if name != own and one.kind in TOLD and one.seq > marks.get(name, 0)
        ]

    def sums_for(self, own: str) -> list[Sum]:
        out = []
        for name, entries in self.sent.items():
            known = names_of(name, entries)
            sums: dict[str, Drawn] = {}
            for use in drawn_by(entries):
                sums[use.lot] = sums.get(use.lot, Drawn()).and_also(use.g, use.u_g)
            for lot, drawn in sums.items():
                origin, code = known.get(lot, ("", ""))
                out.append(Sum(name, lot, drawn, origin, code))
        return [one for one in out if one.station != own]


def names_of(station: str, entries: Sequence[Entry]) -> dict[str, tuple[str, str]]:
    """What a station knows each lot as: where it was received, and its code there."""
    out = {}
    for entry in entries:
        done = inner(entry) if entry.kind == SHARED else entry
        if done.kind == RECEIVED and "corrects" not in done.body:
            out[str(entry.body["lot"])] = (done.station, str(done.body["lot"]))
    return out


class Bench:
    """A station without scales: what is weighed there is told to it."""

    def __init__(self, name: str, store: Store, minute: Callable[[], int]) -> None:
        self.name, self.store, self.minute = name, store, minute
        self.journal: list[Entry] = []
        self.inputs: list[Input] = []
        self.header = Header({}, "by hand", name, version="0", shared=Shared())
        self.sums: list[Sum] = []
        self.heard = ""
        self.uses = 0
        self.begin()

    def begin(self) -> None:
        """Start the station on its journal."""
        kept = MemoryJournal(self.name)
        kept.append(self.journal)
        lots = book_in(kept)
        shared = shared_in(lots, self.sums, self.heard)
        self.station = Station(
            self.name, [], tail=kept.tail(), version="0", lots=lots, shared=shared
        )

    def at(self) -> str:
        minute = self.minute()
        return f"2026-11-26T{minute // 60 % 24:02d}:{minute % 60:02d}:00.000Z"

    def take(self, event: Input) -> None:
        self.inputs.append(event)
        run_through(self.station.handle(event), self.journal.extend)

    def do(self, do: str, lot: str = "", **given: Any) -> str:
        """A command about a lot; what it was refused with, if it was."""
        goods, reason = given.pop("goods", None), given.pop("reason", "")
        self.take(ClockSet(0.0, self.at()))
        try:
            self.take(Command(0.0, do, by="Ada", lot=lot, goods=goods, reason=reason))
        except OperatorError as error:
            return error.code
        return ""

    def receive(self, lot: str, grams: str, ingredient: str = "milk") -> str:
        goods = {"ingredient": ingredient, "quantity_g": grams}
        return self.do("receive lot", lot, goods=goods)

    def draw(self, lot: str, grams: str, u_g: str = "0.1", batch: str = "") -> None:
        """Weigh so much of a lot into a batch, by its code or by what it is known as here."""
        found = self.station.stock.book.find(lot)
        self.uses += 1
        body = {
            "batch": batch or f"{self.name}-0001",
            "addition": self.uses,
            "ingredient": "milk",
            "lot": found.code if found else lot,
            "net_g": grams,
            "u_g": u_g,
        }
        steps = self.station.enter(str(Kind.ACCEPTED), body)
        run_through(cast(Any, steps), self.journal.extend)

    def send(self, upto: int | None = None) -> None:
        """Let the store have what it has not yet, or some of it."""
        self.store.sent[self.name] = self.journal[: upto or len(self.journal)]

    def pull(self) -> None:
        """Take down what the others sent up."""
        marks = self.station.stock.book.known
        entries = self.store.entries_for(self.name, marks)
        self.sums, self.heard = self.store.sums_for(self.name), self.at()
        rows = tuple(one.as_json() for one in entries)
        sums = tuple(one.as_json() for one in self.sums)
        self.take(CameDown(0.0, self.heard, rows, sums))

    def lot(self, station: str, code: str) -> Lot:
        own = "" if station == self.name else station
        found = self.station.stock.book.received_at(own, code)
        assert found is not None, (self.name, station, code)
        return found

    def notices(self) -> list[tuple[str, str]]:
        return [(one.code, one.text) for one in self.station.notices]

    def of_kind(self, kind: str) -> list[Entry]:
        return [one for one in self.journal if one.kind == kind]

    def verified(self) -> int:
        """Make every entry of a lot again from this journal alone; how many lots it has."""
        return verified(self.journal, self.store)


def verified(entries: Sequence[Entry], store: Store | None = None) -> int:
    def other(station: str, seq: int) -> str | None:
        sent = store.sent.get(station, []) if store else []
        return sent[seq - 1].hash if seq <= len(sent) else None

    verifier = LotVerifier(lambda _batch: True, other if store else None)
    for entry in entries:
        if is_lot_entry(entry):
            verifier.entry(entry)
        else:
            verifier.of_batch(cast(Batch, None), entry)
    return len(verifier)


class World:
    """Some benches and their store, in one time."""

    def __init__(self, *names: str) -> None:
        self.minute = 600
        self.store = Store()
        self.benches = {name: Bench(name, self.store, lambda: self.minute) for name in names}

    def __getitem__(self, name: str) -> Bench:
        return self.benches[name]

    def settle(self) -> None:
        """All are connected, until nothing new comes down anywhere."""
        for _ in range(4):
            for one in self.benches.values():
                one.send()
            for one in self.benches.values():
                one.pull()
