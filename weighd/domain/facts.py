"""Facts of an ingredient: what 100 g of it hold, what it costs, how long it keeps.

1. The *parts* exclude each other and add up to 100 g: water, fat, milk solids-not-fat, whey solids,
   sugars by kind, stabiliser, other solids, alcohol, salt. ``of which`` values are inside parts.
2. A value that is missing is missing, never zero, with one exception that is arithmetic: where the
   stated parts add up to 100 g, nothing else can be in it.
3. What is stated must be possible: nothing below zero, no more than 100 g in 100 g.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.sugars import KINDS

#: Milk sugar inside the milk solids stands under ``msnf``; ``sugars.lactose`` is added lactose.
PARTS = (
    "water",
    "fat",
    "msnf",
    "whey_solids",
    "stabiliser",
    "other_solids",
    "alcohol",
    "salt",
)
SUGARS = "sugars"
#: Values inside parts: of the fat, of the milk solids, of all solids but fat, sugars and salt.
OF_WHICH = ("milk_fat", "lactose", "protein", "ash")
#: What each of those can be part of.
HOSTS = {
    "milk_fat": ("fat",),
    "lactose": ("msnf", "whey_solids"),
    "protein": ("msnf", "whey_solids", "stabiliser", "other_solids"),
    "ash": ("msnf", "whey_solids", "stabiliser", "other_solids"),
}
WHOLE = Decimal(100)
#: Printed tables add up to 100.05 g; labels, rounded to half a gram, to 99.5 g.
OVER, UNDER = Decimal("0.1"), Decimal("0.5")


class FactError(ValueError):
    """A fact that cannot be. ``field`` names it, as a path below the composition."""

    def __init__(self, field: tuple[str, ...], message: str) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known of an ingredient. Amounts are grams per 100 g.

    ``stated``  parts and values inside parts, as given; what is not here is missing.
    ``sugars``  each kind, or ``None`` where they are missing; a kind not named is none.
    ``density_g_ml``, ``cost_per_kg`` (in the user's own currency), ``shelf_life_days`` (in its own
    closed pack) and ``shelf_life_opened_days`` (from when that is opened) may be ``None``: missing.
    ``source`` says where the composition was taken from.
    """

    stated: tuple[tuple[str, Decimal], ...] = ()
    sugars: tuple[tuple[str, Decimal], ...] | None = None
    density_g_ml: Decimal | None = None
    cost_per_kg: Decimal | None = None
    supplier_code: str = ""
    shelf_life_days: int | None = None
    source: str = ""
    shelf_life_opened_days: int | None = None

    def content(self) -> dict[str, Any]:
        """Composition and density as JSON values: what a mix is, as a record keeps it."""
        out: dict[str, Any] = {key: _text(value) for key, value in self.stated}
        if self.sugars is not None:
            out[SUGARS] = {kind: _text(value) for kind, value in self.sugars}
        if self.density_g_ml is not None:
            out["density_g_ml"] = _text(self.density_g_ml)
        return out

    @property
    def parts_g(self) -> Decimal:
        """The sum of the stated parts in 100 g."""
        listed = sum((value for key, value in self.stated if key in PARTS), Decimal(0))
        return listed + sum((value for _, value in self.sugars or ()), Decimal(0))

    @property
    def left_g(self) -> Decimal:
        """How much of 100 g is in no stated part; 0 where that is no more than rounding."""
        left = WHOLE - self.parts_g
        return left if left > UNDER else Decimal(0)

    @property
    def missing(self) -> tuple[str, ...]:
        """The parts that are not stated and may be there."""
        if not self.left_g:
            return ()
        stated = dict(self.stated)
        out = tuple(part for part in PARTS if part not in stated)
        return (*out, SUGARS) if self.sugars is None else out


def from_content(content: Mapping[str, Any]) -> Facts:
    """The facts that :meth:`Facts.content` wrote. Raises ``ValueError`` where it did not."""
    rest = dict(content)
    density = rest.pop("density_g_ml", None)
    sugars = rest.pop(SUGARS, None)
    facts = Facts(
        tuple((key, mass.parse(value)) for key, value in rest.items()),
        None if sugars is None else tuple((k, mass.parse(v)) for k, v in sugars.items()),
        None if density is None else mass.parse(density),
    )
    if facts.density_g_ml is not None and facts.density_g_ml <= 0:
        raise FactError(("density_g_ml",), "a density is above zero")
    return checked(facts)


def checked(facts: Facts) -> Facts:
    """The same facts in the order of their names, if they can be. Raises :class:`FactError`."""
    stated = dict(facts.stated)
    for key, value in facts.stated:
        if key not in PARTS and key not in OF_WHICH:
            raise FactError((key,), f'"{key}" is not a part; the parts are {_names()}')
        _possible((key,), value)
    for kind, value in facts.sugars or ():
        if kind not in KINDS:
            raise FactError(
                (SUGARS, kind), f'"{kind}" is not a kind of sugar; the kinds are {", ".join(KINDS)}'
            )
        _possible((SUGARS, kind), value)
    total = facts.parts_g
    if total > WHOLE + OVER:
        raise FactError((), f"the parts add up to {total} g in 100 g")
    if facts.left_g and not facts.missing:
        raise FactError((), f"every part is given, and yet they add up to only {total} g in 100 g")
    for key, hosts in HOSTS.items():
        room = sum((stated.get(host, Decimal(0)) for host in hosts), Decimal(0))
        if not set(hosts) & set(facts.missing):
            _inside(stated, key, hosts, room)
    sugars = facts.sugars
    return Facts(
        tuple((key, stated[key]) for key in (*PARTS, *OF_WHICH) if key in stated),
        None if sugars is None else tuple((k, dict(sugars)[k]) for k in KINDS if k in dict(sugars)),
        facts.density_g_ml,
        facts.cost_per_kg,
        facts.supplier_code,
        facts.shelf_life_days,
        facts.source,
        facts.shelf_life_opened_days,
    )


def _text(value: Decimal) -> str:
    """The same number is always written the same: 3.30 as 3.3."""
    return mass.text(value.normalize())


def _possible(field: tuple[str, ...], value: Decimal) -> None:
    if not value.is_finite():
        raise FactError(field, f"{value} is not an amount")
    if value < 0:
        raise FactError(field, f"{value} is negative; an amount is zero or above")
    if value > WHOLE:
        raise FactError(field, f"{value} g do not fit into 100 g")


def _inside(stated: Mapping[str, Decimal], key: str, hosts: tuple[str, ...], room: Decimal) -> None:
    value = stated.get(key)
    if value is not None and value > room + OVER:
        raise FactError(
            (key,), f"{value} g of {key} are more than the {room} g of {', '.join(hosts)} it is in"
        )


def _names() -> str:
    return ", ".join((*PARTS, SUGARS, *OF_WHICH))
