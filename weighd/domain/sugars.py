"""Kinds of sugars and polyols: how far each lowers the freezing point, how sweet it is, its energy.

Factors are grams of sucrose that do the same as a gram of the kind.

1. *Freezing*: H. D. Goff & R. W. Hartel, *Ice Cream*, 7th ed. (Springer 2013), ch. 6, the equation
   of sucrose equivalents: the ratio of molar masses (342.30 / M), but for glucose syrups the book's
   own figures (its 36 DE, 0.6, lies off the line of molar masses, 0.684).
2. *Glycerol* is left out of that equation: as sucrose it would freeze far too low (20 % by mass:
   6.5 °C, where 4.8 °C are measured; N. A. Lange's *Handbook of Chemistry*, 15th ed., table 5.13).
   It counts by its molality, as alcohol does (:mod:`weighd.domain.freezing`).
3. *Sweetness*: table 2.1 of *Sweeteners: Nutritional Aspects, Applications, and Production
   Technology* (CRC Press), after Gaman & Sherrington 1990, unless ``from memory``. Sources differ
   (fructose 1.2 to 1.7), and it depends on concentration and cold: an index to compare mixes by.
4. *Energy*: Regulation (EU) 1169/2011, Annex XIV: carbohydrate 4 kcal or 17 kJ, polyols 2.4 or 10,
   erythritol 0.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

_BOOK = "Goff & Hartel 2013, ch. 6"
_TABLE = "CRC Press, Sweeteners, table 2.1"
MEMORY = "from memory"


@dataclass(frozen=True, slots=True)
class Span:
    """Something between ``low`` and ``high``; both alike where it is known."""

    low: Decimal
    high: Decimal


@dataclass(frozen=True, slots=True)
class Sugar:
    """One kind. Factors are against sucrose by mass; energies are per gram.

    ``freezing``  grams of sucrose with the same effect; 0 where it counts by its molality.
    ``molar_mass`` in g/mol, only where it counts by its molality, else 0.
    """

    id: str
    name: str
    freezing: Span
    sweetness: Span
    kcal: Decimal = Decimal(4)
    kj: Decimal = Decimal(17)
    molar_mass: Decimal = Decimal(0)
    freezing_source: str = _BOOK
    sweetness_source: str = _TABLE


def _span(text: str) -> Span:
    low, _, high = text.partition(" to ")
    return Span(Decimal(low), Decimal(high or low))


def _sugar(identity: str, name: str, freezing: str, sweet: str, source: str = _TABLE) -> Sugar:
    return Sugar(identity, name, _span(freezing), _span(sweet), sweetness_source=source)


def _polyol(identity: str, name: str, freezing: str, sweet: str, source: str = _TABLE) -> Sugar:
    none = identity == "erythritol"
    return Sugar(
        identity,
        name,
        _span(freezing),
        _span(sweet),
        Decimal(0) if none else Decimal("2.4"),
        Decimal(0) if none else Decimal(10),
        Decimal("92.09") if identity == "glycerol" else Decimal(0),
        sweetness_source=source,
    )


_ALL = (
    _sugar("sucrose", "Sucrose", "1", "1"),
    _sugar("lactose", "Lactose", "1", "0.15"),
    _sugar("maltose", "Maltose", "1", "0.3"),
    _sugar("trehalose", "Trehalose", "1", "0.45", MEMORY),
    _sugar("glucose", "Glucose (dextrose), anhydrous", "1.9", "0.75"),
    _sugar("fructose", "Fructose", "1.9", "1.7"),
    _sugar("galactose", "Galactose", "1.9", "0.3"),
    _sugar("invert", "Invert sugar, solids", "1.9", "1.3"),
    _sugar("glucose-syrup-10de", "Glucose syrup 10 DE, solids", "0.2", "0.05 to 0.15", MEMORY),
    _sugar("glucose-syrup-36de", "Glucose syrup 36 DE, solids", "0.6", "0.3 to 0.5", MEMORY),
    _sugar("glucose-syrup-42de", "Glucose syrup 42 DE, solids", "0.8", "0.5", MEMORY),
    _sugar("glucose-syrup-62de", "Glucose syrup 62 DE, solids", "1.2", "0.7", MEMORY),
    _sugar("hfcs", "High-fructose corn syrup, solids", "1.8", "1", MEMORY),
    _polyol("sorbitol", "Sorbitol", "1.9", "0.5"),
    _polyol("mannitol", "Mannitol", "1.9", "0.4"),
    _polyol("maltitol", "Maltitol", "1", "0.5 to 0.9"),
    _polyol("xylitol", "Xylitol", "2.25", "0.85 to 1.2"),
    _polyol("erythritol", "Erythritol", "2.803", "0.65", MEMORY),
    _polyol("glycerol", "Glycerol", "0", "0.6", MEMORY),
    # A label that says "sugars" says no more: glucose, fructose, sucrose or maltose. Milk sugar is
    # stated as milk solids or as lactose.
    _sugar("unspecified", "Sugars of a kind not known", "1 to 1.9", "0.3 to 1.7", "any of those"),
)
#: Every kind by its id, in the order they are shown.
KINDS = {one.id: one for one in _ALL}
