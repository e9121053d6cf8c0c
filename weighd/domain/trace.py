"""From a lot to what it is in, and back to what is in it, through any depth.

1. What is made in a batch is a lot, and its code is the batch's. Where a later batch names that
   code as a lot, what went into the first is in the second.
2. Amounts are shares by mass. A batch is taken to be even, and to weigh what was weighed into it:
   of 400 g out of a base of 2000 g, a lot that had 50 g in the base has 10 g. What was lost on the
   way (steam, scraps) is not known here and not counted.
3. A lot that leads back to itself (only a mistyped code can) is walked once, and told.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from weighd.domain.lot_uses import Use

#: Uses of lots, or in batches, by their codes; in the order of the record.
Ask = Callable[[Sequence[str]], Sequence[Use]]
#: Grams of all that was weighed into each of these batches.
Masses = Callable[[Sequence[str]], Mapping[str, Decimal]]
_NOTHING = Decimal(0)
_STEP = Decimal("1E-6")


@dataclass(frozen=True, slots=True)
class Reached:
    """A batch that a lot got into.

    ``depth``    1 where it was weighed in itself, 2 where a lot made of it was, and so on.
    ``g``        grams of the lot in the batch; ``batch_g``, of everything weighed into it.
    ``through``  the lots it came by, each with grams of that lot weighed in here.
    ``corrected``  another lot was named first of some of it, and that was put right.
    """

    batch: str
    depth: int
    g: Decimal
    batch_g: Decimal
    through: tuple[tuple[str, Decimal], ...]
    corrected: bool = False

    @property
    def share(self) -> Decimal:
        """Grams of the lot in a gram of the batch."""
        return (self.g / self.batch_g).quantize(_STEP) if self.batch_g else _NOTHING


@dataclass(frozen=True, slots=True)
class Source:
    """A lot that is in a batch (or in what was made of lots that are).

    ``g``      grams of it in the batch that was asked about, by shares.
    ``depth``  1 where it was weighed into that batch itself.
    ``made``   it was itself made in a batch of this journal.
    """

    lot: str
    ingredient: str
    depth: int
    g: Decimal
    made: bool
    corrected: bool = False


@dataclass(slots=True)
class Trace:
    """Where a lot went, and what it was made of where it was made here."""

    lot: str
    forward: list[Reached] = field(default_factory=list)
    back: list[Source] = field(default_factory=list)
    uses: list[Use] = field(default_factory=list)
    circles: list[str] = field(default_factory=list)


def trace(lot: str, uses_of: Ask, uses_in: Ask, masses: Masses | None = None) -> Trace:
    """Trace a lot both ways.

    ``uses_of``: where lots went; ``uses_in``: what is in batches; ``masses``: only how much of it,
    for whoever can tell that sooner.
    """
    found = Trace(lot)
    _forward(found, uses_of, masses or (lambda batches: _sums(uses_in(batches))))
    _back(found, uses_in)
    found.circles = sorted(set(found.circles))
    return found


def _forward(found: Trace, uses_of: Ask, masses: Masses) -> None:
    depth: dict[str, int] = {}
    into: dict[str, list[Use]] = {}
    frontier, level = [found.lot], 0
    while frontier:
        level += 1
        uses = uses_of(frontier)
        if level == 1:
            found.uses = list(uses)
        for one in uses:
            depth.setdefault(one.batch, level)
            into.setdefault(one.batch, []).append(one)
        frontier = [name for name, at in depth.items() if at == level and name != found.lot]
    sums = masses(list(depth))
    order, circles = _in_order({name: {one.lot for one in uses} for name, uses in into.items()})
    found.circles += circles
    grams: dict[str, Decimal] = {}
    for name in order:
        total = _NOTHING
        for one in into[name]:
            total += one.g if one.lot == found.lot else _part(one.g, one.lot, grams, sums)
        grams[name] = total
    found.forward = sorted(
        (
            Reached(
                name,
                depth[name],
                grams[name].quantize(_STEP),
                sums[name],
                _by_lot(into[name]),
                any(one.corrected for one in into[name]),
            )
            for name in depth
        ),
        key=lambda one: (one.depth, one.batch),
    )


def _back(found: Trace, uses_in: Ask) -> None:
    """What the lot was made of: the shares of each batch, carried to what went into it."""
    into: dict[str, list[Use]] = {}
    depth = {found.lot: 0}
    frontier, level = [found.lot], 0
    while frontier:
        level += 1
        for one in uses_in(frontier):
            into.setdefault(one.batch, []).append(one)
            if one.lot:
                depth.setdefault(one.lot, level)
        frontier = [name for name, at in depth.items() if at == level]
    if not into:
        return
    sums = _sums(one for uses in into.values() for one in uses)
    # From the batch asked about down to what is in it: each comes after all that contain it.
    order, circles = _in_order({name: {one.lot for one in uses} for name, uses in into.items()})
    found.circles += circles
    grams = {found.lot: sums[found.lot]}
    totals: dict[tuple[str, str], Decimal] = {}
    for name in reversed(order):
        share = grams.get(name, _NOTHING)
        for one in into[name]:
            part = one.g * share / sums[name] if sums[name] else _NOTHING
            at = (one.lot, one.ingredient)
            totals[at] = totals.get(at, _NOTHING) + part
            if one.lot in into:
                grams[one.lot] = grams.get(one.lot, _NOTHING) + part
    levels = {
        (one.lot, one.ingredient): depth[name] + 1
        for name in sorted(into, key=lambda name: -depth[name])
        for one in into[name]
    }
    every = (one for uses in into.values() for one in uses)
    corrected = {(one.lot, one.ingredient) for one in every if one.corrected}
    found.back = sorted(
        (
            Source(
                lot,
                ingredient,
                levels[lot, ingredient],
                g.quantize(_STEP),
                lot in into,
                (lot, ingredient) in corrected,
            )
            for (lot, ingredient), g in totals.items()
        ),
        key=lambda one: (one.depth, one.lot, one.ingredient),
    )


def _part(
    g: Decimal, batch: str, grams: Mapping[str, Decimal], sums: Mapping[str, Decimal]
) -> Decimal:
    """Of ``g`` grams of what was made in a batch, those of the lot traced."""
    total = sums.get(batch, _NOTHING)
    return g * grams.get(batch, _NOTHING) / total if total else _NOTHING


def _sums(uses: Iterable[Use]) -> dict[str, Decimal]:
    out: dict[str, Decimal] = {}
    for one in uses:
        out[one.batch] = out.get(one.batch, _NOTHING) + one.g
    return out


def _by_lot(uses: Iterable[Use]) -> tuple[tuple[str, Decimal], ...]:
    out: dict[str, Decimal] = {}
    for one in uses:
        out[one.lot] = out.get(one.lot, _NOTHING) + one.g
    return tuple(out.items())


def _in_order(needs: Mapping[str, set[str]]) -> tuple[list[str], list[str]]:
    """Batches such that each comes after those whose lots are in it; and those in a circle, which
    come last as they stand."""
    waits = {name: {one for one in lots if one in needs} for name, lots in needs.items()}
    feeds: dict[str, list[str]] = {}
    for name, lots in waits.items():
        for lot in lots:
            feeds.setdefault(lot, []).append(name)
    ready = [name for name, lots in waits.items() if not lots]
    order: list[str] = []
    while ready:
        name = ready.pop()
        order.append(name)
        for other in feeds.get(name, ()):
            waits[other].discard(name)
            if not waits[other]:
                ready.append(other)
    circle = [name for name, lots in waits.items() if lots]
    return [*order, *circle], circle
