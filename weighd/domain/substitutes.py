"""Substitution rules: what may stand in for an ingredient, and at which ratio.

In an ingredient's table, ``[[ingredients.ID.instead]]`` has ``ingredient``, ``ratio`` (grams of it
for each gram of this one), ``note`` and ``source``. Rules may lead back to where they began (paste
by extract, extract by paste), as long as they do not contradict: round a circle the ratios multiply
to 1, within :data:`AGREE`. Circles of two are held to that one by one; larger ones, where several
cross, by one way round through the same ingredient for each rule, which finds every contradiction
that is larger than the rounding of ratios.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain.facts_text import Wrong, number
from weighd.domain.toml_text import Path

FIELD = "instead"
FIELDS = ("ingredient", "ratio", "note", "source")
#: How far the product of the ratios round a circle may be from 1.
AGREE = Decimal("0.01")
LEAST, MOST = Decimal("0.001"), Decimal(1000)
MOST_RULES = 20
_LONGEST = 300


@dataclass(frozen=True, slots=True)
class Substitute:
    """``ratio`` grams of ``ingredient`` (an id) stand in for each gram of what has this rule.

    ``source`` says where the ratio is from; empty where nobody said.
    """

    ingredient: str
    ratio: Decimal
    note: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A way round, by ids, whose first is also its last; ``product`` of its ratios is not 1.

    ``rule``  the ingredient whose rule closes it, and which of its rules that is, from 0.
    """

    way: tuple[str, ...]
    product: Decimal
    rule: tuple[str, int]

    def __str__(self) -> str:
        return (
            f"the rules contradict each other: by the ratios from {' to '.join(self.way)}, 1 g of "
            f"{self.way[0]} would be {self.product:.4g} g of itself"
        )


Rules = Mapping[str, Sequence[Substitute]]


def read_substitutes(table: Mapping[str, Any], path: Path, wrong: Wrong) -> tuple[Substitute, ...]:
    """The rules in an ingredient's table; ``path`` is the ingredient's.

    Raises what ``wrong`` makes, with the path of the field.
    """
    rows = table.get(FIELD, [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise wrong((*path, FIELD), '"instead" is a list: [[...instead]]', "bad-substitute")
    if len(rows) > MOST_RULES:
        raise wrong((*path, FIELD), f"more than {MOST_RULES} rules", "bad-substitute")
    out: list[Substitute] = []
    for n, row in enumerate(rows):
        one = _rule(row, (*path, FIELD, n), wrong)
        if one.ingredient == path[-1]:
            raise wrong(
                (*path, FIELD, n, "ingredient"),
                f'"{one.ingredient}" cannot stand in for itself',
                "bad-substitute",
            )
        if any(other.ingredient == one.ingredient for other in out):
            raise wrong(
                (*path, FIELD, n, "ingredient"),
                f'there are two rules for "{one.ingredient}"; keep one of them',
                "bad-substitute",
            )
        out.append(one)
    return tuple(out)


def written(rules: Iterable[Substitute]) -> list[dict[str, Any]]:
    """The tables that :func:`read_substitutes` reads as these rules; ratios stay ``Decimal``."""
    return [
        {
            "ingredient": one.ingredient,
            "ratio": one.ratio,
            **({"note": one.note} if one.note else {}),
            **({"source": one.source} if one.source else {}),
        }
        for one in rules
    ]


def contradiction(rules: Rules) -> Contradiction | None:
    """A way round whose ratios do not multiply to 1, if there is one."""
    steps = {
        (one, each.ingredient): (each.ratio, n)
        for one, many in rules.items()
        for n, each in enumerate(many)
        if each.ingredient in rules
    }
    for (one, other), (ratio, n) in steps.items():
        if (other, one) in steps:
            product = ratio * steps[other, one][0]
            if abs(product - 1) > AGREE:
                return Contradiction((one, other, one), product, (one, n))
    onward: dict[str, list[tuple[str, Decimal]]] = {}
    backward: dict[str, list[tuple[str, Decimal]]] = {}
    for (one, other), (ratio, _) in steps.items():
        onward.setdefault(one, []).append((other, ratio))
        backward.setdefault(other, []).append((one, ratio))
    done: set[str] = set()
    for root in rules:
        if root in done:
            continue
        out, back = _reach(root, onward), _reach(root, backward)
        group = set(out) & set(back)
        done |= group
        for (one, other), (ratio, n) in steps.items():
            if one in group and other in group:
                product = out[one][0] * ratio * back[other][0]
                if abs(product - 1) > AGREE:
                    way = (*out[one][1], *reversed(back[other][1]))
                    return Contradiction(way, product, (one, n))
    return None


def _reach(
    root: str, steps: Mapping[str, Sequence[tuple[str, Decimal]]]
) -> dict[str, tuple[Decimal, tuple[str, ...]]]:
    """The product of ratios along a shortest way from ``root`` to each that it reaches, and it."""
    out: dict[str, tuple[Decimal, tuple[str, ...]]] = {root: (Decimal(1), (root,))}
    queue = deque([root])
    while queue:
        here = queue.popleft()
        product, way = out[here]
        for there, ratio in steps.get(here, ()):
            if there not in out:
                out[there] = (product * ratio, (*way, there))
                queue.append(there)
    return out


def _rule(row: Mapping[str, Any], path: Path, wrong: Wrong) -> Substitute:
    for key in row:
        if key not in FIELDS:
            raise wrong(
                (*path, key),
                f'"{key}" is not a field here; the fields are {", ".join(FIELDS)}',
                "unknown-field",
            )
    texts = {}
    for key in ("ingredient", "note", "source"):
        value = row.get(key, "")
        if not isinstance(value, str) or len(value) > _LONGEST or not value.isprintable():
            raise wrong((*path, key), f'"{key}" must be a line of text in quotes', "bad-substitute")
        texts[key] = value.strip()
    if not texts["ingredient"]:
        raise wrong((*path, "ingredient"), '"ingredient" is missing or empty', "missing-field")
    if "ratio" not in row:
        raise wrong((*path, "ratio"), '"ratio" is missing', "missing-field")
    try:
        ratio = number(row["ratio"])
    except ValueError as error:
        raise wrong((*path, "ratio"), f'"ratio": {error}', "bad-substitute") from error
    if not LEAST <= ratio <= MOST:
        raise wrong(
            (*path, "ratio"), f'"ratio" is {ratio}; it is from {LEAST} to {MOST}', "bad-substitute"
        )
    return Substitute(texts["ingredient"], ratio, texts["note"], texts["source"])
