"""The cook in a thread, with a source that runs faster than the wall; and at the real station."""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import pytest

from tests.drivers.kitchen import FakeStation
from weighd.domain.errors import JournalError, WeighdError
from weighd.domain.formula_text import read_formula
from weighd.domain.record import Entry
from weighd.station.inputs import ClockSet, Command, Heard, Input, LinkFound, LinkLost, Tick
from weighd.station.picture import Picture
from weighd.station.ports import Bytes, Found, Lost
from weighd.station.runner import run_through
from weighd.station.scale import Setup
from weighd.station.station import Station
from weighd_drivers.cook import Cook
from weighd_drivers.sim_handle import SimulatedBench
from weighd_drivers.sim_shift import Shift, perform
from weighd_drivers.simulated import SimulatedDriver

SPEED = 20.0
FORMULA = """
name = "Test ice"
[ingredients]
milk = { name = "Milk", allergens = ["milk"] }
sugar = { name = "Sugar" }
gum = { name = "Gum" }
salt = { name = "Salt" }
[[additions]]
ingredient = "milk"
target = "1200 g"
tolerance = "1 %"
[[additions]]
ingredient = "sugar"
target = "364 g"
tolerance = "0.5 %"
[[additions]]
ingredient = "gum"
target = "5 g"
tolerance = "0.3 g"
[[additions]]
ingredient = "salt"
target = "1.5 g"
tolerance = "0.2 g"
"""


def _until(true: Callable[[], object], seconds: float = 30.0) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it did not happen in time"
        time.sleep(0.005)


class Room:
    """A fake station that is fed by a source in a thread, and a cook in another."""

    def __init__(self, seed: int = 1) -> None:
        began = time.monotonic()
        self.station = FakeStation(((200.0, 4.0), (30.0, 0.8), (2.0, 0.3)))
        self.said: list[str] = []
        self.fail: WeighdError | None = None
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self.source = SimulatedDriver().source({"seed": seed})
        self.now = lambda: (time.monotonic() - began) * SPEED
        self.shift = Shift(
            Cook(random.Random(seed)),
            self.source.bench,
            self._look,
            self._command,
            self.now,
            self.said.append,
            by="Bo",
        )
        self._thread = threading.Thread(
            target=self.source.run, args=(self._hear, self._stop, self.now), daemon=True
        )

    def __enter__(self) -> Room:
        self._thread.start()
        self.shift.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.shift.stop()
        self._stop.set()
        self._thread.join(2.0)
        assert self.source.bench.picture()["pour_g_s"] == 0

    def _hear(self, signal: Any) -> None:
        with self._lock:
            self.station.hear(signal)

    def _look(self) -> Mapping[str, Any]:
        with self._lock:
            return self.station.state()

    def _command(self, given: dict[str, Any]) -> Mapping[str, Any]:
        assert given["by"] == "Bo"
        with self._lock:
            if self.fail is not None:
                raise self.fail
            return self.station.command(given)


def test_a_cook_on_shift_finishes_a_batch() -> None:
    with Room() as room:
        _until(lambda: room.station.status == "closed")
        assert [verdict for _, verdict, _ in room.station.accepted] == ["on target"] * 3


def test_the_jug_goes_to_a_person_and_back() -> None:
    with Room(2) as room:
        bench = room.source.bench
        _until(lambda: (bench.picture()["pour_g_s"] or 0) > 0)
        room.shift.working = False
        assert not room.shift.working
        _until(lambda: bench.picture()["pour_g_s"] == 0, 0.5)
        time.sleep(0.5)
        assert bench.picture()["pour_g_s"] == 0
        room.shift.working = True
        _until(lambda: room.station.status == "closed")


def test_a_shift_may_end_in_the_middle_of_a_pour() -> None:
    with Room(3) as room:
        _until(lambda: (room.source.bench.picture()["pour_g_s"] or 0) > 0)
        began = time.monotonic()
        room.shift.stop()
        assert time.monotonic() - began < 0.5


def test_a_refusal_is_said_and_tried_again() -> None:
    with Room(4) as room:
        room.fail = JournalError("disk-full", "The disk is full.")
        _until(lambda: "The disk is full." in room.said)
        room.fail = None
        _until(lambda: room.station.status == "closed")


class RealRoom:
    """The real station in virtual time, with a journal in a list."""

    def __init__(self, seed: int) -> None:
        self.t = 0.0
        self.journal: list[Entry] = []
        self.bench = SimulatedBench(seed=seed)
        self.bench.begin(lambda: self.t)
        driver = SimulatedDriver()
        self.station = Station("k", [Setup("bench", "simulated", driver.decoder({}))], version="0")
        self._take(ClockSet(0, "2026-11-25T09:00:00.000Z"))
        run_through(self.station.wake(), self.journal.extend)
        self.picture = Picture(self.station)
        self.cook = Cook(random.Random(seed))
        self.said: list[str] = []
        content = read_formula(FORMULA, "test-ice.toml").content()
        for signal in self.bench.collect():
            self._hear(signal)
        self._take(Command(0, "start", key="s", by="Tester", formula=content))

    def _take(self, event: Input) -> Any:
        return run_through(self.station.handle(replace(event, t=self.t)), self.journal.extend)

    def _hear(self, signal: Bytes | Lost | Found) -> None:
        match signal:
            case Bytes(_, data):
                self._take(Heard(0, "bench", data))
            case Lost(_, why):
                self._take(LinkLost(0, "bench", why))
            case Found(_, what, facts):
                self._take(LinkFound(0, "bench", what, facts))

    def command(self, given: dict[str, Any]) -> dict[str, Any]:
        self._take(Command(0, **given))
        return {}

    def run(self, until: float) -> None:
        """Up to ``until`` seconds, or until the batch is over."""
        while self.t < until and self.station.batch and self.station.batch.current:
            self.t = round(self.t + 0.03, 6)
            for signal in self.bench.collect():
                self._hear(signal)
            self._take(Tick(0))
            self.picture.refresh()
            for action in self.cook.step(self.t, self.picture.state(), self.bench.picture()):
                try:
                    perform(action, self.bench, self.command, self.said.append)
                except WeighdError as error:
                    for said in self.cook.refused(self.t, str(error)):
                        perform(said, self.bench, self.command, self.said.append)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("mischief", ["", "unplug", "power", "lift", "bump", "over"])
def test_at_the_real_station_every_batch_is_closed(seed: int, mischief: str) -> None:
    room = RealRoom(seed)
    room.run(11.0)
    match mischief:
        case "unplug" | "power":
            room.bench.unplug()
            room.run(16.0)
            room.bench.plug(zero=mischief == "power")
        case "lift":
            room.bench.lift()
        case "bump":
            for t in range(11, 31, 4):
                room.bench.bump(2.0)
                room.run(float(t))
        case "over":
            room.bench.tap(1000.0)
    room.run(400.0)
    assert [entry.kind for entry in room.journal][-1] == "batch closed", room.said
    accepted = [entry.body for entry in room.journal if entry.kind == "addition accepted"]
    assert [one["verdict"] for one in accepted] == ["on target"] * 4
    nets = sum(float(one["net_g"]) for one in accepted)
    assert room.bench.picture()["contents_g"] == pytest.approx(nets, abs=2.0)
