"""The rules that keep records true, held after every step; each check looks at what is new only.

1. Nothing is shown as accepted before it is durable: what pages show of a batch is the picture of
   its durable entries, also while an entry is being written.
2. An accepted addition keeps its evidence, and deriving it again gives the same: every entry is
   verified when it is durable, from its bytes on; and it is what truly was weighed (``truth``).
3. Nothing is edited: the journal gives back what was written, and goes on from there.
4. Every entry is chained; a batch that is over is verified from its signed export alone.
5. A key acts once.
6. One reading decides nothing: levels are what the scale meant, though bytes were misread.

And: a batch is the fold of its entries, whoever holds it; nothing changes without an entry; what is
offered is taken; a scale that cannot be heard shows nothing.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from tests.simulation.broken import Broken, hold
from tests.simulation.house import House
from tests.simulation.pages import Page
from tests.simulation.tally import Tally
from tests.simulation.truth import Truth
from weighd.domain.addition import Phase
from weighd.domain.batch import Batch, Status
from weighd.domain.errors import JournalError, RecordError
from weighd.domain.lots import Lot
from weighd.domain.record import Entry
from weighd.domain.verify import Verifier
from weighd.main.drivers import reread
from weighd.station.inputs import Input
from weighd.station.picture import Picture, draw_batch
from weighd.station.scale import LinkState
from weighd.station.station import Station


class Rules:
    """Looks on at a house, over all its lives."""

    def __init__(self, house: House, truth: Truth, pages: Sequence[Page], tally: Tally) -> None:
        self.house, self.truth, self.pages, self.tally = house, truth, pages, tally
        self.entries: list[Entry] = []
        self.keys: dict[str, int] = {}
        #: The picture of each batch as its durable entries tell it, as far as it was drawn.
        self._drawn: dict[str, tuple[int, dict[str, Any]]] = {}
        self._verifier = Verifier(whole=True, reread=reread)
        self._phase: Phase | None = None
        self._book: dict[str, Lot] | None = None
        self._booked = 0
        self._held: Batch | None = None
        self._written = 0
        self._chance = house.setting.seed

    # --- while an entry is written ----------------------------------------------------------------

    def to_be_written(self, entries: Sequence[Entry]) -> None:
        """The entries are not there yet: no page may be shown them."""
        hold(entries, "entries are written, or none are", "an empty write")
        hold(
            entries[0].seq == len(self.entries) + 1,
            "entries follow each other",
            f"{entries[0].seq} after {len(self.entries)}",
        )
        if self.house.look.often(0.2):
            self._peek()

    def durable(self, entries: Sequence[Entry]) -> None:
        """They are: each is verified, and held to the truth."""
        for one in entries:
            try:
                self._verifier.take(one)
            except RecordError as error:
                raise Broken("what is written verifies", f"{error.code}: {error}") from error
            key = one.body.get("key")
            if key:
                hold(key not in self.keys, "a key acts once", f"{key}: entry {one.seq}")
                self.keys[key] = one.seq
            self.entries.append(one)
            self._count(one)
            self.truth.entry(one)
        if self.house.look.often(0.2):
            self._peek()

    def refused(self, error: JournalError) -> None:
        self.tally.saw("store", error.code)

    def _peek(self) -> None:
        """Some page asks for the picture right now."""
        self._shown_is_durable(self.house.picture.state())

    def begun(self) -> None:
        """Another life: it stands where the one before ended, by the journal alone."""
        station = self.house.station
        self.kept()
        self._folds()
        open_there = [one for one in self.batches() if one.current is not None]
        bench = station.batch if station.batch and station.batch.current else None
        hold(([bench] if bench else []) == open_there, "a life goes on", bench and bench.id)
        in_process = [one for one in self.batches() if one.status is Status.IN_PROCESS]
        hold(list(station.off_bench.in_process()) == in_process, "a life goes on", "steps")
        book = {one.code: one for one in station.stock.book}
        if self._book is not None and self._booked == len(self.entries):
            hold(book == self._book, "a life goes on", "lots")
        self._past_is(station)

    def _past_is(self, station: Station) -> None:
        """How checks stand follows from the journal too."""
        for name, past in station.checking.past.items():
            last = next((one for one in reversed(self.entries) if is_check_of(one, name)), None)
            hold((past.last and past.last.hash) == (last and last.hash), "a life goes on", "checks")

    # --- after each input -------------------------------------------------------------------------

    def taken(self, event: Input) -> None:
        """One more input is done with."""
        station = self.house.station
        written = len(self.entries)
        if station.now.phase is not self._phase:
            self._phase = station.now.phase
            if station.batch is not None:
                self.tally.saw("phase", self._phase)
        bench = station.batch
        if written != self._written:
            self._written = written
            last = self.entries[-1]
            hold(station._tail.hash == last.hash, "the chain goes on", last.seq)
            self._folds()
            if len(station.stock.book):
                self._book = {one.code: one for one in station.stock.book}
                self._booked = written
        elif bench is not self._held:
            self._folds()
        self._held = bench
        for scale in station.scales.values():
            if scale.link is not LinkState.LIVE:
                hold(scale.reading is None, "a scale not heard shows nothing", scale.name)
        if bench is not None and bench.current is not None:
            held = station.now.phase is Phase.HELD
            hold(held == (bench.held is not None), "held is recorded", f"after {event}")

    def _folds(self) -> None:
        """Every batch that the station holds is the fold of its durable entries."""
        station = self.house.station
        for batch in (station.batch, *station.off_bench.in_process()):
            if batch is not None:
                hold(batch == self.folded(batch.id), "a batch is its entries", batch.id)

    def folded(self, batch: str) -> Batch | None:
        """A batch as its durable entries tell it."""
        return self._verifier._batches.get(batch)

    def batches(self) -> list[Batch]:
        """Every batch there was, as its durable entries tell it."""
        return list(self._verifier._batches.values())

    # --- after each turn --------------------------------------------------------------------------

    def turn(self) -> None:
        """A turn is over: pages read as they can, and one more comes late now and then."""
        chance = self.house.look
        for page in self.pages:
            if chance.often(page.pace):
                while page.read():
                    self._page(page)
        if chance.often(0.1):
            self.late()

    def late(self) -> None:
        """Who joins now has the same picture as who was there; none of it is old."""
        house = self.house
        shown = house.picture.state()
        self._shown_is_durable(shown)
        fresh = Picture(house.station, boot=house.picture.boot)
        drawn = fresh.state()
        if drawn != shown:
            drawn["process"], shown = timeless(drawn["process"]), dict(shown)
            shown["process"] = timeless(shown["process"])
            # How a check stands changes with time alone, and is drawn anew at the next tick.
            drawn["scales"] = {
                name: {**one, "check": None} for name, one in drawn["scales"].items()
            }
            shown["scales"] = {
                name: {**one, "check": None} for name, one in shown["scales"].items()
            }
            for name, section in drawn.items():
                hold(section == shown[name], "a late page has the same picture",
                     partial(difference, shown[name], section, name))  # fmt: skip
        text = json.dumps(house.picture.state())
        for page in self.pages:
            if page.seq == house.picture.seq and page.boot == house.picture.boot:
                hold(
                    page.state == json.loads(text),
                    "every page has the same picture",
                    partial(difference, page.state, json.loads(text), page.name),
                )
                self.tally.saw("page", "compared")

    def _page(self, page: Page) -> None:
        self.tally.saw("page", "read")
        assert page.state is not None
        hold(page.seq <= self.house.picture.seq, "a page is never ahead", page.name)
        self._shown_is_durable(page.state)

    def _shown_is_durable(self, state: Mapping[str, Any]) -> None:
        """Rule 1: the batch that is shown is a picture of durable entries."""
        shown = state["batch"]
        if shown is None:
            return
        batch = self.folded(shown["id"])
        hold(batch is not None, "shown is durable", shown["id"])
        assert batch is not None
        done = {one.n: one for one in batch.accepted}
        for one in shown["additions"]:
            if one["status"] == "accepted":
                there = done.get(one["n"])
                hold(there is not None, "shown is durable", f"{shown['id']}, {one['n']}")
        over = shown["status"] != "open"
        hold(not over or batch.status != "open", "shown is durable", shown["status"])

    def bench_is_drawn(self) -> None:
        """The batch on the bench is shown whole, as its entries tell it."""
        shown = self.house.picture.state()["batch"]
        if shown is not None:
            batch = self.folded(shown["id"])
            assert batch is not None
            drawn = draw_batch(batch)
            told = {key: one for key, one in shown.items() if key != "first_out"}
            hold(told == drawn, "shown is durable", lambda: difference(told, drawn))

    # --- the journal ------------------------------------------------------------------------------

    def kept(self) -> None:
        """Rule 3: the journal gives back what was written."""
        there = list(self.house.journal.entries())
        hold(there == self.entries, "nothing is edited", f"{len(there)}, {len(self.entries)}")

    def _count(self, entry: Entry) -> None:
        body = entry.body
        self.tally.saw("entry", entry.kind)
        if entry.kind == "addition accepted":
            self.tally.saw("verdict", body["verdict"])
        elif entry.kind == "held":
            self.tally.saw("held", body["cause"])
        elif entry.kind == "zero moved":
            self.tally.saw("zero moved", body["cause"])


def is_check_of(entry: Entry, scale: str) -> bool:
    return entry.kind == "scale checked" and entry.body["scale"] == scale


def timeless(process: Mapping[str, Any]) -> dict[str, Any]:
    """Batches in process without the timers that go on: they are drawn each second."""
    batches = [{**one, "now": None, "cooling": None} for one in process["batches"]]
    return {"at": "", "batches": batches}


def difference(one: Any, other: Any, path: str = "") -> str:
    """The first place where two JSON values differ."""
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        for key in (*one, *other):
            if key not in one or key not in other:
                return f"{path}.{key} is there once"
            if one[key] != other[key]:
                return difference(one[key], other[key], f"{path}.{key}")
    if isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for n, (left, right) in enumerate(zip(one, other, strict=True)):
            if left != right:
                return difference(left, right, f"{path}[{n}]")
    return f"{path}: {one!r} and {other!r}"
