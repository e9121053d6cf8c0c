"""The weighing plan: which scale and which vessel each amount is weighed on, and how often.

1. The batch is made in one *bowl*. It stands on a scale, and what is poured into it is weighed
   there; or an amount is weighed in a *dish* on some scale and tipped into the bowl.
2. The order is the formula's. Amounts that follow one another may share a dish, which is tipped in
   before anything else goes into the bowl.
3. An amount larger than a scale holds is *split* into parts, each a weighing of its own. All but
   the last are poured roughly; the last makes the whole exact (``shares``).
4. An amount that no scale can judge may be made as a *premix* (``premix``).
5. An amount weighed by difference has its own vessel on a scale; how heavy that is, is not known.
6. A scale is fit for an amount when it can hold it, with the vessel and what is in it and the room
   that is kept below Max (``headroom``), when the amount is not below its Min, and when it can
   judge the tolerance (``weighable``).

A *move* is what the hands do besides pouring: setting a vessel on a scale, tipping a dish into the
bowl, stirring a premix, and every weighing more than one for an amount. Of all plans the best is,
in this order: the fewest amounts that cannot be judged, those on the scale that comes nearest, the
fewest moves, the smallest share of its tolerance that the worst judged amount loses to the scale.
``plan_search`` finds it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.batch import Scale
from weighd.domain.formula import Formula
from weighd.domain.headroom import most_g
from weighd.domain.plan_words import Into, Role

_NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class Want:
    """One amount of a formula, at today's size; masses in grams.

    ``carrier``        the ingredient that it may be premixed with; empty for none.
    ``by_difference``  whether it is weighed by what leaves its own vessel.
    """

    n: int
    ingredient: str
    name: str
    target_g: Decimal
    low_g: Decimal
    high_g: Decimal
    tolerance: str
    carrier: str = ""
    by_difference: bool = False


@dataclass(frozen=True, slots=True)
class Vessels:
    """Masses of the empty vessels in grams, zero where not known, and what a dish takes."""

    bowl_g: Decimal = _NOTHING
    dish_g: Decimal = _NOTHING
    dish_holds_g: Decimal | None = None

    def dish_takes(self, scale: Scale, inside_g: Decimal) -> bool:
        """Whether a dish with so much in it neither runs over nor overfills the scale."""
        room = self.dish_room_g(scale)
        return room is None or inside_g <= room

    def bowl_takes(self, scale: Scale, inside_g: Decimal) -> bool:
        """Whether the bowl with so much in it does not overfill the scale."""
        room = self.bowl_room_g(scale, inside_g)
        return room is None or room >= 0

    def bowl_room_g(self, scale: Scale, inside_g: Decimal) -> Decimal | None:
        """How much more may go into the bowl on a scale; ``None`` for no limit known."""
        most = most_g(scale)
        return None if most is None else most - self.bowl_g - inside_g

    def dish_room_g(self, scale: Scale) -> Decimal | None:
        """How much may be in a dish on a scale; ``None`` for no limit known."""
        rooms = [] if self.dish_holds_g is None else [self.dish_holds_g]
        if (most := most_g(scale)) is not None:
            rooms.append(most - self.dish_g)
        return min(rooms, default=None)


@dataclass(frozen=True, slots=True)
class Weighing:
    """One weighing of a plan; masses in grams.

    ``of``      the number of the formula's addition it belongs to.
    ``vessel``  which dish or which premix, from 1; 0 for the bowl.
    ``share``   how much of its tolerance the scale takes up; above 1 nothing can be judged.
    ``fit``     whether the scale can judge it, and it is not below Min.
    """

    of: int
    name: str
    scale: str
    into: Into
    vessel: int
    target_g: Decimal
    low_g: Decimal
    high_g: Decimal
    share: Decimal
    fit: bool = True
    role: Role = Role.WHOLE
    part: int = 1
    parts: int = 1
    premix: int = 0


@dataclass(frozen=True, slots=True)
class Cost:
    """What a plan is judged by, in this order; the smaller, the better.

    ``share``  of the worst amount that is judged; the other figures add up.
    """

    unfit: int = 0
    unfit_share: Decimal = _NOTHING
    moves: int = 0
    share: Decimal = _NOTHING


@dataclass(frozen=True, slots=True)
class Premix:
    """A premix as planned; masses in grams.

    ``part_g`` of amount ``of`` in ``carrier_g`` of amount ``carrier_of``, both weighed on
    ``scale``; of that, ``taken_g`` hold the target, with ``shared_g`` of the carrier.
    ``u_g``      standard uncertainty of the target so weighed.
    ``alone_g``  the same on the best scale without a premix.
    """

    n: int
    of: int
    carrier_of: int
    scale: str
    part_g: Decimal
    carrier_g: Decimal
    taken_g: Decimal
    shared_g: Decimal
    u_g: Decimal
    alone_g: Decimal

    @property
    def mass_g(self) -> Decimal:
        return self.part_g + self.carrier_g

    @property
    def left_g(self) -> Decimal:
        """What remains of it, unused."""
        return self.mass_g - self.taken_g

    def as_json(self) -> dict[str, Any]:
        return {
            "premix": self.n,
            "of": self.of,
            "carrier_of": self.carrier_of,
            "scale": self.scale,
            "part_g": mass.text(self.part_g),
            "carrier_g": mass.text(self.carrier_g),
            "taken_g": mass.text(self.taken_g),
            "shared_g": mass.text(self.shared_g),
            "left_g": mass.text(self.left_g),
            "u_g": mass.text(self.u_g),
            "alone_u_g": mass.text(self.alone_g),
        }


@dataclass(frozen=True, slots=True)
class Shortfall:
    """An amount that no scale here can judge, and what would do.

    ``allowed_g``   how wide its tolerance is; ``finest_g`` the finest half-width that ``scale``,
                    the best here, can judge.
    ``interval_g``  the coarsest usual interval that would do (1, 2 or 5 times a power of ten).
    ``holds_g``     what such a scale has to hold besides a dish.
    ``premix``      a premix with a large other amount that would do, if the two mix evenly.
    """

    of: int
    name: str
    target_g: Decimal
    tolerance: str
    scale: str
    allowed_g: Decimal
    finest_g: Decimal
    interval_g: Decimal | None
    holds_g: Decimal
    below_min_g: Decimal | None = None
    premix: Premix | None = None

    def as_json(self) -> dict[str, Any]:
        return {
            "addition": self.of,
            "name": self.name,
            "target_g": mass.text(self.target_g),
            "tolerance": self.tolerance,
            "scale": self.scale,
            "allowed_g": mass.text(self.allowed_g),
            "finest_g": mass.text(self.finest_g),
            "interval_g": None if self.interval_g is None else mass.text(self.interval_g),
            "holds_g": mass.text(self.holds_g),
            "min_g": None if self.below_min_g is None else mass.text(self.below_min_g),
            "premix": None if self.premix is None else self.premix.as_json(),
        }


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole plan: what is weighed, in order, and what it costs."""

    weighings: tuple[Weighing, ...]
    cost: Cost
    vessels: Vessels = Vessels()
    premixes: tuple[Premix, ...] = ()
    shortfalls: tuple[Shortfall, ...] = ()

    @property
    def moves(self) -> int:
        return self.cost.moves

    @property
    def scales(self) -> tuple[str, ...]:
        """The scales it uses, in the order of their first use."""
        return tuple(dict.fromkeys(one.scale for one in self.weighings))

    @property
    def plain(self) -> bool:
        """Whether every amount is one weighing into the bowl on one and the same scale."""
        return len(self.scales) == 1 and all(
            one.into is Into.BOWL and one.role is Role.WHOLE for one in self.weighings
        )


def wants(formula: Formula) -> tuple[Want, ...]:
    """The amounts of a scaled formula."""
    out = []
    for n, one in enumerate(formula.additions, start=1):
        low, high = one.band
        out.append(
            Want(
                n,
                one.ingredient.id,
                one.ingredient.name,
                one.target_g,
                low,
                high,
                one.tolerance.text,
                "" if one.by_difference else one.carrier,
                one.by_difference,
            )
        )
    return tuple(out)


def carrier_of(wanted: Sequence[Want], one: Want) -> Want | None:
    """The largest other amount of the ingredient that ``one`` may be premixed with."""
    fit = [
        it
        for it in wanted
        if it.ingredient == one.carrier and it.n != one.n and not it.by_difference
    ]
    return max(fit, key=lambda it: it.target_g, default=None)
