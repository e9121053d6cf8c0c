"""Amounts rounded to what the scales can show, and what that does to the mix.

A target is moved to the nearest step of the scale that judges it, so that the cook pours to a
number that can stand on the display. The smallest amounts keep their tolerance: where the nearest
step is further off than :data:`SHARE` of the narrower side of the tolerance, the target stays as
it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.formula import Addition, Formula

#: Of the narrower side of a tolerance, how much rounding may take.
SHARE = Decimal("0.25")


@dataclass(frozen=True, slots=True)
class Rounded:
    """An addition ``n`` (from 1) before and after, with the scale it is judged on.

    ``kept``  the nearest step was too far off, and the target stayed.
    """

    n: int
    scale: str
    interval_g: Decimal
    before_g: Decimal
    after_g: Decimal
    kept: bool

    def as_json(self) -> dict[str, Any]:
        """As the record of a batch keeps it."""
        return {
            "n": self.n,
            "scale": self.scale,
            "interval_g": mass.text(self.interval_g),
            "exact_g": mass.text(self.before_g),
            "target_g": mass.text(self.after_g),
            **({"kept": True} if self.kept else {}),
        }


def to_steps(
    formula: Formula, scales: Mapping[int, str], intervals: Mapping[str, Decimal]
) -> tuple[Formula, Sequence[Rounded]]:
    """A scaled formula with its targets at the steps of their scales.

    ``scales``  the scale of each addition by its number from 1; those without stay as they are;
    ``intervals`` by scale, in grams.
    """
    additions, told = [], []
    for n, one in enumerate(formula.additions, start=1):
        scale = scales.get(n)
        if scale is None:
            additions.append(one)
            continue
        after = _stepped(one, intervals[scale])
        told.append(
            Rounded(
                n, scale, intervals[scale], one.target_g, after or one.target_g, kept=after is None
            )
        )
        additions.append(one if after is None else replace(one, target_g=after))
    return replace(formula, additions=tuple(additions)), told


def _stepped(one: Addition, interval_g: Decimal) -> Decimal | None:
    after = mass.short(one.target_g, interval_g)
    low, high = one.band
    room = min(one.target_g - low, high - one.target_g) * SHARE
    if after <= 0 or abs(after - one.target_g) > room or one.tolerance.band(after)[0] <= 0:
        return None
    return after
