"""A simulated bench scale: pure physics, stepped by injected time, deterministic from its seed.

What is on the pan (``sim_load``) moves a damped spring; the electronics (``sim_indicator``) make
printed reports of it. Floats are right here: this is physics, and a mass becomes a number of
record only where a report's text is read. All values are our own guesses (``sim_parameters``).
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

from weighd_drivers.sim_indicator import Indicator
from weighd_drivers.sim_load import Load
from weighd_drivers.sim_parameters import BenchParameters

#: Seconds of one step: a fixed grid, so that results do not depend on how time is handed in.
DT = 0.0025


@dataclass(frozen=True, slots=True)
class Report:
    """A printed report and the moment it was sent, seconds."""

    t: float
    data: bytes


class Bench:
    """A bench scale, whoever works at it, and its reports.

    ``rng``  the only source of chance: the same seed and the same calls at the same times give
             the same bytes.
    ``t``    where time starts, seconds.

    The calls that do something (``load.pour``, ``zero``, ...) act at the time reached.
    """

    def __init__(self, parameters: BenchParameters, rng: random.Random, t: float = 0.0) -> None:
        self.parameters = parameters
        self.load = Load(parameters, rng, DT)
        self._indicator = Indicator(parameters, rng)
        self._rng = rng
        self._start = t
        self._steps = 0
        self._omega = math.tau * parameters.resonance_hz
        self._position = 0.0
        self._speed = 0.0
        self._crept = 0.0
        self._sampled = 0
        # Where within its period a scale sends is as good as random.
        self._due = rng.uniform(0.1, 1.0) / parameters.rate_hz
        self._nominal = self._due

    @property
    def t(self) -> float:
        """The time reached, seconds."""
        return self._start + self._steps * DT

    @property
    def next_report(self) -> float:
        """When the next report will be sent, seconds."""
        return self._start + self._due

    def zero(self) -> None:
        """Press the scale's own zero key (or switch it on): the load now is its zero."""
        self._indicator.zero()

    def advance(self, t: float) -> list[Report]:
        """Go on to ``t`` seconds; the reports sent on the way, oldest first."""
        reports: list[Report] = []
        until = math.floor((t - self._start) / DT + 1e-6)
        while self._steps < until:
            self._step()
            if self._steps * DT >= self._due:
                at = self._start + self._due
                reports.append(Report(at, self._indicator.report(at)))
                self._schedule()
        return reports

    def skip(self, t: float) -> None:
        """Let time pass to ``t`` with nothing happening: the machine slept."""
        self._start += max(0.0, t - self.t)

    def _step(self) -> None:
        self._steps += 1
        force = self.load.step()
        omega = self._omega
        push = omega * omega * (force - self._position)
        self._speed += (push - 2 * self.parameters.damping * omega * self._speed) * DT
        self._position += self._speed * DT
        p = self.parameters
        if p.creep:
            self._crept += (p.creep * self._position - self._crept) * DT / p.creep_s
        if self._steps * DT * p.sample_hz >= self._sampled + 1:
            self._sampled += 1
            self._indicator.sample(self._position + self._crept)

    def _schedule(self) -> None:
        period = 1 / self.parameters.rate_hz
        self._nominal += period
        late = self._rng.gauss(0, self.parameters.jitter * period)
        self._due = max(self._nominal + late, self._due + 0.25 * period)
