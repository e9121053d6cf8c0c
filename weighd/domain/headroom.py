"""Whether a scale still holds what is to come, told before it overflows.

The load at the end of an addition is the vessel, what is in it, and the addition at its upper
limit. A margin is kept below the capacity Max: a stream pushes on the pan as it lands, and a hand
is late. The margin is 20 intervals or half a hundredth of Max, whichever is more (common practice,
no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from weighd.domain import mass
from weighd.domain.batch import Batch, Planned, Scale
from weighd.domain.plan_words import Into

_MARGIN_D = 20
_MARGIN_SHARE = Decimal("0.005")


def most_g(scale: Scale) -> Decimal | None:
    """The load in grams up to which a scale is planned with; ``None`` where Max is not known."""
    if scale.max_g is None:
        return None
    return scale.max_g - max(_MARGIN_D * scale.interval_g, _MARGIN_SHARE * scale.max_g)


@dataclass(frozen=True, slots=True)
class Full:
    """The addition ``n`` at whose end the load would be ``ends_g``, above ``most_g`` of ``max_g``.

    ``beyond``  whether its very target lies above Max, where no weight is shown any more.
    """

    n: int
    ends_g: Decimal
    most_g: Decimal
    max_g: Decimal
    beyond: bool

    def as_json(self) -> dict[str, object]:
        return {
            "addition": self.n,
            "ends_g": mass.text(self.ends_g),
            "most_g": mass.text(self.most_g),
            "max_g": mass.text(self.max_g),
            "beyond": self.beyond,
        }


def fills(additions: Sequence[Planned], scale: Scale, load_g: Decimal) -> Full | None:
    """The first of these additions that a scale with ``load_g`` grams on it cannot hold.

    The vessel is that of the first of them. What is weighed elsewhere, by difference or in a dish,
    and goes into it counts as well; each addition is in at its target, and the one that is looked
    at at its upper limit.
    """
    most, load = most_g(scale), load_g
    if most is None or scale.max_g is None or not additions:
        return None
    place = _place(additions[0])
    for one in additions:
        here = one.scale == scale.name and _place(one) == place and not one.by_difference
        ends = load + one.high_g
        if here and ends > most:
            return Full(one.n, ends, most, scale.max_g, load + one.target_g > scale.max_g)
        if here or (place[0] is Into.BOWL and (one.step is None or one.step.goes_in)):
            load += one.target_g
    return None


def _place(one: Planned) -> tuple[Into, int]:
    return one.step.place if one.step and not one.by_difference else (Into.BOWL, 0)


def load_of(batch: Batch, shown_g: Decimal) -> Decimal | None:
    """What rests on the current addition's scale, where its display shows ``shown_g`` grams.

    ``None`` where that is not known: its zero was taken with a vessel on it.
    """
    current, origin, tare = batch.current, batch.origin, batch.tare
    if current is None or tare is None or origin is None:
        return None
    return shown_g - tare.level.grams + origin.grams


def filling(batch: Batch, shown_g: Decimal, net_g: Decimal) -> Full | None:
    """The first addition from the current one on that its scale cannot hold with what stands there.

    ``net_g``  how much of the current one is in.
    """
    current, scale, load = batch.current, batch.scale, load_of(batch, shown_g)
    if current is None or scale is None or load is None or current.by_difference:
        return None
    return fills(batch.additions[current.n - 1 :], scale, load - max(net_g, Decimal(0)))
