"""Check weights: what a piece of metal is known to weigh.

The classes are those of OIML R 111-1:2004 and the errors its Table 1 permits, in milligrams. The
rows from 100 mg to 200 g were read in a public transcription, those of E2 to M2 up to 5 kg in
another; class M3 from 500 g, E1 from 500 g and all of 10 and 20 kg are from memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Context, Decimal
from enum import StrEnum
from typing import Any

from weighd.domain import mass

_CONTEXT = Context(prec=28)
_FINEST = Decimal("0.000001")
#: A check weight may be off by no more than this share of the error that it is to show (OIML
#: R 76-1:2006, 3.7.1: second-hand).
SHARE = 3


class WeightClass(StrEnum):
    """The classes of weights, finest first."""

    E1 = "E1"
    E2 = "E2"
    F1 = "F1"
    F2 = "F2"
    M1 = "M1"
    M2 = "M2"
    M3 = "M3"

    def error_g(self, nominal_g: Decimal) -> Decimal | None:
        """Permitted error in grams of a weight; ``None`` where the table has no such weight."""
        row = _TABLE.get(nominal_g.normalize())
        if row is None:
            return None
        told = row.split()[list(WeightClass).index(self)]
        return None if told == "-" else Decimal(told) / 1000


#: Table 1, by nominal grams: milligrams for E1, E2, F1, F2, M1, M2, M3.
_ROWS = {
    "0.1": "0.005 0.016 0.05 0.16 0.5  1.6  -",
    "0.2": "0.006 0.020 0.06 0.20 0.6  2.0  -",
    "0.5": "0.008 0.025 0.08 0.25 0.8  2.5  -",
    "1": "0.010 0.03  0.10 0.3  1.0  3.0  10",
    "2": "0.012 0.04  0.12 0.4  1.2  4.0  12",
    "5": "0.016 0.05  0.16 0.5  1.6  5.0  16",
    "10": "0.020 0.06  0.20 0.6  2.0  6.0  20",
    "20": "0.025 0.08  0.25 0.8  2.5  8.0  25",
    "50": "0.03  0.10  0.3  1.0  3.0  10   30",
    "100": "0.05  0.16  0.5  1.6  5.0  16   50",
    "200": "0.10  0.3   1.0  3.0  10   30   100",
    "500": "0.25  0.8   2.5  8.0  25   80   250",
    "1000": "0.5   1.6   5.0  16   50   160  500",
    "2000": "1.0   3.0   10   30   100  300  1000",
    "5000": "2.5   8.0   25   80   250  800  2500",
    "10000": "5.0   16    50   160  500  1600 5000",
    "20000": "10    30    100  300  1000 3000 10000",
}
_TABLE = {Decimal(nominal).normalize(): row for nominal, row in _ROWS.items()}


@dataclass(frozen=True, slots=True)
class Weight:
    """A weight for checking scales; masses in grams.

    ``name``       what stands on it: a number, a mark.
    ``mass_g``     its conventional mass: the nominal one, unless its certificate says otherwise.
    ``by_class``   its class (R 111), or
    ``error_g``    the most it may be off by, or
    ``stated_u_g`` the standard uncertainty of ``mass_g`` on its certificate: one of the three.
    """

    name: str
    nominal_g: Decimal
    mass_g: Decimal
    by_class: WeightClass | None = None
    error_g: Decimal | None = None
    stated_u_g: Decimal | None = None

    @property
    def most_off_g(self) -> Decimal:
        """The most by which it may differ from ``mass_g``; twice ``u`` where that is stated."""
        if self.stated_u_g is not None:
            return 2 * self.stated_u_g
        if self.error_g is not None:
            return self.error_g
        return (self.by_class and self.by_class.error_g(self.nominal_g)) or Decimal(0)

    @property
    def u_g(self) -> Decimal:
        """Standard uncertainty of its mass: as stated, else of a rectangle (GUM, 4.3.7)."""
        if self.stated_u_g is not None:
            return self.stated_u_g
        return (self.most_off_g / _CONTEXT.sqrt(Decimal(3))).quantize(_FINEST)

    def good_enough(self, limit_g: Decimal) -> bool:
        """Whether it can show an error of ``limit_g`` (R 76-1, 3.7.1)."""
        return SHARE * self.most_off_g <= limit_g

    def as_json(self) -> dict[str, Any]:
        """As a record keeps it."""

        def told(value: Decimal | None) -> str | None:
            return None if value is None else mass.text(value)

        return {
            "name": self.name,
            "nominal_g": mass.text(self.nominal_g),
            "mass_g": mass.text(self.mass_g),
            "r111_class": None if self.by_class is None else str(self.by_class),
            "error_g": told(self.error_g),
            "u_g": told(self.stated_u_g),
        }


def weight_of(body: Mapping[str, Any]) -> Weight:
    """The inverse of :meth:`Weight.as_json`. Raises ``ValueError`` or ``KeyError``."""

    def grams(key: str) -> Decimal | None:
        return None if body[key] is None else mass.parse(body[key])

    by_class = None if body["r111_class"] is None else WeightClass(body["r111_class"])
    nominal = mass.parse(body["nominal_g"])
    if by_class is not None and by_class.error_g(nominal) is None:
        raise ValueError(f"R 111 has no weight of {nominal} g in class {by_class}")
    return Weight(
        str(body["name"]),
        nominal,
        mass.parse(body["mass_g"]),
        by_class,
        grams("error_g"),
        grams("u_g"),
    )
