"""A kitchen in virtual time: a small station of its own, a simulated bench and a cook.

The station follows the shape of the picture (phases, ``can``), not the real rules: the cook must
not depend on more than the picture.
"""

from __future__ import annotations

import random
import re
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from weighd.domain.errors import OperatorError
from weighd.station.ports import Bytes, Found, Lost, Signal
from weighd_drivers.cook import Cook
from weighd_drivers.sim_habits import Action, Habits
from weighd_drivers.sim_handle import SimulatedBench
from weighd_drivers.sim_parameters import BenchParameters
from weighd_drivers.sim_shift import perform

LINE = re.compile(rb"(ST|MV|OV),([+-])([ 0-9.-]{9}) g\r\n")
D = 0.1
#: Guard of the station's verdict, grams: nearer to a limit it is too close to call.
GUARD = 0.08
#: (target, tolerance) in grams: an invented formula.
FORMULA = ((1200.0, 12.0), (364.0, 1.8), (40.0, 0.5), (3.0, 0.3), (1.5, 0.2))


@dataclass
class FakeStation:
    """One batch, one scale; settled is 0.8 s within an interval."""

    formula: tuple[tuple[float, float], ...] = FORMULA
    t: float = 0.0
    n: int = 1
    status: str = "open"
    tare: float | None = None
    grams: float | None = None
    link: str = "waiting"
    held: dict[str, Any] | None = None
    total: float = 0.0
    unsure: bool = False
    decided: float = -9.0
    lots: dict[int, str] = field(default_factory=dict)
    accepted: list[tuple[float, str, str]] = field(default_factory=list)
    seen: deque[tuple[float, float]] = field(default_factory=deque)
    refusals: list[str] = field(default_factory=list)
    _half: bytes = b""

    def hear(self, signal: Signal) -> None:
        self.t = max(self.t, signal.t)
        match signal:
            case Lost():
                self.link, self.grams, self.unsure = "lost", None, self.tare is not None
                self.seen.clear()
                if self.tare is not None:
                    self.held = {"cause": "scale lost", "since": str(self.t)}
            case Found():
                self.link = "live"
            case Bytes(t, data):
                *lines, self._half = (self._half + data).split(b"\r\n")
                for line in lines:
                    self.read(t, line)

    def read(self, t: float, line: bytes) -> None:
        match = LINE.fullmatch(line + b"\r\n")
        if match is None or match[1] == b"OV":
            self.grams = None
            self.seen.clear()
            return
        self.grams = float(match[2] + match[3].strip())
        self.seen.append((t, self.grams))
        while len(self.seen) > 2 and self.seen[1][0] <= t - 0.8:
            self.seen.popleft()
        self.look()

    @property
    def settled(self) -> bool:
        values = [grams for _, grams in self.seen]
        long = bool(values) and self.seen[-1][0] - self.seen[0][0] >= 0.8
        return long and max(values) - min(values) <= 1.01 * D

    @property
    def net(self) -> float | None:
        if self.grams is None or self.tare is None:
            return None
        return round(self.grams - self.tare, 1)

    def look(self) -> None:
        """What a settled display changes."""
        if not self.settled or self.tare is None:
            return
        assert self.grams is not None
        if self.unsure:
            if abs(self.grams) < 1 and self.tare + self.total > 5:
                self.held = {"cause": "scale at zero", "since": str(self.t)}
                return
            self.unsure, self.held = False, None
        if self.net is not None and self.net > -1:
            self.total = max(self.net, 0.0)
        if self.verdict == "over" and self.held is None and self.t - self.decided > 3:
            self.held = {"cause": "over", "since": str(self.t)}

    @property
    def verdict(self) -> str | None:
        net = self.net
        if not self.settled or net is None or net < 2 * D:
            return None
        target, tolerance = self.formula[self.n - 1]
        off, limit = abs(net - target), tolerance + 1e-9
        if off <= limit - GUARD:
            return "on target"
        if off <= limit + GUARD:
            return "too close to call"
        return "short" if net < target else "over"

    @property
    def phase(self) -> str:
        if self.held:
            return "held"
        if self.tare is None or (self.net is not None and self.net < -1):
            return "awaiting vessel"
        if self.verdict:
            return "judged"
        if self.net is not None and abs(self.net) < 2 * D:
            return "ready"
        return "settling" if self.settled else "pouring"

    @property
    def can(self) -> list[str]:
        out = ["abandon", "name lot"]
        cause = self.held["cause"] if self.held else ""
        if self.phase == "awaiting vessel" and self.settled and self.tare is None:
            out.append("tare")
        if cause == "scale at zero" and self.settled:
            out.append("resume")
        if cause in ("over", "short", "too close to call") or self.phase == "judged":
            if self.verdict == "on target" and not self.held:
                return ["accept", *out]
            out += ["accept with reason"] if self.verdict else []
            out += ["top up"] if "over" not in (cause, self.verdict) else []
            out += ["take out"] if "short" not in (cause, self.verdict) else []
        return out

    def command(self, given: dict[str, Any]) -> dict[str, Any]:
        do, reason = given["do"], given.get("reason", "")
        key = "accept with reason" if reason else do
        if given["addition"] != self.n or key not in self.can:
            self.refusals.append(key)
            raise OperatorError("not-now", f"{key} does not go with {self.phase}.")
        if do == "tare":
            assert self.grams is not None
            if self.grams < 1:
                raise OperatorError("no-vessel", "The scale shows nothing.")
            self.tare = self.grams
        elif do == "name lot":
            self.lots[self.n] = given["lot"]
        elif do == "resume":
            assert self.grams is not None
            self.tare, self.held, self.unsure = self.grams - self.total, None, False
        elif do == "accept":
            assert self.net is not None
            assert self.verdict is not None
            self.accepted.append((self.net, self.verdict, reason))
            self.held, self.tare, self.total = None, self.grams, 0.0
            self.n += 1
            self.status = "open" if self.n <= len(self.formula) else "closed"
        else:
            self.held, self.decided = None, self.t
        return {}

    def state(self) -> dict[str, Any]:
        def text(value: float | None) -> str | None:
            return None if value is None else f"{value:.1f}"

        reading = {"grams": text(self.grams)} if self.link == "live" else None
        additions = [
            {
                "n": n,
                "low_g": text(target - tolerance),
                "high_g": text(target + tolerance),
                "lot": self.lots.get(n, ""),
            }
            for n, (target, tolerance) in enumerate(self.formula, 1)
        ]
        batch = {"id": "k-1", "status": self.status, "additions": additions}
        scales = {"bench": {"interval_g": "0.1", "link": self.link, "reading": reading}}
        if self.status != "open":
            return {"scales": scales, "batch": batch, "live": None}
        net = self.net
        live = {
            "batch": "k-1",
            "addition": self.n,
            "scale": "bench",
            "phase": self.phase,
            "gross_g": text(self.grams),
            "tare_g": text(self.tare),
            "net_g": text(net),
            "to_go_g": text(None if net is None else self.formula[self.n - 1][0] - net),
            "sum_g": text(self.total),
            "verdict": self.verdict,
            "held": self.held,
            "can": self.can,
        }
        return {"scales": scales, "batch": batch, "live": live}


