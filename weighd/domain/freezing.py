"""Freezing: where a mix begins to freeze, and how much of its water is ice at a temperature.

The sucrose-equivalent method: H. D. Goff & R. W. Hartel, *Ice Cream*, 7th ed. (Springer 2013),
ch. 6, and Goff, *Calculation of Freezing Point Depression of a Mix*, Univ. of Guelph. The sugars of
the mix are counted as so much sucrose in 100 g of water, whose depression is looked up in a table
of measurements (Pickering 1891, by way of Leighton 1927); the salts of milk, added salt, alcohol
and glycerol add depressions that are in proportion to their concentration. As water turns to ice
the rest is left in less water, and the same sum is made again.

1. Between rows of the table it is linear, so everything here is, piece by piece: both directions
   are solved exactly, in ``Decimal``. No float is needed.
2. The table ends at 180 g in 100 g water, 13.68 °C with nothing but sugars. Beyond it nothing is
   said: the book's own row beyond it is 0.24 °C from the straight continuation.
3. How good it is: the table lies a little low at low concentrations (0.72 for 0.68 °C at 12 g) and
   within 2 to 5 % of an activity model in the range of real mixes; 0.1 °C is not promised.
4. All ice is taken to be in balance with what is not frozen. Bound water, supersaturation, and
   lactose that crystallises are left out.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from weighd.domain.composition import Composition
from weighd.domain.contents import UNKNOWN

_NONE, _ONE, _HUNDRED = Decimal(0), Decimal(1), Decimal(100)
#: °C below zero for 3, 6, 9 ... 180 g of sucrose in 100 g of water: Goff & Hartel, table 6.1.
_TABLE = (
    "0.18 0.35 0.53 0.72 0.90 1.10 1.29 1.47 1.67 1.86 2.03 2.21 2.40 2.60 2.78 2.99 3.20 3.42 "
    "3.63 3.85 4.10 4.33 4.54 4.77 5.00 5.26 5.53 5.77 5.99 6.23 6.50 6.80 7.04 7.32 7.56 7.80 "
    "8.04 8.33 8.62 8.92 9.19 9.45 9.71 9.96 10.22 10.47 10.72 10.97 11.19 11.41 11.63 11.88 "
    "12.14 12.40 12.67 12.88 13.08 13.28 13.48 13.68"
)
#: The same with pure water before it: what happens between 0 and 3 g is a straight line.
_DEPRESSION = (_NONE, *(Decimal(one) for one in _TABLE.split()))
_STEP = Decimal(3)
LAST_G = _STEP * (len(_DEPRESSION) - 1)
#: Up to here a straight line through zero fits: salt by its osmotic coefficient (from memory: 0.936
#: at 1 mol/kg), alcohol within 0.5 °C (N. A. Lange, *Handbook of Chemistry*, 15th ed., table 5.13).
MOST_SALT_C, MOST_ALCOHOL_C = Decimal("3.5"), Decimal(10)


def sucrose_depression(grams: Decimal) -> Decimal | None:
    """°C below zero at which water with ``grams`` of sucrose per 100 g begins to freeze.

    ``None`` beyond the table. Raises ``ValueError`` below zero.
    """
    if grams < 0:
        raise ValueError(f"{grams} g of sucrose is not an amount")
    if grams > LAST_G:
        return None
    row = min(int(grams / _STEP), len(_DEPRESSION) - 2)
    low, high = _DEPRESSION[row], _DEPRESSION[row + 1]
    return low + (high - low) * (grams - _STEP * row) / _STEP


@dataclass(frozen=True, slots=True)
class Piece:
    """Where the table is one straight line: from ``from_g`` to ``to_g`` grams of sucrose in 100 g
    of water it freezes from ``from_c`` to ``to_c`` °C below zero."""

    from_g: Decimal
    to_g: Decimal
    from_c: Decimal
    to_c: Decimal


#: All of them, from pure water on.
PIECES = tuple(
    Piece(_STEP * row, _STEP * (row + 1), low, high)
    for row, (low, high) in enumerate(pairwise(_DEPRESSION))
)


@dataclass(frozen=True, slots=True)
class Solution:
    """What is dissolved in the water of a mix before any of it is frozen.

    ``sucrose_g`` sucrose equivalents in grams per 100 g of water;
    ``milk_c``, ``salt_c``, ``alcohol_c``: what the salts of milk, added salt, and alcohol with
    glycerol lower the freezing point by, in °C.
    """

    sucrose_g: Decimal
    milk_c: Decimal = _NONE
    salt_c: Decimal = _NONE
    alcohol_c: Decimal = _NONE

    @property
    def straight_c(self) -> Decimal:
        """The part that grows in proportion to the concentration."""
        return self.milk_c + self.salt_c + self.alcohol_c

    @property
    def most(self) -> Decimal:
        """How many times it can be concentrated before the method ends; below 1 for not at all."""
        ends = (
            (self.sucrose_g, LAST_G),
            (self.salt_c, MOST_SALT_C),
            (self.alcohol_c, MOST_ALCOHOL_C),
        )
        return min((end / now for now, end in ends if now), default=UNKNOWN)

    def depression(self, frozen: Decimal = _NONE) -> Decimal | None:
        """°C below zero with this share of the water frozen, 0 up to but not 1.

        ``None`` where the method does not reach. Raises ``ValueError`` for no such share.
        """
        if not 0 <= frozen < 1:
            raise ValueError(f"{frozen} is not a share of water that can be frozen")
        return self._at(_ONE / (_ONE - frozen))

    def frozen(self, at_c: Decimal) -> Decimal | None:
        """The share of the water that is ice at a temperature, 0 to 1; ``None`` where the method
        does not reach: there it is more than :attr:`end` says."""
        wanted = -at_c
        if wanted <= 0:
            return _NONE
        start, most = self.depression(), self.most
        if most < 1 or start is None:
            return None
        if wanted <= start:
            return _NONE
        if not self.sucrose_g and not self.straight_c:
            return _ONE  # pure water
        times = self._times(wanted)
        return None if times is None or times > most else _ONE - _ONE / times

    @property
    def end(self) -> tuple[Decimal, Decimal] | None:
        """The coldest that is known: °C and the share frozen there; ``None`` for no end or no
        beginning."""
        most = self.most
        if most == UNKNOWN or most < 1:
            return None
        depression = self._at(most)
        return None if depression is None else (-depression, _ONE - _ONE / most)

    def corners(self, low_c: Decimal, high_c: Decimal) -> tuple[Decimal, ...]:
        """The temperatures strictly between two at which the curve of ice has a corner, coldest
        first: between them it is smooth. Where it begins is one of them."""
        begins = self.depression()
        found = [] if begins is None else [-begins]
        if self.sucrose_g:
            each = self.straight_c / self.sucrose_g
            rows = enumerate(_DEPRESSION)
            found += [-(fall + each * _STEP * n) for n, fall in rows if _STEP * n > self.sucrose_g]
        return tuple(sorted(one for one in found if low_c < one < high_c))

    def _at(self, times: Decimal) -> Decimal | None:
        if times > self.most:
            return None
        sugars = sucrose_depression(min(self.sucrose_g * times, LAST_G))
        return None if sugars is None else sugars + self.straight_c * times

    def _times(self, wanted: Decimal) -> Decimal | None:
        """How many times concentrated it freezes at ``wanted`` °C below zero: the piece of the
        table in which it does, and the straight line there."""
        straight, sucrose = self.straight_c, self.sucrose_g
        if not sucrose:
            return wanted / straight
        each = straight / sucrose  # °C per gram of sucrose that goes with it
        row = bisect_left(
            range(len(_DEPRESSION)), wanted, key=lambda n: _DEPRESSION[n] + each * _STEP * n
        )
        if row == len(_DEPRESSION):
            return None
        low = _DEPRESSION[row - 1] + each * _STEP * (row - 1)
        high = _DEPRESSION[row] + each * _STEP * row
        return (_STEP * (row - 1) + _STEP * (wanted - low) / (high - low)) / sucrose


@dataclass(frozen=True, slots=True)
class Freezing:
    """A mix as it freezes. Where facts are missing the two differ: ``thin`` has the least dissolved
    in the most water, ``thick`` the most in the least, each kind taken by itself; the truth lies
    between them, though not all between them can be true. ``None`` for what has no water."""

    thin: Solution | None
    thick: Solution | None


def freezing(mix: Composition) -> Freezing:
    """How a mix freezes."""
    water = mix.of("water")
    keys = ("sucrose_equivalent", "milk_salts_c", "salt_c", "alcohol_c")

    def solution(end: str, grams: Decimal) -> Solution | None:
        if not grams:
            return None
        sugars, *others = (getattr(mix.of(key), end) for key in keys)
        return Solution(sugars * _HUNDRED / grams, *(one / grams for one in others))

    return Freezing(solution("low", water.high), solution("high", water.low))
