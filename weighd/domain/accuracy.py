"""What is stated of a scale's errors: by whoever configured it, never assumed.

A kitchen scale has no accuracy class unless it says so on its plate. Nothing stated adds nothing
to the uncertainty, and the record shows which figures there were.

The classes are those of OIML R 76-1:2006, its Table 3 (which scales can be of a class) and Table 6
(maximum permissible errors at initial verification); in service the errors may be twice as large
(3.5.2). All three as transcribed in public texts; the numbers of clauses are from memory. To give
a class is to say that the scale was verified; weighd cannot know whether it was.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import Any

from weighd.domain import mass

#: Table 6: for each class the loads, in verification intervals e, up to which the error may be
#: half an interval and one interval; above that one and a half.
_STEPS = {
    "I": (Decimal(50_000), Decimal(200_000)),
    "II": (Decimal(5_000), Decimal(20_000)),
    "III": (Decimal(500), Decimal(2_000)),
    "IIII": (Decimal(50), Decimal(200)),
}
#: In service the error may be twice that of initial verification (3.5.2).
_IN_SERVICE = 2
#: Table 3, by class: e in grams from, below (none: no end), n = Max/e from, to, and Min in e.
_SCALES: dict[str, tuple[tuple[str, str | None, int, int | None, int], ...]] = {
    "I": (("0.001", None, 50_000, None, 100),),
    "II": (("0.001", "0.1", 100, 100_000, 20), ("0.1", None, 5_000, 100_000, 50)),
    "III": (("0.1", "5", 100, 10_000, 20), ("5", None, 500, 10_000, 20)),
    "IIII": (("5", None, 100, 1_000, 10),),
}


class AccuracyClass(StrEnum):
    """The accuracy classes: special, high, medium, ordinary."""

    I = "I"  # noqa: E741 -- that is what stands on the plate
    II = "II"
    III = "III"
    IIII = "IIII"

    def error_g(self, load_g: Decimal, e_g: Decimal) -> Decimal:
        """Maximum permissible error in service, in grams, at a load; ``e_g`` above zero."""
        half, whole = _STEPS[self]
        load = abs(load_g) / e_g
        intervals = Decimal("0.5") if load <= half else Decimal(1) if load <= whole else _WIDEST
        return _IN_SERVICE * intervals * e_g

    def least_g(self, e_g: Decimal, max_g: Decimal) -> Decimal | None:
        """Minimum capacity Min in grams; ``None`` where no scale of the class is like that."""
        n = max_g / e_g
        for start, end, fewest, most, least in _SCALES[self]:
            if e_g < Decimal(start) or (end is not None and e_g >= Decimal(end)):
                continue
            if n < fewest or (most is not None and n > most):
                continue
            return least * e_g
        return None

    def steps_g(self, e_g: Decimal) -> tuple[Decimal, Decimal]:
        """The loads in grams up to which the two smaller errors hold."""
        half, whole = _STEPS[self]
        return half * e_g, whole * e_g


_WIDEST = Decimal("1.5")


@dataclass(frozen=True, slots=True)
class Accuracy:
    """The figures stated of one scale, in grams; zero or ``None`` is not stated.

    ``repeatability_g``  standard deviation of repeated weighings of one amount.
    ``max_error_g``      most that an amount weighed in may be off by, whatever it is.
    ``by_class``         accuracy class, with ``e_g``, its verification scale interval.
    ``creep_g``          most that the display moves in half an hour with the load unchanged.
    """

    repeatability_g: Decimal = Decimal(0)
    max_error_g: Decimal | None = None
    by_class: AccuracyClass | None = None
    e_g: Decimal | None = None
    creep_g: Decimal = Decimal(0)

    def on(self, interval_g: Decimal) -> Accuracy:
        """The same on a scale with this interval: e is d where a class is given without e."""
        if self.by_class is None or self.e_g is not None:
            return self
        return replace(self, e_g=interval_g)

    def error_g(self, net_g: Decimal) -> Decimal:
        """Most that a net amount may be off by, in grams; zero where nothing is stated.

        Taken at the net load, not at gross and tare: both are read on one scale moments apart, so
        that what it errs by at the tare is in both and drops out. R 76-1 holds a scale to the
        same (its permissible errors apply to the net, whatever the tare: 3.5.3.3, from memory).
        """
        if self.by_class is not None and self.e_g is not None:
            return self.by_class.error_g(net_g, self.e_g)
        return self.max_error_g or Decimal(0)

    def steps_g(self) -> tuple[Decimal, ...]:
        """The net loads in grams, ascending, above which :meth:`error_g` is larger."""
        if self.by_class is None or self.e_g is None:
            return ()
        return self.by_class.steps_g(self.e_g)

    def as_json(self) -> dict[str, Any]:
        """As a record keeps it, with the keys of the configuration."""
        return {
            "repeatability_g": mass.text(self.repeatability_g),
            "max_error_g": None if self.max_error_g is None else mass.text(self.max_error_g),
            "accuracy_class": None if self.by_class is None else str(self.by_class),
            "verification_interval_g": None if self.e_g is None else mass.text(self.e_g),
            "creep_g": mass.text(self.creep_g),
        }


def from_json(body: Mapping[str, Any]) -> Accuracy:
    """The inverse of :meth:`Accuracy.as_json`; a record made before a figure was kept has it not.

    Raises ``ValueError`` for what is no mass or no class.
    """
    told = {key: body[key] for key in body if body[key] is not None}
    by_class = AccuracyClass(told["accuracy_class"]) if "accuracy_class" in told else None

    def grams(key: str) -> Decimal | None:
        return mass.parse(told[key]) if key in told else None

    e_g = grams("verification_interval_g")
    if by_class is not None and (e_g is None or e_g <= 0):
        raise ValueError("an accuracy class needs its verification interval")
    return Accuracy(
        grams("repeatability_g") or Decimal(0),
        grams("max_error_g"),
        by_class,
        e_g,
        grams("creep_g") or Decimal(0),
    )
