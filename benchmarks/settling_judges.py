"""Who is judged in the settling benchmark: the plain rules, the scale's own flag, and ours.

A judge is made for one case and fed its readings; it answers grams of the addition so far while
it claims to know them, else ``None``.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import Protocol

from benchmarks.settling_before import Before
from benchmarks.settling_cases import Case
from benchmarks.settling_worlds import Shown
from weighd.domain.mass import Unit
from weighd.domain.reading import Reading
from weighd.domain.settling import Phase
from weighd.domain.watch import Watch


class Judge(Protocol):
    """One judge of one case."""

    def feed(self, shown: Shown) -> float | None:
        """Grams of the addition so far while settled."""
        ...


class Within:
    """The plain rule: within ± one interval for so many seconds."""

    def __init__(self, case: Case, seconds: float) -> None:
        self._seconds = seconds
        self._d = float(case.scale.d)
        self._rows: deque[tuple[float, float]] = deque()
        self._base: float | None = None
        self._quiet_from = 0.0

    def feed(self, shown: Shown) -> float | None:
        if shown.grams is None:
            self._rows.clear()
            return None
        value, rows = float(shown.grams), self._rows
        if self._base is None:
            self._base = value
        rows.append((shown.t, value))
        while len(rows) > 2 and rows[1][0] <= shown.t - self._seconds:
            rows.popleft()
        if shown.t - rows[0][0] < self._seconds * 0.98:
            return None
        middle = sorted(row[1] for row in rows)[len(rows) // 2]
        if any(abs(row[1] - middle) > 1.01 * self._d for row in rows):
            return None
        return value - self._base


class Flag:
    """The scale's own flag, believed."""

    def __init__(self) -> None:
        self._base: float | None = None

    def feed(self, shown: Shown) -> float | None:
        if shown.grams is None:
            return None
        if self._base is None:
            self._base = float(shown.grams)
        return float(shown.grams) - self._base if shown.stable else None


class Ours:
    """``weighd settle``: the watch, with nothing known of the scale; or its firm claims only."""

    def __init__(self, watch: Watch, case: Case, *, firm: bool = False) -> None:
        self._watch = watch
        self._firm = firm
        watch.reset(case.scale.d)

    def feed(self, shown: Shown) -> float | None:
        watched = self._watch.feed(as_reading(shown))
        if self._firm and not watched.firm:
            return None
        if watched.phase is Phase.EMPTY:
            return 0.0
        if watched.phase is not Phase.SETTLED or watched.grams is None:
            return None
        return float(watched.grams)


def as_reading(shown: Shown) -> Reading:
    """A reading as the domain takes it."""
    return Reading(shown.t, shown.grams, Unit.G, shown.stable, shown.over, raw=b"")


JUDGES: dict[str, Callable[[Case], Judge]] = {
    "±d for 1 s": lambda case: Within(case, 1.0),
    "±d for 2 s": lambda case: Within(case, 2.0),
    "scale's flag": lambda _: Flag(),
    "before": lambda case: Before(case.scale.d),
    "ours": lambda case: Ours(Watch(case.scale.d), case),
    "ours, firm": lambda case: Ours(Watch(case.scale.d), case, firm=True),
}
