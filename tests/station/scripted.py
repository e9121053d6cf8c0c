"""A station driven by hand: numbers for the display, commands, and a journal in a list."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from weighd.domain.accuracy import Accuracy
from weighd.domain.check_record import is_check
from weighd.domain.check_routine import Routine
from weighd.domain.check_standing import past_of
from weighd.domain.errors import JournalError
from weighd.domain.formula import Formula
from weighd.domain.formula_text import read_formula
from weighd.domain.mass import Unit, to_grams
from weighd.domain.metrology import Rule
from weighd.domain.reading import Reading
from weighd.domain.record import Entry, Tail
from weighd.domain.vessels import Vessel
from weighd.station.inputs import (
    Answer,
    ClockSet,
    Command,
    Heard,
    LinkFound,
    LinkLost,
    Recalled,
    Tick,
)
from weighd.station.known import Known
from weighd.station.lot_history import book_in
from weighd.station.off_bench import without_evidence
from weighd.station.runner import run_through
from weighd.station.scale import Setup
from weighd.station.station import Station
from weighd.station.vessel_shelf import Kept
from weighd.storage.memory import MemoryJournal

FORMULA = """
name = "Test ice"
[ingredients]
milk = { name = "Milk", allergens = ["milk"] }
sugar = { name = "Sugar" }
salt = { name = "Salt" }
[[additions]]
ingredient = "milk"
target = "500 g"
tolerance = "1 %"
[[additions]]
ingredient = "sugar"
target = "120 g"
tolerance = "+1 / -2 g"
[[additions]]
ingredient = "salt"
target = "2 g"
tolerance = "0.3 g"
"""


class LineDecoder:
    """Bare digits in grams, one line a reading: the smallest decoder that keeps the port.

    Whole grams are short for tenths: ``600`` is a display of ``600.0``. Another unit may follow.
    """

    def __init__(self) -> None:
        self.spec: Mapping[str, object] = {"shape": "test-lines"}
        self.rejected = 0
        self.last_rejected = b""
        self._rest = b""

    def feed(self, t: float, data: bytes) -> Sequence[Reading]:
        *lines, self._rest = (self._rest + data).split(b"\n")
        out = []
        for line in lines:
            if line == b"OVER":
                out.append(Reading(t, None, over=True, raw=line + b"\n"))
                continue
            digits, _, unit = line.partition(b" ")
            try:
                shown = Decimal(digits.decode("ascii"))
                known = Unit(unit.decode("ascii") or "g")
            except (ArithmeticError, ValueError):
                self.rejected += 1
                self.last_rejected = line[:80]
                continue
            grams = to_grams(shown, known)
            if known is Unit.G and shown == shown.to_integral_value():
                shown = shown.quantize(Decimal("0.1"))
            out.append(Reading(t, grams, known, None, False, "", shown, line + b"\n"))
        return out

    def reset(self) -> None:
        self._rest = b""


def formula(text: str = FORMULA) -> Formula:
    return read_formula(text, "test-ice.toml")


class Hand:
    """A station, and somebody who moves the display of a scale and presses keys.

    ``more``  scales beside the bench: interval and capacity by name. ``on`` is the scale in hand.
    """

    def __init__(
        self,
        journal: list[Entry] | None = None,
        *,
        t: float = 0.0,
        rule: Rule | None = None,
        interval: str = "0.1",
        max_g: str | None = "6000",
        accuracy: Accuracy | None = None,
        known: Known | None = None,
        check: Routine | None = None,
        more: Mapping[str, tuple[str, str]] | None = None,
        vessels: Sequence[Vessel] = (),
    ) -> None:
        self.journal: list[Entry] = journal if journal is not None else []
        self.fail: JournalError | None = None
        self.t = t
        self.on = "bench"
        self.displays = dict.fromkeys(("bench", *(more or ())), Decimal(0))
        self.keys = 0
        last = self.journal[-1] if self.journal else None
        batch = None
        for entry in self.journal:
            if entry.kind == "batch opened":
                batch = entry.body["batch"]
            if entry.kind in ("all weighed", "batch closed", "batch abandoned"):
                batch = batch if batch != entry.body["batch"] else None
        kept = MemoryJournal("test")
        kept.append(self.journal)
        self.station = Station(
            "test",
            [
                Setup(
                    "bench",
                    "test",
                    LineDecoder(),
                    Decimal(interval),
                    None if max_g is None else Decimal(max_g),
                    accuracy=accuracy or Accuracy(),
                    known=known,
                    check=check,
                ),
                *(
                    Setup(name, "test", LineDecoder(), Decimal(d), Decimal(most))
                    for name, (d, most) in (more or {}).items()
                ),
            ],
            tail=Tail(last.seq, last.hash) if last else None,
            history=[one for one in self.journal if batch and one.body.get("batch") == batch],
            made=sum(one.kind == "batch opened" for one in self.journal),
            rule=rule,
            version="0",
            past=past_of([one for one in self.journal[::-1] if is_check(one)], self.displays),
            vessels=[Kept(one, configured=True) for one in vessels],
            lots=book_in(kept),
        )
        self.take(ClockSet(t, "2026-11-25T09:00:00.000Z"))
        run_through(self.station.wake(), self._append)
        for entries in kept.in_process():
            self.take(Recalled(t, tuple(without_evidence(one) for one in entries)))
        for name in self.displays:
            self.take(LinkFound(0, name, "a test"))

    @property
    def display(self) -> Decimal:
        """What the scale in hand shows."""
        return self.displays[self.on]

    @display.setter
    def display(self, grams: Decimal) -> None:
        self.displays[self.on] = grams

    def _append(self, entries: Sequence[Entry]) -> None:
        if self.fail is not None:
            raise self.fail
        self.journal.extend(entries)

    def take(self, event: Any) -> Answer | None:
        return run_through(self.station.handle(replace(event, t=self.t)), self._append)

    def found(self) -> None:
        self.take(LinkFound(0, self.on, "a test"))

    def lost(self) -> None:
        self.take(LinkLost(0, self.on, "unplugged"))

    def tick(self, seconds: float) -> None:
        self.t += seconds
        self.take(Tick(0))

    def raw(self, data: bytes, step: float = 0.1) -> None:
        self.t = round(self.t + step, 6)
        self.take(Heard(0, self.on, data))
        for name, grams in self.displays.items():  # the others go on saying what they show
            if name != self.on:
                self.take(Heard(0, name, b"%s\n" % str(grams).encode()))

    def show(self, grams: str | float | Decimal, seconds: float = 2.0) -> None:
        """Let the display stand at ``grams`` for a while, ten readings a second."""
        self.display = Decimal(str(grams))
        for _ in range(round(seconds * 10)):
            self.raw(b"%s\n" % str(self.display).encode())

    def lift(self, to: str = "0.0", seconds: float = 2.0) -> None:
        """Take the vessel off, or set it down: the display passes half way and stands at ``to``."""
        self.raw(b"%s\n" % str((self.display + Decimal(to)) / 2).encode())
        self.show(to, seconds)

    def pour(self, to: str | float, step: str = "20", settle: float = 2.0) -> None:
        """Let the display climb (or fall) to ``to`` and stand there."""
        goal, by = Decimal(str(to)), Decimal(step)
        while self.display != goal:
            way = goal - self.display
            self.display += max(-by, min(by, way))
            self.raw(b"%s\n" % str(self.display).encode())
        self.show(goal, settle)

    def source(self, to: str | float, seconds: float = 2.0) -> None:
        """Lift the vessel off, pour from it and set it back: it then weighs ``to``."""
        self.lift("0.0", 1.0)
        self.lift(str(to), seconds)

    def do(self, do: str, **given: Any) -> Answer | None:
        self.keys += 1
        key = given.setdefault("key", f"k{self.t}-{self.keys}")
        for entry in self.journal:  # the running station asks its journal first, as here
            if entry.body.get("key") == key:
                return Answer(entry.body.get("batch", ""), entry.seq, again=True)
        return self.take(Command(0, do, **given))

    def start(self, text: str = FORMULA, **given: Any) -> Answer | None:
        given.setdefault("by", "Tester")
        return self.do("start", formula=formula(text).content(), **given)

    @property
    def phase(self) -> str:
        return str(self.station.now.phase)

    def kinds(self) -> list[str]:
        return [entry.kind for entry in self.journal]
