"""What a mix is to keep when a pour is put right: bands around the plan, and limits of its class.

The bands are our own proposal, no source: they are about what one notices of a mix served beside
another, and can be given otherwise. A limit of the class counts where the plan itself keeps it.
What is not known of the plan, for want of facts, cannot be kept and is told so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.composition import Amount, Composition, compose
from weighd.domain.contents import row_of
from weighd.domain.facts_text import number
from weighd.domain.formula import Ingredient
from weighd.domain.freezing import Freezing, freezing
from weighd.domain.limits import Limit, ProductClass, Standing, judged, standing_of, value_of
from weighd.domain.recovery import Change, State
from weighd.domain.recovery_coming import with_others

PLAN = "our own proposal, no source: a band around the plan"
#: How far a mix may be from its plan: points of percent of the mass, and °C.
BANDS: Mapping[str, Decimal] = {
    "fat": Decimal("0.2"),
    "msnf": Decimal("0.3"),
    "sugars": Decimal("0.3"),
    "total_solids": Decimal("0.5"),
    "freezing_point": Decimal("0.1"),
}
#: Bands are kept to this, finer than anything that is shown.
_FINEST = Decimal("0.0001")
#: Sums that no limit is about.
_NOT_HELD = {"cost", "kcal", "kj", "volume_ml", "sweetness", "protein", "ash", "milk_fat"}
_NEEDS_AIR = ("density", "solids_per_litre")


@dataclass(frozen=True, slots=True)
class Mix:
    """What is, or would be, in the bowl."""

    mix: Composition
    frozen: Freezing

    def value(self, of: tuple[str, ...]) -> Amount | None:
        """A quantity of it, as a limit names it."""
        return value_of(of, self.mix, self.frozen, None)[0]


def mixed(amounts: Iterable[tuple[Ingredient, Decimal]]) -> Mix:
    """The mix of these amounts in grams. Raises ``ValueError`` where there is none."""
    mix = compose((one, grams) for one, grams in amounts if grams > 0)
    return Mix(mix, freezing(mix))


def planned_mix(state: State) -> Mix:
    """The mix that the formula asks for."""
    return mixed((one.ingredient, one.plan_g) for one in state.called)


def mix_of(state: State, change: Change, grams: Mapping[int, Decimal]) -> Mix:
    """The mix of so many grams of each amount, once a change is made."""
    stuffs = with_others(state, change).stuffs
    return mixed((stuffs[of].ingredient, one) for of, one in grams.items())


def wanted(
    plan: Mix,
    kinds: Mapping[str, ProductClass],
    kind: str,
    bands: Mapping[str, Decimal] = BANDS,
) -> tuple[list[Limit], list[str]]:
    """The limits to keep, and the quantities that have none for want of facts.

    ``kind``  the class of product; empty for none. Raises :class:`ConfigError` for an unknown one.
    """
    out, unknown = [], []
    for name, width in bands.items():
        value = plan.value((name,))
        if value is None or not value.known:
            unknown.append(name)
            continue
        low, high = value.low - width, value.low + width
        if name != "freezing_point":
            low = max(low, Decimal(0))
        out.append(Limit((name,), mass.rounded(low, _FINEST), mass.rounded(high, _FINEST), PLAN))
    out += [
        one.limit
        for one in judged(kinds, kind, plan.mix, plan.frozen)
        if one.standing is Standing.INSIDE and one.limit.of[0] not in _NEEDS_AIR
    ]
    return out, unknown


def is_known(one: Ingredient) -> bool:
    """Whether all is known that a mix is held to, so that it can be reckoned with."""
    return not {key for key, _ in row_of(one.facts).spread} - _NOT_HELD


def keeps(limit: Limit, mix: Mix) -> bool:
    """Whether a mix is known to keep a limit."""
    return standing_of(limit, mix.value(limit.of)) is Standing.INSIDE


def kept(limit: Limit, state: State, change: Change, grams: Mapping[int, Decimal]) -> bool:
    """Whether what a batch becomes by a change keeps a limit."""
    return keeps(limit, mix_of(state, change, grams))


def as_json(limits: Sequence[Limit]) -> tuple[dict[str, Any], ...]:
    """Limits as a record keeps them."""
    return tuple(
        {
            "of": list(one.of),
            "min": None if one.least is None else mass.text(one.least),
            "max": None if one.most is None else mass.text(one.most),
            "source": one.source,
        }
        for one in limits
    )


def ranges_of(rows: Iterable[Mapping[str, Any]]) -> list[Limit]:
    """The inverse of :func:`as_json`. Raises ``KeyError``, ``TypeError`` or ``ValueError``."""
    return [
        Limit(
            tuple(str(name) for name in row["of"]),
            None if row["min"] is None else number(row["min"]),
            None if row["max"] is None else number(row["max"]),
            str(row["source"]),
        )
        for row in rows
    ]
