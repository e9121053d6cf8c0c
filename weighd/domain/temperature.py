"""Temperatures as they were measured or written: °C or °F, compared exactly.

A pair printed as 155 °F is not 68.3 °C: that is a little less, and is held to be less. So each
keeps its unit, and two are compared by ninths of a degree Celsius above its zero, in which both
units are exact (°C = (°F - 32) × 5/9).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from functools import total_ordering

from weighd.domain import mass
from weighd.domain.mass import EXACT

CELSIUS, FAHRENHEIT = "°C", "°F"
#: Nothing is colder (ITS-90), and no food is made above the second; both in °C.
COLDEST_C, HOTTEST_C = Decimal("-273.15"), Decimal(300)

_UNIT = {"c": CELSIUS, "°c": CELSIUS, "f": FAHRENHEIT, "°f": FAHRENHEIT}
NUMBER = r"[-−+]?[0-9]{1,4}(?:[.,][0-9]{1,4})?"
_WRITTEN = re.compile(rf"\s*({NUMBER})\s*(°?\s?[CF])?\s*", re.IGNORECASE)


@total_ordering
@dataclass(frozen=True, slots=True, eq=False)
class Temperature:
    """A temperature in the unit it was read or written in. ``155 °F`` equals ``68 3/9 °C``."""

    value: Decimal
    unit: str = CELSIUS

    @property
    def ninths(self) -> Decimal:
        """Ninths of a degree Celsius above 0 °C, exactly."""
        if self.unit == CELSIUS:
            return EXACT.multiply(self.value, 9)
        return EXACT.multiply(EXACT.subtract(self.value, 32), 5)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Temperature) and self.ninths == other.ninths

    def __lt__(self, other: Temperature) -> bool:
        return self.ninths < other.ninths

    def __hash__(self) -> int:
        return hash(self.ninths)

    def __str__(self) -> str:
        """As records have it, and as :func:`read_temperature` reads it again."""
        return f"{mass.text(self.value)} {self.unit}"

    def celsius_at_least(self) -> str:
        """In °C to a tenth, rounded up: whoever reaches that has reached this."""
        return self._celsius(ROUND_CEILING)

    def celsius_at_most(self) -> str:
        """In °C to a tenth, rounded down."""
        return self._celsius(ROUND_FLOOR)

    def _celsius(self, rounding: str) -> str:
        if self.unit == CELSIUS:
            return str(self)
        return f"{mass.text((self.ninths / 9).quantize(Decimal('0.1'), rounding))} {CELSIUS}"

    def fahrenheit_at_least(self) -> str:
        """In °F to a tenth, rounded up."""
        return self._fahrenheit(ROUND_CEILING)

    def fahrenheit_at_most(self) -> str:
        """In °F to a tenth, rounded down."""
        return self._fahrenheit(ROUND_FLOOR)

    def _fahrenheit(self, rounding: str) -> str:
        if self.unit == FAHRENHEIT:
            return str(self)
        degrees = EXACT.add(self.ninths / 5, 32)
        return f"{mass.text(degrees.quantize(Decimal('0.1'), rounding))} {FAHRENHEIT}"


def read_temperature(text: str, unit: str = CELSIUS) -> Temperature:
    """``"4 °C"``, ``"155 F"``, or a bare number in ``unit``.

    Raises ``ValueError`` saying what is wrong with it: no number, or one that nothing has.
    """
    found = _WRITTEN.fullmatch(text)
    if not found:
        raise ValueError(f'"{text[:40]}" is not a temperature; write it like "4 °C"')
    value = Decimal(found[1].replace(",", ".").replace("−", "-"))
    named = _UNIT["".join(found[2].split()).lower()] if found[2] else unit
    read = Temperature(value, named)
    if read < Temperature(COLDEST_C):
        raise ValueError(f'"{text[:40]}" is colder than anything can be ({COLDEST_C} °C)')
    if read > Temperature(HOTTEST_C):
        raise ValueError(f'"{text[:40]}" is hotter than any food is made ({HOTTEST_C} °C)')
    return read
