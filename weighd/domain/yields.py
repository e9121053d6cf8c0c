"""Yield: what came of a batch. Overrun, density with air, loss, and what a portion is.

1. *In* is what was weighed into the batch, over all weighings. *Drawn* is the mix in all draws, the
   pieces put in afterwards taken off. *Loss* is in less drawn less left over; what boiled away in
   heat treatment is part of it. It needs the weight of every draw.
2. The density of the mix without air is measured (mass and volume of some of it, the newest that
   stands) or else reckoned from the composition (``composition``), which says nothing of how well.
3. Overrun of a draw is by volume: its own, less its pieces', against that of its mix. By one and
   the same cup it is by weight, and needs no density. Formulas: ``overrun``. Ice takes more room
   than its water and counts as air does, as in every such number of the trade.
4. Uncertainties are those of scales and typed digits, by root sum of squares (GUM 5.1.2,
   clause from memory). A loss of no more than 2 u is none that can be told; a gain of more than
   2 u cannot be, and says that something was entered wrong.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Context, Decimal
from enum import StrEnum
from typing import Any

from weighd.domain import mass
from weighd.domain.as_weighed import Part
from weighd.domain.composition import compose
from weighd.domain.draws import Draw, Quantity
from weighd.domain.overrun import HUNDRED, by_volume, by_weight

_NONE = Decimal(0)
_CONTEXT = Context(prec=28)
K = Decimal(2)
_PERCENT, _GRAM, _DENSITY = Decimal("0.1"), Decimal("0.01"), Decimal("0.0001")
_HUNDREDTH = Decimal("0.01")
_U = Decimal("0.000001")


class How(StrEnum):
    """Where the density of the mix is from."""

    MEASURED = "measured"
    RECKONED = "reckoned from the composition"
    UNKNOWN = "not known"


class Told(StrEnum):
    """What may be said of a balance of masses."""

    LOSS = "loss"
    NONE = "none that can be told"
    GAIN = "more came out than went in"
    UNKNOWN = "not known"


@dataclass(frozen=True, slots=True)
class Density:
    """Of the mix without air, in g/mL; ``u`` is nothing where it was reckoned."""

    value: Decimal | None
    u: Decimal
    how: How


@dataclass(frozen=True, slots=True)
class Drawn:
    """What one draw comes to; ``None`` for what it does not say.

    ``overrun``    percent by volume; ``cup_overrun`` by weight of the same cup.
    ``air_g_ml``   density of the product with its air and its pieces.
    ``why``        why there is no overrun where there might be.
    """

    draw: Draw
    mix_g: Decimal | None
    overrun: Quantity | None
    cup_overrun: Quantity | None
    air_g_ml: Decimal | None
    why: str = ""

    @property
    def impossible(self) -> bool:
        """Whether it would be denser than its own mix, by more than weighing can explain."""
        found = (self.overrun, self.cup_overrun)
        return any(one is not None and one.value < -K * one.u for one in found)

    @property
    def disagrees(self) -> bool:
        """Whether overrun by volume and by cup differ by more than what was entered explains."""
        if self.overrun is None or self.cup_overrun is None:
            return False
        off = abs(self.overrun.value - self.cup_overrun.value)
        return off > K * _root((self.overrun.u, self.cup_overrun.u))


@dataclass(frozen=True, slots=True)
class Yield:
    """What a batch came to by all draws that stand; grams and mL. ``None`` for what is not known.

    ``overrun``  percent by volume over all draws, where each has weight and volume.
    """

    density: Density
    in_g: Quantity
    each: tuple[Drawn, ...]
    drawn_g: Quantity | None
    left_g: Quantity
    loss_g: Quantity | None
    product_g: Decimal | None
    product_ml: Decimal | None
    pieces_g: Decimal
    portions: int
    overrun: Quantity | None

    @property
    def told(self) -> Told:
        """What may be said of the loss."""
        if self.loss_g is None:
            return Told.UNKNOWN
        room = K * self.loss_g.u
        if self.loss_g.value > room:
            return Told.LOSS
        return Told.GAIN if self.loss_g.value < -room else Told.NONE

    @property
    def loss_percent(self) -> Decimal | None:
        """Of what went in."""
        return None if self.loss_g is None else self.loss_g.value / self.in_g.value * HUNDRED


def reckoned(parts: Sequence[Part], draws: Sequence[Draw]) -> Yield:
    """The yield of a batch of these parts by these draws.

    Raises ``ValueError`` where nothing went in.
    """
    density = density_of(parts, draws)
    amount = sum((one.in_g for one in parts), _NONE)
    if amount <= 0:
        raise ValueError("nothing went in")
    inside = Quantity(amount, _root(one.u_g for one in parts))
    each = tuple(drawn(one, density) for one in draws)
    out = [one for one in each if one.draw.is_drawn]
    mixes = [one.mix_g for one in out]
    weights = [one.draw.weight for one in out]
    pieces = [one.draw.pieces for one in each if one.draw.pieces is not None]
    left = [one.draw.left for one in each if one.draw.left is not None]
    left_g = Quantity(sum((one.value for one in left), _NONE), _root(one.u for one in left))
    drawn_g: Quantity | None = None
    if out and all(one is not None for one in mixes):
        total = sum((one for one in mixes if one is not None), _NONE)
        drawn_g = Quantity(
            total, _root((*(one.u for one in weights if one), *(one.u for one in pieces)))
        )
    loss_g: Quantity | None = None
    if drawn_g is not None:
        loss_g = Quantity(
            inside.value - drawn_g.value - left_g.value, _root((inside.u, drawn_g.u, left_g.u))
        )
    volumes = [one.draw.volume for one in out]
    return Yield(
        density,
        inside,
        each,
        drawn_g,
        left_g,
        loss_g,
        _sum(one.value if one else None for one in weights),
        _sum(one.value if one else None for one in volumes),
        sum((one.value for one in pieces), _NONE),
        sum(one.draw.portions or 0 for one in each),
        _by_volume([one.draw for one in out], density),
    )


def density_of(parts: Sequence[Part], draws: Sequence[Draw]) -> Density:
    """The density of the mix: as measured by the newest draw that says so, else as reckoned."""
    measured = [one.sample for one in draws if one.sample is not None]
    if measured:
        grams, volume = measured[-1]
        value = grams.value / volume.value
        u = value * _root((grams.u / grams.value, volume.u / volume.value))
        return Density(value.quantize(_DENSITY), u.quantize(_U), How.MEASURED)
    amounts = [(one.ingredient, one.in_g) for one in parts if one.in_g > 0]
    if amounts:
        found = compose(amounts).density_g_ml
        if found.known and found.low:
            return Density(found.low.quantize(_DENSITY), _NONE, How.RECKONED)
    return Density(None, _NONE, How.UNKNOWN)


def drawn(draw: Draw, density: Density) -> Drawn:
    """What one draw comes to."""
    weight, volume, pieces = draw.weight, draw.volume, draw.pieces
    mix_g = None
    if weight is not None:
        mix_g = weight.value - (pieces.value if pieces else _NONE)
    air = None
    if weight is not None and volume is not None:
        air = weight.value / volume.value
    cup = None if draw.cup is None else _of_cup(*draw.cup)
    overrun, why = _overrun(draw, density)
    return Drawn(draw, mix_g, overrun, cup, air, why)


def _overrun(draw: Draw, density: Density) -> tuple[Quantity | None, str]:
    """The overrun of one draw, or why there is none where there might be."""
    missing = [
        name for name, one in (("weight", draw.weight), ("volume", draw.volume)) if one is None
    ]
    if missing:
        return None, f"no {' and no '.join(missing)}" if draw.is_drawn else ""
    if density.value is None:
        return None, "the density of the mix is not known"
    if draw.pieces is not None and draw.pieces_g_ml is None:
        return None, "the density of the pieces is not known"
    return _by_volume((draw,), density), ""


def _by_volume(draws: Sequence[Draw], density: Density) -> Quantity | None:
    """Overrun over draws, each with its weight and volume: ``rho V / m - 1``, where ``V`` and ``m``
    are all volumes and masses less those of the pieces; what the density is off by, all share."""
    mix_g = mix_ml = _NONE
    for one in draws:
        if one.weight is None or one.volume is None:
            return None
        pieces_g = one.pieces.value if one.pieces else _NONE
        if one.pieces is not None and one.pieces_g_ml is None:
            return None
        mix_g += one.weight.value - pieces_g
        mix_ml += one.volume.value - (pieces_g / one.pieces_g_ml if one.pieces_g_ml else _NONE)
    if density.value is None or not draws:
        return None
    each, ratio = density.value / mix_g, mix_ml / mix_g
    moved = [ratio * density.u]
    for one in draws:
        assert one.weight is not None
        assert one.volume is not None
        moved += [each * one.volume.u, each * ratio * one.weight.u]
        if one.pieces is not None and one.pieces_g_ml is not None:
            moved.append(each * (ratio - 1 / one.pieces_g_ml) * one.pieces.u)
    found = by_volume(mix_g / density.value, mix_ml)
    return Quantity(found, _root(moved) * HUNDRED)


def _of_cup(mix: Quantity, product: Quantity) -> Quantity:
    found = by_weight(mix.value, product.value)
    ratio = mix.value / product.value
    return Quantity(found, ratio * HUNDRED * _root((mix.u / mix.value, product.u / product.value)))


def _sum(values: Iterable[Decimal | None]) -> Decimal | None:
    """All of them; ``None`` where one is missing, or there is none."""
    given = list(values)
    known = [one for one in given if one is not None]
    return sum(known, _NONE) if known and len(known) == len(given) else None


def _root(parts: Iterable[Decimal]) -> Decimal:
    return _CONTEXT.sqrt(sum((one * one for one in parts), _NONE))


# --- in the record ----------------------------------------------------------------------------


def found_as_json(it: Yield, draw: Draw) -> dict[str, Any]:
    """What an entry says that follows: of its own draw, and of all that stand with it."""
    own = next((one for one in it.each if one.draw is draw), None)
    loss = it.loss_percent
    return {
        "density_g_ml": _text(it.density.value, _DENSITY),
        "density": str(it.density.how),
        **({} if own is None else drawn_as_json(own)),
        "batch": {
            "in_g": _text(it.in_g.value, _GRAM),
            "in_u_g": _text(it.in_g.u, _U),
            "drawn_g": _text(it.drawn_g.value if it.drawn_g else None, _GRAM),
            "left_g": _text(it.left_g.value, _GRAM),
            "loss_g": _text(it.loss_g.value if it.loss_g else None, _GRAM),
            "loss_u_g": _text(it.loss_g.u if it.loss_g else None, _U),
            "loss_percent": _text(loss, _HUNDREDTH),
            "told": str(it.told),
            "product_g": _text(it.product_g, _GRAM),
            "product_ml": _text(it.product_ml, _GRAM),
            "portions": it.portions,
            "overrun_percent": _text(it.overrun.value if it.overrun else None, _PERCENT),
        },
    }


def drawn_as_json(one: Drawn) -> dict[str, str | None]:
    """What one draw comes to, as JSON values."""
    overrun, cup = one.overrun, one.cup_overrun
    return {
        "mix_g": _text(one.mix_g, _GRAM),
        "overrun_percent": _text(overrun.value if overrun else None, _PERCENT),
        "overrun_u_percent": _text(overrun.u if overrun else None, _HUNDREDTH),
        "cup_overrun_percent": _text(cup.value if cup else None, _PERCENT),
        "cup_overrun_u_percent": _text(cup.u if cup else None, _HUNDREDTH),
        "product_g_ml": _text(one.air_g_ml, _DENSITY),
    }


def _text(value: Decimal | None, step: Decimal) -> str | None:
    return None if value is None else mass.text(mass.rounded(value, step))
