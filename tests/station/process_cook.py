"""A hand that weighs whole batches of a formula with steps, and does the steps."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from tests.domain.process_world import tables
from tests.station.scripted import FORMULA, Hand
from weighd.domain.formula_text import read_formula
from weighd.domain.process_run import State
from weighd.domain.record import Entry
from weighd.station.inputs import Input

STEPS = """
[[steps]]
kind = "mix"
cautions = [{ name = "hot pan", text = "Mind the pan." }]
[[steps]]
kind = "heat-treat"
table = "uk-1995"
[[steps]]
kind = "age"
temperature = "at most 4 °C"
time = "4 h to 24 h"
"""
CONTENT = read_formula(FORMULA + STEPS, "test-ice.toml", None, tables()).content()


class Cook(Hand):
    """A hand that weighs whole batches and does their steps; what it gave is kept."""

    inputs: list[Input]

    def take(self, event: Any) -> Any:
        self.__dict__.setdefault("inputs", []).append(replace(event, t=self.t))
        return super().take(event)

    def weigh(self, lot: str = "") -> str:
        """A batch from start to the last acceptance, its milk of a lot; its id."""
        self.lift("0.0")
        answer = self.do("start", formula=CONTENT, by="Ada")
        assert answer is not None
        self.lift("300")
        self.do("tare")
        if lot:
            self.do("name lot", lot=lot)
        for to in ("800", "920", "922"):
            self.pour(to)
            self.do("accept")
        return answer.batch

    def step(self, batch: str, do: str, minutes: float = 0, **more: Any) -> None:
        self.t += minutes * 60
        at = next(one for one in self.station.off_bench.in_process() if one.id == batch)
        more.setdefault("step", at.process.at)
        self.do(do, batch=batch, by="Bo", **more)

    def mix(self, batch: str) -> None:
        self.step(batch, "begin step", confirmed=("hot pan",))
        self.step(batch, "end step", 3)

    def heat(self, batch: str) -> None:
        self.step(batch, "begin step", pair="65.6 °C, 30 min")
        self.step(batch, "enter temperature", 20, temperature="66")
        self.step(batch, "enter temperature", 30, temperature="66.2 °C")
        self.step(batch, "end step")

    def age(self, batch: str) -> None:
        self.step(batch, "begin step")
        self.step(batch, "enter temperature", 60, temperature="3.5")
        self.step(batch, "end step", 240)

    def state(self, batch: str) -> State:
        found = self.station.off_bench.get(batch)
        assert found is not None
        return found.process.state(len(found.steps))

    def of(self, batch: str) -> list[Entry]:
        return [one for one in self.journal if one.body.get("batch") == batch]
