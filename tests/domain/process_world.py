"""A batch in process, driven by hand: orders and minutes in, entries out."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from importlib.resources import files
from typing import Any

import pytest

from tests.domain.forging import sealed_anew
from weighd.domain import cautions
from weighd.domain.batch import Batch, Kind
from weighd.domain.errors import OperatorError
from weighd.domain.fold import evolve, opened
from weighd.domain.formula import Formula
from weighd.domain.formula_text import read_formula
from weighd.domain.heat_tables import HeatTable, read_tables
from weighd.domain.process_orders import Ask, StepOrder, ask
from weighd.domain.process_run import Run, State
from weighd.domain.record import NOTHING_BEFORE, Entry, Tail, seal
from weighd.domain.verify import Report, Verifier

HEAD = """
name = "Test ice"
[ingredients]
milk = { name = "Milk" }
[[additions]]
ingredient = "milk"
target = "500 g"
tolerance = "1 %"
"""
#: An invented process with a step of every kind.
STEPS = """
[[steps]]
kind = "mix"
how = "Whisk until nothing is left on the spoon."
time = "at least 2 min"
[[steps]]
kind = "heat-treat"
table = "us-frozen-dessert-mix"
[[steps]]
kind = "cool"
temperature = "at most 4 °C"
time = "within 90 min"
[[steps]]
kind = "age"
temperature = "at most 4 °C"
time = "4 h to 24 h"
[[steps]]
kind = "freeze"
with = "dry ice"
temperature = "at most -5 °C"
[[steps]]
kind = "fill"
[[steps]]
kind = "harden"
temperature = "at most -18 °C"
time = "within 12 h"
[[steps]]
kind = "temper"
temperature = "-14 to -11 °C"
"""
DRY_ICE = tuple(one.name for one in cautions.OF_MEANS["dry ice"])


@cache
def tables() -> dict[str, HeatTable]:
    """The heat treatments that ship."""
    file = files("weighd.data") / "heat_treatments.toml"
    return read_tables(file.read_text("utf-8"), "heat_treatments.toml")


def formula(steps: str = STEPS) -> Formula:
    return read_formula(HEAD + steps, "test-ice.toml", None, tables())


class World:
    """One batch that was all weighed, at 9:00 of an invented day."""

    def __init__(self, steps: str = STEPS) -> None:
        self.now = datetime(2026, 3, 1, 9, tzinfo=UTC)
        self.entries: list[Entry] = []
        self._tail = Tail()
        made = formula(steps)
        named = {"id": made.id, "name": made.name, "revision": made.revision}
        self.batch: Batch | None = None
        self._add(
            Kind.OPENED,
            {
                "formula": {**named, "content": made.content()},
                "batch_g": "500",
                "operator": "Ada",
                "rule": {"name": "simple", "k": "2"},
                "scales": {},
                "additions": [],
            },
        )
        self._add(Kind.WEIGHED, {"additions": 0})

    def at(self, minutes: float = 0) -> str:
        """The moment so many minutes from now."""
        moment = self.now + timedelta(minutes=minutes)
        return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")

    def wait(self, minutes: float) -> World:
        self.now += timedelta(minutes=minutes)
        return self

    def do(self, do: str, **more: Any) -> World:
        """Ask for something of the present step; a refusal is raised."""
        assert self.batch is not None
        more.setdefault("step", self.batch.process.at)
        more.setdefault("by", "Ada")
        if "confirmed" in more:
            more.setdefault("dry_ice", {"asked": {"room_m3": "30", "charge_g": "400"}})
        order = StepOrder(self.at(), Ask(do), **more)
        for draft in ask(self.batch, order):
            self._add(draft.kind, draft.body)
        return self

    def enter(self, temperature: str, **more: Any) -> World:
        return self.do("enter temperature", temperature=temperature, **more)

    @property
    def state(self) -> State:
        assert self.batch is not None
        return self.batch.process.state(len(self.batch.steps))

    @property
    def run(self) -> Run:
        assert self.batch is not None
        return self.batch.process.runs[-1]

    @property
    def faults(self) -> list[str]:
        assert self.run.judged is not None
        return list(self.run.judged["faults"])

    def _add(self, kind: str, body: Any) -> None:
        n, after = (self.batch.n, self.batch.after) if self.batch else (0, NOTHING_BEFORE)
        whole = {**body, "batch": "test-0001", "n": n + 1, "after": after}
        entry = seal("test", str(kind), self.at(), whole, self._tail)
        self._tail = Tail(entry.seq, entry.hash)
        self.entries.append(entry)
        self.batch = opened(entry) if self.batch is None else evolve(self.batch, entry)

    # --- the steps of STEPS, done well ----------------------------------------------------------

    def mixed(self) -> World:
        return self.do("begin step").wait(3).do("end step")

    def heat_held(self) -> World:
        """Not hot enough: the treatment is held."""
        return self.mixed().do("begin step").wait(10).enter("60 °C").do("end step")

    def treated(self) -> World:
        self.mixed().do("begin step").wait(20)
        return self.enter("69 °C").wait(30).enter("70 °C").do("end step")

    def cooled(self) -> World:
        self.treated().do("begin step").wait(80)
        return self.enter("3.9 °C").do("end step")

    def aged(self) -> World:
        self.cooled().do("begin step").wait(60).enter("3 °C")
        return self.wait(5 * 60).do("end step")

    def finished(self) -> World:
        self.aged().do("begin step", confirmed=DRY_ICE).wait(6)
        self.enter("-6 °C").do("end step")
        self.do("begin step").wait(10).do("end step")
        self.do("begin step").wait(600).enter("-20 °C").do("end step")
        return self.do("begin step").wait(60).enter("-12 °C").do("end step")


def resealed(entries: list[Entry], changes: dict[int, dict[str, Any]]) -> list[Entry]:
    """The entries with some of their bodies changed, every hash made to fit again."""
    return sealed_anew(
        replace(one, body={**one.body, **changes.get(one.seq, {})}) for one in entries
    )


def verified(entries: list[Entry]) -> Report:
    """What a verification finds; raises what does not hold."""
    with pytest.MonkeyPatch.context() as patch:
        # Nothing is weighed in this world, of a formula that asks for something.
        patch.setattr("weighd.domain.verify.check_opening", lambda batch, entry: None)
        verifier = Verifier(whole=False)
        for one in entries:
            verifier.take(one)
        return verifier.finish()


def refused(world: World, code: str, do: str, **more: object) -> OperatorError:
    before = list(world.entries)
    with pytest.raises(OperatorError) as caught:
        world.do(do, **more)
    assert caught.value.code == code, caught.value
    assert world.entries == before
    return caught.value


def one(step: str) -> World:
    """A batch whose only step has begun."""
    return World(f"[[steps]]\n{step}\n").do("begin step")
