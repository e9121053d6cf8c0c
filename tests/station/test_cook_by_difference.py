"""The simulated cook weighs by difference on the simulated bench; the real station keeps count."""

from __future__ import annotations

import random
from decimal import Decimal
from typing import Any

import pytest

from tests.station.scripted import formula
from weighd.domain.errors import OperatorError
from weighd.domain.record import Entry
from weighd.domain.verify import Verifier
from weighd.station.inputs import ClockSet, Command, Heard, LinkFound, LinkLost
from weighd.station.picture import Picture
from weighd.station.ports import Bytes, Found
from weighd.station.runner import run_through
from weighd.station.scale import Setup
from weighd.station.station import Station
from weighd_drivers.cook import Cook
from weighd_drivers.sim_habits import Press, SetDown
from weighd_drivers.sim_handle import SimulatedBench
from weighd_drivers.sim_shift import perform
from weighd_drivers.simulated import DRIVER

FORMULA = """
name = "Churn filling"
[ingredients]
cream = { name = "Cream" }
sugar = { name = "Sugar" }
salt = { name = "Salt" }
[[additions]]
ingredient = "cream"
target = "900 g"
tolerance = "1 %"
[[additions]]
ingredient = "sugar"
target = "140 g"
tolerance = "1 g"
[[additions]]
ingredient = "salt"
target = "3 g"
tolerance = "0.4 g"
"""
STEP_S = 0.03


class Churn:
    """Virtual time: a real station, a simulated bench, and a cook with true containers."""

    def __init__(self, seed: int) -> None:
        self.t = 0.0
        settings = DRIVER.check({"interval_g": "0.1"})
        setup = Setup("bench", "simulated", DRIVER.decoder(settings), Decimal("0.1"), Decimal(6000))
        self.station = Station("churn", [setup], version="0")
        self.bench = SimulatedBench(seed=seed)
        self.bench.begin(lambda: self.t)
        self.cook = Cook(random.Random(seed))
        self.picture = Picture(self.station)
        self.journal: list[Entry] = []
        self.true: list[float] = []
        self.held = 0.0
        self.presses = 0
        self.take(ClockSet(0.0, "2026-11-25T09:00:00.000Z"))
        self.press("start", by="Cook", formula=formula(FORMULA).content(), method="by difference")

    def take(self, event: Any) -> None:
        run_through(self.station.handle(event), self.journal.extend)
        self.picture.refresh()

    def press(self, do: str, **given: Any) -> None:
        self.presses += 1
        self.take(Command(self.t, do, key=f"k{self.presses}", **given))

    def asked(self, command: dict[str, Any]) -> dict[str, Any]:
        inside = self._inside()
        self.press(**command)
        if command["do"] == "accept":
            self.true.append(self.held - inside)
        return {}

    def _inside(self) -> float:
        load = self.bench._bench.load
        vessel = load.vessel or load.lifted
        return vessel.contents_g if vessel else 0.0

    def run(self, seconds: float = 400.0) -> None:
        """Until the batch is over."""
        until = self.t + seconds
        while self.station.batch is not None and self.station.batch.current is not None:
            assert self.t < until, self.picture.state()["live"]
            self.step()

    def step(self) -> None:
        self.t += STEP_S
        for signal in self.bench.collect():
            if isinstance(signal, Bytes):
                self.take(Heard(self.t, "bench", signal.data))
            elif isinstance(signal, Found):
                self.take(LinkFound(self.t, "bench", signal.what, signal.facts))
            else:
                self.take(LinkLost(self.t, "bench", signal.why))
        for action in self.cook.step(self.t, self.picture.state(), self.bench.picture()):
            if isinstance(action, SetDown):
                self.held = action.contents_g
            try:
                perform(action, self.bench, self.asked, lambda _text: None)
            except OperatorError as error:
                assert isinstance(action, Press)
                self.cook.refused(self.t, str(error))


@pytest.mark.parametrize("seed", range(6))
def test_what_left_each_container_is_what_the_record_says(seed: int) -> None:
    churn = Churn(seed)
    churn.run()
    accepted = [one.body for one in churn.journal if one.kind == "addition accepted"]
    assert [one["method"] for one in accepted] == ["by difference"] * 3
    assert len(accepted) == len(churn.true) == 3
    for body, true in zip(accepted, churn.true, strict=True):
        # Two readings, each half an interval and a little tremble off.
        assert float(body["net_g"]) == pytest.approx(true, abs=0.25), body["name"]
    verifier = Verifier(whole=True, reread=DRIVER.redecoder)
    for entry in churn.journal:
        verifier.take(entry)
    assert verifier.finish().weighings == 3


def test_unplugged_and_back_at_zero_in_the_middle_it_is_finished_true() -> None:
    churn = Churn(11)
    while churn.station.batch and len(churn.station.batch.accepted) < 1:
        churn.step()
        assert churn.t < 200
    while churn.station.now.sum_g is None:
        churn.step()
        assert churn.t < 300
    churn.bench.unplug()
    for _ in range(100):
        churn.step()
    churn.bench.plug(zero=True)
    churn.run()
    assert "held" in [one.kind for one in churn.journal]
    accepted = [one.body for one in churn.journal if one.kind == "addition accepted"]
    for body, true in zip(accepted, churn.true, strict=True):
        assert float(body["net_g"]) == pytest.approx(true, abs=0.35), body["name"]
