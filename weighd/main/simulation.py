"""The demonstration: a simulated bench that a person or a simulated cook can work at."""

from __future__ import annotations

import asyncio
import random
import threading
from collections.abc import Mapping
from concurrent.futures import CancelledError
from dataclasses import fields
from decimal import Decimal
from importlib.resources import files
from pathlib import Path
from typing import Any

from weighd.config import Config, parse
from weighd.domain.errors import OperatorError
from weighd.main.daemon import Daemon
from weighd.main.plugging import Plugged, plug
from weighd.main.recording import Recording
from weighd.main.shipped import copy_of_the_kitchen
from weighd.station.inputs import Command
from weighd.storage.kept_revisions import KeptRevisions
from weighd.storage.pantry import FilePantry
from weighd.storage.shelf import FormulaShelf
from weighd_drivers.cook import Cook
from weighd_drivers.sim_handle import SimulatedBench
from weighd_drivers.sim_shift import Shift

OPERATOR = "The simulated cook"
#: More than this a second, or at once, is no kitchen.
_MOST_G_S, _MOST_G = 500.0, 10_000.0
#: Nobody lets more than two days pass at once.
_MOST_MIN = 2880.0
_COMMAND = {one.name for one in fields(Command)}


def demo_config(data: Path, port: int, speed: float, seed: int, *, two: bool = False) -> Config:
    """The demonstration's station. Fast time makes pauses of this machine look long.

    ``two``  a coarse scale and a fine one, instead of one that does for both.
    """
    silent = 2.0 * max(1.0, speed)
    interval = "1" if two else "0.1"
    text = f"""
        [station]
        name = "demo"
        [http]
        port = {port}
        [scales.bench]
        driver = "simulated"
        seed = {seed}
        max_g = "6000"
        interval_g = "{interval}"
        step_g = "{interval}"
        silent_after_s = {silent}
        [scales.bench.check]
        limit_g = "{"4" if two else "0.5"}"
        repeatability = 3
        repeatability_mass = "K-500"
        [[scales.bench.check.masses]]
        name = "K-500"
        nominal_g = 500
        r111_class = "M1"
        [[scales.bench.check.masses]]
        name = "K-2000"
        nominal_g = 2000
        r111_class = "M1"
    """
    if two:
        text += f"""
        [scales.fine]
        driver = "simulated"
        name = "fine"
        seed = {seed + 1}
        capacity_g = "500"
        max_g = "500"
        interval_g = "0.01"
        step_g = "0.01"
        noise_g = 0.002
        wander_g = 0.001
        silent_after_s = {silent}
        [plan]
        bowl_g = 380
        dish_g = 61
        dish_holds_g = 400
    """
    config = parse(text, Path("demo.toml"))
    station = config.station.model_copy(update={"data": data.absolute()})
    return config.model_copy(update={"station": station})


def demo_shelf() -> FormulaShelf:
    """The formulas of the invented kitchen that ship with weighd."""
    return FormulaShelf(files("weighd.data") / "formulas")


def pans_of(plugged: list[Plugged]) -> dict[str, SimulatedBench]:
    """The handles of the simulated scales among the configured ones, by name."""
    found = {
        one.setup.name: bench
        for one in plugged
        if isinstance(bench := getattr(one.source, "bench", None), SimulatedBench)
    }
    if not found:
        raise OperatorError("no-simulation", "No simulated scale is configured.")
    return found