class Kitchen:
    """A fake station, a bench and a cook in virtual time."""

    def __init__(
        self,
        seed: int,
        parameters: BenchParameters | None = None,
        habits: Habits | None = None,
        formula: tuple[tuple[float, float], ...] = FORMULA,
    ) -> None:
        self.t = 0.0
        self.station = FakeStation(formula)
        self.bench = SimulatedBench(parameters, seed=seed)
        self.bench.begin(lambda: self.t)
        self.cook = Cook(random.Random(seed), habits)
        self.done: list[tuple[float, Action]] = []
        self.said: list[str] = []

    def run(
        self,
        until: Callable[[], object] | None = None,
        limit: float = 600.0,
        every: float = 0.03,
        eyes: bool = True,
    ) -> None:
        """Until the batch is closed, or ``until`` is true; fails after ``limit`` seconds."""
        true = until or (lambda: self.station.status == "closed")
        end = self.t + limit
        while not true():
            assert self.t < end, (self.station.state()["live"], self.said[-5:], self.done[-5:])
            self.t = round(self.t + every, 6)
            for signal in self.bench.collect():
                self.station.hear(signal)
            pan = self.bench.picture() if eyes else None
            for action in self.cook.step(self.t, self.station.state(), pan):
                self.done.append((self.t, action))
                try:
                    perform(action, self.bench, self.station.command, self.said.append)
                except OperatorError as error:
                    for said in self.cook.refused(self.t, str(error)):
                        perform(said, self.bench, self.station.command, self.said.append)

    def wait(self, seconds: float) -> None:
        end = self.t + seconds
        self.run(lambda: self.t >= end)
