"""Putting a pour right that went wrong: what the batch is then to become.

1. Nothing comes out of the bowl that is dissolved in it: what is in, is in. A way to go on is a
   :class:`Change`: the whole amount that is wanted from now on of each ingredient.
2. What is still to be weighed follows from the change and the batch alone (``recovery_coming``), so
   a record of the change can be derived again.
3. An amount may take several weighings: what is in, what was just poured (*at hand*), what is still
   to come, and a top-up where none was to come any more. Its limits are those of the whole amount,
   by the formula's tolerance, less what is in.

What the formula does not call for (water put in to thin a mix, a wrong ingredient) is an amount
with a number beyond the formula's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import StrEnum
from typing import Any

from weighd.domain import facts as facts_of
from weighd.domain import mass
from weighd.domain.as_weighed import planned_formula
from weighd.domain.batch import Batch, Planned
from weighd.domain.errors import OperatorError
from weighd.domain.formula import FINEST, Ingredient, Tolerance, read_tolerance
from weighd.domain.plan_words import Role

_NONE = Decimal(0)


class Trouble(StrEnum):
    """What went wrong with the pour."""

    OVER = "over"
    RAN_OUT = "ran out"
    WRONG = "wrong ingredient"


class Way(StrEnum):
    """What can be done about it."""

    TAKE_OUT = "take out"
    START_AGAIN = "start again"
    ANOTHER_LOT = "another lot"
    ENLARGE = "enlarge"
    SHRINK = "shrink"
    REBALANCE = "smallest addition"
    LESS = "less of the rest"
    LATER = "weigh the rest later"
    KEEP = "keep"
    DISCARD = "discard"


@dataclass(frozen=True, slots=True)
class Stuff:
    """One amount of the batch; masses in grams.

    ``plan_g``   by the formula at the batch's size; nothing for what it does not call for.
    ``goal_g``   what is wanted of it in all, as things stand.
    ``in_g``     what was accepted; ``hand_g`` what was just poured and is in as well.
    ``coming``   whether a weighing of it is still to come besides the one at hand.
    ``like``     a weighing of it, where there is or was one.
    """

    of: int
    ingredient: Ingredient
    tolerance: Tolerance
    plan_g: Decimal
    goal_g: Decimal
    in_g: Decimal
    hand_g: Decimal = _NONE
    coming: bool = False
    like: Planned | None = None

    @property
    def there_g(self) -> Decimal:
        """What is in the bowl of it."""
        return self.in_g + self.hand_g

    def lacks(self, goal_g: Decimal) -> bool:
        """Whether it is short of a goal by more than its tolerance allows."""
        return self.there_g < self.tolerance.band(goal_g)[0]


@dataclass(frozen=True, slots=True)
class State:
    """A batch at the moment a pour went wrong.

    ``stuffs``  by number: the formula's, then others. ``hand``: the one that was poured.
    """

    batch: Batch
    current: Planned
    trouble: Trouble
    stuffs: Mapping[int, Stuff]
    hand: int

    @property
    def hand_g(self) -> Decimal:
        return self.stuffs[self.hand].hand_g

    @property
    def called(self) -> tuple[Stuff, ...]:
        """What the formula calls for."""
        return tuple(one for one in self.stuffs.values() if one.plan_g)

    @property
    def besides(self) -> tuple[Stuff, ...]:
        """What it does not, and is in."""
        return tuple(one for one in self.stuffs.values() if not one.plan_g and one.there_g)

    @property
    def goals(self) -> dict[int, Decimal]:
        """What is wanted of each as things stand, and never less than is in by mistake."""
        out = {of: one.goal_g for of, one in self.stuffs.items()}
        if self.trouble is not Trouble.RAN_OUT:
            out[self.hand] = max(out[self.hand], to_finest(self.stuffs[self.hand].there_g))
        return out


@dataclass(frozen=True, slots=True)
class Change:
    """What is done: the whole amount wanted of each ingredient from now on, in grams.

    ``rests_on_g``  what was at hand when it was worked out.
    ``was``         of a wrong ingredient, what it is; else ``None``.
    ``others``      what the batch gets that its formula does not call for, by number.
    ``keeps``       limits that the mix is said to keep by it, as JSON values (``recovery_ranges``).
    """

    trouble: Trouble
    way: Way
    rests_on_g: Decimal
    wholes: Mapping[int, Decimal]
    was: Ingredient | None = None
    others: Mapping[int, Ingredient] = field(default_factory=dict)
    keeps: tuple[Mapping[str, Any], ...] = ()

    def as_json(self) -> dict[str, Any]:
        """As a command carries it and a record keeps it."""
        return {
            "cause": str(self.trouble),
            "way": str(self.way),
            "rests_on_g": mass.text(self.rests_on_g),
            "wholes": [
                {"of": of, "target_g": mass.text(grams)}
                for of, grams in sorted(self.wholes.items())
            ],
            **({"was": content_of(self.was)} if self.was else {}),
            **(
                {"others": [{"of": of, **content_of(it)} for of, it in sorted(self.others.items())]}
                if self.others
                else {}
            ),
            **({"keeps": [dict(one) for one in self.keeps]} if self.keeps else {}),
        }


def change_of(body: Mapping[str, Any]) -> Change:
    """The inverse of :meth:`Change.as_json`.

    Raises ``KeyError``, ``TypeError`` or ``ValueError`` for what is none.
    """
    return Change(
        Trouble(body["cause"]),
        Way(body["way"]),
        mass.parse(body["rests_on_g"]),
        {_number(one["of"]): mass.parse(one["target_g"]) for one in body["wholes"]},
        ingredient_of(body["was"]) if "was" in body else None,
        {_number(one["of"]): ingredient_of(one) for one in body.get("others", ())},
        tuple(dict(one) for one in body.get("keeps", ())),
    )


def _number(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise ValueError(f"{value!r} is not the number of an amount")
    return value


def content_of(one: Ingredient) -> dict[str, Any]:
    """An ingredient as a record keeps it: what it is, not what it costs."""
    return {
        "ingredient": one.id,
        "name": one.name,
        "allergens": list(one.allergens),
        "caution": one.caution,
        **({"composition": one.facts.content()} if one.facts and one.facts.content() else {}),
    }


def ingredient_of(body: Mapping[str, Any]) -> Ingredient:
    """The inverse of :func:`content_of`. Raises ``KeyError``, ``TypeError`` or ``ValueError``."""
    name, allergens = body["name"], body["allergens"]
    texts = (body["ingredient"], name, body["caution"], *allergens)
    if isinstance(allergens, str) or not all(isinstance(one, str) for one in texts):
        raise TypeError("an ingredient's words are texts")
    return Ingredient(
        body["ingredient"],
        name,
        tuple(allergens),
        body["caution"],
        facts_of.from_content(body["composition"]) if "composition" in body else None,
    )


def state_of(
    batch: Batch, trouble: Trouble, net_g: Decimal, was: Ingredient | None = None
) -> State:
    """Where a batch stands, with ``net_g`` of the current addition's pour in the bowl.

    ``was``  what a wrong ingredient is.
    Raises :class:`OperatorError`: ``no-open-batch``, ``weighed-in-parts``, ``not-said-what``; and
    :class:`FormulaError` where the record keeps no formula that can be read.
    """
    current = batch.current
    if current is None:
        raise OperatorError("no-open-batch", "This batch is over; nothing is being weighed.")
    whole_only(batch)
    if trouble is Trouble.WRONG and was is None:
        raise OperatorError(
            "not-said-what",
            "It was not said what went in.",
            where="was",
            remedy="Name the ingredient that was poured.",
        )
    stuffs = _stuffs(batch)
    hand = current.amount
    if was is not None and trouble is Trouble.WRONG:
        hand = _number_of(stuffs, was, current.amount)
        if hand not in stuffs:
            stuffs[hand] = Stuff(hand, was, extra_tolerance(batch, current), _NONE, _NONE, _NONE)
    stuffs[hand] = replace(stuffs[hand], hand_g=net_g)
    return State(batch, current, trouble, stuffs, hand)


def whole_only(batch: Batch) -> None:
    """Raises :class:`OperatorError`, ``weighed-in-parts``, where an amount is not weighed whole."""
    for one in batch.additions:
        if one.step is not None and one.step.role is not Role.WHOLE:
            raise OperatorError(
                "weighed-in-parts",
                f"The {one.name} of this batch is weighed in parts or by a premix, and what is "
                "left of such an amount follows from what is in of it.",
                where=f"addition {one.n}",
                remedy="Take some out, keep it with a reason, or abandon the batch.",
            )


def _stuffs(batch: Batch) -> dict[int, Stuff]:
    formula, done = planned_formula(batch), len(batch.accepted)
    inside: dict[int, Decimal] = {}
    for planned, it in zip(batch.additions, batch.accepted, strict=False):
        inside[planned.amount] = inside.get(planned.amount, _NONE) + it.net_g
    coming = {one.amount for one in batch.additions[done + 1 :]}
    like = {one.amount: one for one in batch.additions}
    out = {
        of: Stuff(
            of,
            one.ingredient,
            one.tolerance,
            one.target_g,
            batch.wholes.get(of, one.target_g),
            inside.get(of, _NONE),
            coming=of in coming,
            like=like.get(of),
        )
        for of, one in enumerate(formula.additions, start=1)
    }
    for of, piece in sorted(like.items()):
        if of not in out:
            goal = batch.wholes.get(of, inside.get(of, _NONE))
            out[of] = Stuff(
                of,
                ingredient_of(batch.others[piece.ingredient]),
                read_tolerance(piece.tolerance),
                _NONE,
                goal,
                inside.get(of, _NONE),
                coming=of in coming,
                like=piece,
            )
    return out


def _number_of(stuffs: Mapping[int, Stuff], was: Ingredient, current: int) -> int:
    """The amount that a wrong ingredient is of: one of the formula's that is still to come, any
    other that has it, or a new one."""
    mine = [one for one in stuffs.values() if one.ingredient.id == was.id and one.of != current]
    for one in mine:
        if one.coming:
            return one.of
    return mine[0].of if mine else next_number(stuffs)


def next_number(stuffs: Mapping[int, Stuff]) -> int:
    """A number that no amount has yet."""
    return max(stuffs) + 1


def extra_tolerance(batch: Batch, current: Planned) -> Tolerance:
    """Limits for what the formula names none for: 2 %, and at least what the scale tells apart.

    Our own choice, no source.
    """
    interval = batch.scales[current.scale].interval_g
    least = mass.short(max(Decimal(1), 2 * interval), FINEST)
    return read_tolerance(f"2 %, at least {mass.text(least)} g")


def to_finest(grams: Decimal) -> Decimal:
    """As targets are rounded."""
    return mass.short(grams, FINEST)
