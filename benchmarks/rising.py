"""Whether something rises that should stand still: a line through samples, and how sure it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

Run = Sequence[tuple[float, float]]


@dataclass(frozen=True)
class Slope:
    """What a line through samples says: by how much they rise at each step, and how surely."""

    each: float
    error: float

    def rises(self, allowed: float) -> bool:
        """Whether it is a leak: above what is allowed, and above twice its standard error."""
        return self.each > allowed and self.each > 2 * self.error


def slope(runs: Sequence[Run]) -> Slope:
    """Least squares: one slope for all runs of ``(where, value)``, each with its own height; the
    standard error from what the line leaves over. None where nothing is further along."""
    rows = list[tuple[float, float]]()
    for run in runs:
        x0 = sum(x for x, _ in run) / len(run)
        y0 = sum(y for _, y in run) / len(run)
        rows += [(x - x0, y - y0) for x, y in run]
    across = sum(x * x for x, _ in rows)
    if not across:
        return Slope(0.0, 0.0)
    along = sum(x * y for x, y in rows) / across
    over = sum((y - along * x) ** 2 for x, y in rows)
    return Slope(along, (over / max(1, len(rows) - 2) / across) ** 0.5)