class Kitchen:
    """What the page's simulation panel works: the scales, and whether the cook works at them."""

    def __init__(
        self, daemon: Daemon, pans: Mapping[str, SimulatedBench], speed: float, seed: int
    ) -> None:
        self._pans = pans
        self._daemon = daemon
        self._speed = speed
        self._loop: asyncio.AbstractEventLoop | None = None
        self._presses = 0
        self._press_lock = threading.Lock()
        self.said: list[str] = []
        self.shift = Shift(
            Cook(random.Random(seed)),  # noqa: S311 - a cook's hand, not a secret
            next(iter(pans.values())),
            self.look,
            self.press,
            daemon.clock.now,
            self.said.append,
            pans=pans,
        )

    @property
    def bench(self) -> SimulatedBench:
        """The scale that is weighed on, or the first."""
        batch = self._daemon.runner.station.batch
        current = batch.current if batch else None
        first = next(iter(self._pans.values()))
        return first if current is None else self._pans.get(current.scale, first)

    def begin(self) -> None:
        """Take hold of the loop and let the cook begin. Called in the loop."""
        self._loop = asyncio.get_running_loop()
        self.shift.start()

    def look(self) -> Mapping[str, Any]:
        """The newest picture of the state, from any thread."""
        state: Mapping[str, Any] = self._in_loop(self._look())
        return state

    def press(self, command: dict[str, Any]) -> Mapping[str, Any]:
        """A command of the cook, from its thread; raises what the station raises."""
        with self._press_lock:
            self._presses += 1
            key = f"cook-{self._daemon.picture.boot}-{self._presses}"
        given = {name: value for name, value in command.items() if name in _COMMAND}
        answer = self._in_loop(self._daemon.runner.command(Command(0.0, key=key, **given)))
        return {"batch": answer.batch, "entry": answer.entry}

    async def _look(self) -> Mapping[str, Any]:
        return self._daemon.picture.state()

    def _in_loop(self, coroutine: Any) -> Any:
        if self._loop is None or self._loop.is_closed():
            coroutine.close()
            raise OperatorError("stopping", "The station is not running.")
        try:
            return asyncio.run_coroutine_threadsafe(coroutine, self._loop).result(10)
        except (CancelledError, TimeoutError, RuntimeError) as error:
            # The loop ended while the cook was waiting for it.
            raise OperatorError("stopping", "The station is not running.") from error

    # --- what the page asks -------------------------------------------------------------------

    def picture(self) -> Mapping[str, Any]:
        """What is on the bench and what the cook does, as JSON values."""
        load = self.bench.picture()
        return {
            "load": load,
            "pour_g_s": load["pour_g_s"],
            "plugged": load["plugged"],
            "cook": {"working": self.shift.working, "said": self.said[-1] if self.said else ""},
            "speed": self._speed,
        }

    def do(self, what: Mapping[str, Any]) -> None:
        """Act on the bench. Raises :class:`OperatorError` for what no bench does."""
        match what["do"]:
            case "pour":
                self.bench.pour(_amount(what, "g_per_s", _MOST_G_S))
            case "stop":
                self.bench.stop()
            case "vessel":
                holds = _amount(what, "contents_g", _MOST_G) if what.get("contents_g") else 0.0
                self.bench.vessel(_amount(what, "mass_g", _MOST_G), holds)
            case "pour out":
                self.bench.pour_out(_amount(what, "g", _MOST_G))
            case "lift" | "put back" | "bump" | "unplug" | "plug" as plain:
                getattr(self.bench, plain.replace(" ", "_"))()
            case "take":
                self.bench.take(_amount(what, "g", _MOST_G))
            case "tap":
                self.bench.tap(_amount(what, "g", _MOST_G))
            case "weight" | "weight off":
                self.bench.weight(_amount(what, "g", _MOST_G) if what["do"] == "weight" else 0)
            case "zero key":
                self.bench.zero()
            case "off":
                self.bench.switch_off()
            case "on":
                self.bench.switch_on()
            case "wait":
                self._daemon.clock.skip(60 * _amount(what, "minutes", _MOST_MIN))
            case "cook":
                self.shift.working = bool(what.get("working"))
            case other:
                raise OperatorError("unknown-simulation", f'A simulated bench cannot "{other}".')


def _amount(what: Mapping[str, Any], name: str, most: float) -> float:
    try:
        value = float(Decimal(str(what[name])))
    except (KeyError, ArithmeticError, ValueError):
        raise OperatorError("bad-amount", f"{name} is missing or no number.") from None
    if not 0 < value <= most:
        raise OperatorError("bad-amount", f"{name} must be above 0 and up to {most:g}.")
    return value


def demo_daemon(
    data: Path,
    port: int,
    speed: float,
    seed: int,
    clock: Any,
    record: Recording | None = None,
    *,
    two: bool = False,
) -> tuple[Daemon, Kitchen]:
    """A station with simulated scales, one or ``two``, and the kitchen around it.

    Its formulas are a copy in ``data``, so that they can be changed.
    """
    config = demo_config(data, port, speed, seed, two=two)
    plugged = plug(config)
    kitchen = copy_of_the_kitchen(data / "formulas")
    revisions = KeptRevisions(kitchen, clock.utc)
    daemon = Daemon(
        config,
        plugged,
        FormulaShelf(kitchen, revisions.met),
        clock=clock,
        simulation=True,
        record=record,
        pantry=FilePantry(kitchen),
        revisions=revisions,
    )
    return daemon, Kitchen(daemon, pans_of(plugged), speed, seed)
