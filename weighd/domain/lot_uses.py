"""What additions drew from lots: the rows that stock and traces are made of, out of acceptances."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.kinds import Kind
from weighd.domain.lot_splits import uses_of
from weighd.domain.record import Entry

_STEP = Decimal("1E-12")


@dataclass(frozen=True, slots=True)
class Use:
    """``g`` grams of a lot (empty: none was named) in one addition of a batch.

    ``u_g``        standard uncertainty of the addition's net.
    ``corrected``  another lot was named first.
    """

    batch: str
    addition: int
    lot: str
    ingredient: str
    g: Decimal
    u_g: Decimal
    corrected: bool = False


@dataclass(frozen=True, slots=True)
class Drawn:
    """All that was drawn from a lot; ``u2`` is the sum of the squares of the uncertainties."""

    g: Decimal = Decimal(0)
    u2: Decimal = Decimal(0)
    uses: int = 0

    def and_also(self, g: Decimal, u_g: Decimal) -> Drawn:
        """With one more use."""
        return Drawn(self.g + g, self.u2 + squared(u_g), self.uses + 1)

    def plus(self, other: Drawn) -> Drawn:
        """Both together."""
        return Drawn(self.g + other.g, self.u2 + other.u2, self.uses + other.uses)

    def without(self, g: Decimal, u_g: Decimal) -> Drawn:
        """With one use less."""
        return Drawn(self.g - g, self.u2 - squared(u_g), self.uses - 1)


def squared(u_g: Decimal) -> Decimal:
    """A square with as many decimals as a record can hold."""
    return mass.EXACT.multiply(u_g, u_g).quantize(_STEP)


def uses_in(entry: Entry) -> list[Use]:
    """What an entry drew, lot by lot; nothing where it is no acceptance, or cannot be read.

    These rows are for people and are drawn again at any time: they are no reason to refuse an
    entry.
    """
    body: Mapping[str, Any] = entry.body
    if entry.kind != Kind.ACCEPTED:
        return []
    try:
        u_g = mass.parse(body.get("u_g", "0"))
        return [
            Use(str(body["batch"]), int(body["addition"]), lot, str(body.get("ingredient")), g, u_g)
            for lot, g in uses_of({"lot": "", **body})
        ]
    except (AttributeError, KeyError, TypeError, ValueError):
        return []


@dataclass(frozen=True, slots=True)
class Moved:
    """A use that was put down to another lot: ``was`` as it stood, and which part of the addition
    it is, from 0; ``lot`` is what it was taken from."""

    was: Use
    part: int
    lot: str


def moved_in(entry: Entry) -> Moved | None:
    """What a correction of a lot does; ``None`` for any other entry, or one that cannot be read."""
    body: Mapping[str, Any] = entry.body
    if entry.kind != Kind.CORRECTED:
        return None
    try:
        drew = body["drew"]
        was = Use(
            str(body["batch"]),
            int(drew["addition"]),
            str(body["old"]),
            str(drew["ingredient"]),
            mass.parse(drew["g"]),
            mass.parse(drew["u_g"]),
            corrected=True,
        )
        return Moved(was, int(drew["part"]) - 1, str(body["new"]))
    except (AttributeError, KeyError, TypeError, ValueError):
        return None


def drawn_by(entries: Iterable[Entry]) -> Iterator[Use]:
    """What entries drew, in their order, each from the lot that stands for it now."""
    found: dict[tuple[str, int, int], Use] = {}
    for entry in entries:
        for part, one in enumerate(uses_in(entry)):
            found[one.batch, one.addition, part] = one
        moved = moved_in(entry)
        at = (moved.was.batch, moved.was.addition, moved.part) if moved else None
        if moved is not None and at in found:
            found[at] = replace(found[at], lot=moved.lot, corrected=True)
    yield from found.values()
