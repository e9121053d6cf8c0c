"""Heat to be taken out of a mix, from one temperature to a colder one, in kJ.

1. Sensible heat until it begins to freeze, by the heat capacities of its parts.
2. Heat of freezing, along the mix's own curve: what turns to ice at a temperature gives off the
   heat of fusion at that temperature, 333.43 kJ/kg at 0 °C (IAPWS-95 and IAPWS-06) and 2.12 kJ/kg
   less for each degree below, which is how much the heat capacities of water and ice differ.
3. Sensible heat below, by the phases there are at each temperature.

Between the corners of the curve everything is smooth, and integrated there by Gauss-Legendre with
three points, exact to far more digits than are shown. ``Decimal`` throughout: a record can be
reckoned again on any platform. Left out: fat that crystallises (up to about 80 kJ per kg of fat,
from memory), stirring, heat that leaks in, air beaten in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal, localcontext
from itertools import pairwise

from weighd.domain.heat_parts import DRY, ICE, WATER_COLD, WATER_WARM, Body, Polynomial

_NONE, _THOUSAND = Decimal(0), Decimal(1000)
FUSION_KJ_KG, FUSION_BY_C = Decimal("333.43"), Decimal("2.12")
#: Latent heat of fat that could crystallise, which is left out: kJ per kg of fat, from memory.
FAT_KJ_KG = Decimal(80)
_DIGITS = 30
with localcontext() as _context:
    _context.prec = _DIGITS
    _OUT = (Decimal(3) / 5).sqrt()
_NODES = ((-_OUT, Decimal(5) / 9), (_NONE, Decimal(8) / 9), (_OUT, Decimal(5) / 9))
#: A smooth stretch is integrated in pieces no longer than this, in °C.
_LONGEST = Decimal(1)


@dataclass(frozen=True, slots=True)
class Heat:
    """Heat taken out in kJ; ``ice_g`` is the ice that comes of it."""

    cooling_kj: Decimal
    freezing_kj: Decimal
    below_kj: Decimal
    ice_g: Decimal

    @property
    def total_kj(self) -> Decimal:
        """All of it."""
        return self.cooling_kj + self.freezing_kj + self.below_kj


def capacity_kj_k(body: Body, at_c: Decimal, ice_g: Decimal = _NONE) -> Decimal:
    """Heat capacity in kJ/K at a temperature, with so much of the water as ice."""
    water = WATER_WARM if at_c >= 0 else WATER_COLD
    total = (body.water_g - ice_g) * _value(water, at_c) + ice_g * _value(ICE, at_c)
    for part, grams in body.dry_g.items():
        total += grams * _value(DRY[part], at_c)
    return total / _THOUSAND


def heat(body: Body, from_c: Decimal, to_c: Decimal) -> Heat | None:
    """The heat of cooling from one temperature to another; ``None`` where the freezing method does
    not reach the colder one. Raises ``ValueError`` where that is not the colder one."""
    if not to_c <= from_c:
        raise ValueError(f"{to_c} °C is not colder than {from_c} °C")
    begins = _begins(body)
    if begins is None or _frozen(body, to_c) is None:
        return None
    with localcontext() as context:
        context.prec = _DIGITS
        warm = max(min(begins, from_c), to_c)
        cooling = _integral(lambda at: capacity_kj_k(body, at), warm, from_c, (_NONE,))
        corners = body.solution.corners(to_c, warm) if body.solution else ()
        # By parts: what freezes at each temperature, times the heat of fusion there.
        ice, before = _ice(body, to_c), _ice(body, warm)
        on_the_way = _integral(lambda at: _ice(body, at), to_c, warm, corners)
        latent = ice * _fusion(to_c) - before * _fusion(warm) + FUSION_BY_C * on_the_way
        below = _integral(lambda at: capacity_kj_k(body, at, _ice(body, at)), to_c, warm, corners)
        return Heat(+cooling, latent / _THOUSAND, +below, ice - before)


def _begins(body: Body) -> Decimal | None:
    """Where it begins to freeze, in °C; without water it does not."""
    if not body.water_g:
        return Decimal(-273)
    if body.solution is None:
        return None
    depression = body.solution.depression()
    return None if depression is None else -depression


def _frozen(body: Body, at_c: Decimal) -> Decimal | None:
    if not body.water_g:
        return _NONE
    return None if body.solution is None else body.solution.frozen(at_c)


def _ice(body: Body, at_c: Decimal) -> Decimal:
    share = _frozen(body, at_c)
    assert share is not None, "warmer than where the method ends"
    return body.water_g * share


def _fusion(at_c: Decimal) -> Decimal:
    return FUSION_KJ_KG + FUSION_BY_C * at_c


def _value(polynomial: Polynomial, at_c: Decimal) -> Decimal:
    first, second, third = polynomial
    return first + at_c * (second + at_c * third)


def _integral(
    of: Callable[[Decimal], Decimal], low: Decimal, high: Decimal, corners: tuple[Decimal, ...]
) -> Decimal:
    """The integral over a temperature, smooth but at the corners."""
    total = _NONE
    ends = [low, *(one for one in corners if low < one < high), high]
    for start, stop in pairwise(ends):
        pieces = max(1, int((stop - start) / _LONGEST) + 1)
        half = (stop - start) / pieces / 2
        for piece in range(pieces):
            middle = start + half * (2 * piece + 1)
            total += half * sum(
                (weight * of(middle + half * node) for node, weight in _NODES), _NONE
            )
    return total
