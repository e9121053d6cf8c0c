"""Displays for tests of the detector: what a scale showed, ten times a second unless said."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from decimal import Decimal

from weighd.domain.mass import Unit
from weighd.domain.reading import Reading
from weighd.domain.settling import Finding, Settling

D = Decimal("0.1")


class Display:
    """A display being played to a detector; keeps every finding."""

    def __init__(self, detector: Settling | None = None, hz: float = 10.0) -> None:
        self.detector = detector or Settling(D)
        self.hz = hz
        self.t = 0.0
        self.grams = Decimal(0)
        self.findings: list[Finding] = []

    def show(self, grams: str | float | Decimal, stable: bool | None = None) -> Finding:
        """One reading."""
        self.t += 1 / self.hz
        self.grams = Decimal(str(grams))
        self.findings.append(
            self.detector.feed(Reading(self.t, self.grams, Unit.G, stable, shown=self.grams))
        )
        return self.findings[-1]

    def none(self, **given: object) -> Finding:
        """A reading without a number."""
        self.t += 1 / self.hz
        self.findings.append(self.detector.feed(Reading(self.t, None, **given)))  # type: ignore[arg-type]
        return self.findings[-1]

    def stand(self, seconds: float, grams: str | None = None) -> Finding:
        """The display stands."""
        grams = grams or str(self.grams)
        for _ in range(round(seconds * self.hz)):
            self.show(grams)
        return self.findings[-1]

    def tremble(self, seconds: float, steps: Sequence[str]) -> Finding:
        """The display trembles through these, again and again."""
        for k in range(round(seconds * self.hz)):
            self.show(steps[k % len(steps)])
        return self.findings[-1]

    def flow(self, g_per_s: float, seconds: float) -> Finding:
        """The display grows (or sinks) evenly."""
        start = float(self.grams)
        d = self.detector.interval_g
        for k in range(1, round(seconds * self.hz) + 1):
            self.show(round((start + g_per_s * k / self.hz) / float(d)) * d)
        return self.findings[-1]

    def follow(self, to: float, tau_s: float, seconds: float) -> Finding:
        """The display nears ``to`` as a low-pass filter does."""
        start, d = float(self.grams), self.detector.interval_g
        for k in range(1, round(seconds * self.hz) + 1):
            value = to + (start - to) * math.exp(-k / self.hz / tau_s)
            self.show(round(value / float(d)) * d)
        return self.findings[-1]

    def since(self, t: float) -> Iterable[Finding]:
        """The findings after ``t``."""
        return (one for one in self.findings if one.t > t + 1e-9)
