"""Scales and weights for the tests of checks, and levels as a check is given them."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from weighd.domain.accuracy import Accuracy, AccuracyClass
from weighd.domain.addition import Evidence
from weighd.domain.batch import Scale
from weighd.domain.check import Plan, Terms
from weighd.domain.check_steps import Going, Stood, begin, look
from weighd.domain.metrology import Rule, level
from weighd.domain.weights import Weight, WeightClass

#: A scale of class III with e = d = 1 g, Max = 6 kg.
CLASS_III = Scale(
    "bench",
    "test",
    Decimal(1),
    Decimal(6000),
    Accuracy(by_class=AccuracyClass.III, e_g=Decimal(1)),
)
#: A kitchen scale of which nothing is stated.
KITCHEN = Scale("bench", "test", Decimal("0.1"), Decimal(6000))


def weight(nominal: str | int, by_class: WeightClass = WeightClass.M1, name: str = "") -> Weight:
    grams = Decimal(nominal)
    return Weight(name or f"{nominal} g", grams, grams, by_class)


def terms(scale: Scale = KITCHEN, limit: str | None = "0.5", rule: Rule | None = None) -> Terms:
    return Terms(scale, rule or Rule(), None if limit is None else Decimal(limit))


def stood(grams: str | Decimal, shift: str = "0", d: str = "0.1", at: str = "") -> Stood:
    """A display that stood still at so many grams."""
    shown = [Decimal(grams)] * 5
    readings = tuple({"t": 0.1 * n, "raw": "", "grams": str(grams)} for n in range(5))
    when = at or "2026-11-26T08:00:00.000Z"
    return Stood(level(shown, Decimal(d)), Evidence({}, readings), Decimal(shift), when)


def go(going: Going, shows: Iterable[str | None]) -> Going:
    """The check after levels; ``None`` is a display on the move."""
    for one in shows:
        going = look(going, None if one is None else stood(one))
    return going


def started(plan: Plan, held: Terms | None = None) -> Going:
    return begin(plan, held or terms())
