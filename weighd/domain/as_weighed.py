"""What of a batch is in, and what is still to come: its amounts over all their weighings.

*As planned* is the formula kept with the batch, at the batch's size. *As weighed* is what is in,
over all weighings of an amount (``shares``), and what is still to come by its present target. What
that makes of the mix stands in ``against_plan``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain import facts as facts_of
from weighd.domain.batch import Batch, Planned, Status
from weighd.domain.formula import Formula, Ingredient, from_content
from weighd.domain.plan_words import Role
from weighd.domain.shares import as_weighed

_NONE = Decimal(0)


@dataclass(frozen=True, slots=True)
class Part:
    """One amount of a batch over all its weighings; masses in grams.

    ``planned_g`` is nothing for what the formula does not call for; ``u_g`` is that of ``in_g``.
    """

    of: int
    ingredient: Ingredient
    planned_g: Decimal
    in_g: Decimal
    u_g: Decimal
    to_come_g: Decimal

    @property
    def mass_g(self) -> Decimal:
        """What is in and still to come; nothing where that is below nothing."""
        return max(self.in_g + self.to_come_g, _NONE)


def planned_formula(batch: Batch) -> Formula:
    """The formula a batch is made by, at its size, as its record keeps it.

    Raises :class:`FormulaError` where the record keeps none that can be read.
    """
    return from_content(batch.formula["content"]).scaled(batch.batch_g)


def parts_of(batch: Batch) -> tuple[Part, ...]:
    """Every amount of a batch, those of the formula first and in its order.

    Nothing is to come where the batch was abandoned. Raises as :func:`planned_formula`.
    """
    formula = planned_formula(batch)
    accepted = batch.accepted
    inside = as_weighed(batch.additions, accepted)
    over = batch.status is Status.ABANDONED
    pending = () if over else batch.additions[len(accepted) :]
    known = {name: _from_record(it) for name, it in batch.others.items()}
    known |= {one.ingredient.id: one.ingredient for one in formula.additions}
    asked = dict(enumerate(formula.additions, start=1))
    named = {one.amount: one for one in batch.additions if one.step is None or one.step.goes_in}
    coming = _to_come(batch.additions, pending)
    out = []
    for of in sorted({*asked, *named}):
        ingredient = (
            asked[of].ingredient
            if of in asked
            else known.get(named[of].ingredient, Ingredient(named[of].ingredient, named[of].name))
        )
        found = inside.get(of)
        out.append(
            Part(
                of,
                ingredient,
                asked[of].target_g if of in asked else _NONE,
                found.net_g if found else _NONE,
                found.u_g if found else _NONE,
                coming.get(of, _NONE),
            )
        )
    return tuple(out)


def _from_record(body: Mapping[str, Any]) -> Ingredient:
    """What went in besides the formula, as the entry has it that put the batch right."""
    facts = facts_of.from_content(body["composition"]) if "composition" in body else None
    return Ingredient(body["ingredient"], body["name"], tuple(body["allergens"]), "", facts)


def _to_come(additions: Sequence[Planned], pending: Sequence[Planned]) -> Mapping[int, Decimal]:
    """What the weighings still to be made bring of each amount, in grams."""
    steps = [one.step for one in pending if one.step]
    mixing = {one.premix for one in steps if one.role is Role.FROM_PREMIX}
    resting = {one.premix for one in steps if one.role is Role.REST}
    carriers = {
        one.step.premix: one.amount
        for one in additions
        if one.step and one.step.role is Role.CARRIER
    }
    out: dict[int, Decimal] = defaultdict(Decimal)
    for one in pending:
        step = one.step
        if step is None or step.role in (Role.WHOLE, Role.PART):
            out[one.amount] += one.target_g
        elif step.role is Role.FROM_PREMIX:
            out[one.amount] += step.whole_g
            if step.premix not in resting:
                out[carriers[step.premix]] += one.target_g - step.whole_g
        elif step.role is Role.REST:
            # With what the premix brings of the carrier it is the whole, however that is mixed.
            out[one.amount] += step.whole_g if step.premix in mixing else one.target_g
    return out
