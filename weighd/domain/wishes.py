"""What is wished of a mix: limits of quantities, ends of amounts, a mass; made into problems.

Three of them, over the same unknowns, the grams of each ingredient:

hard      every wish holds;
nearest   a wish may be missed, and what is missed is kept least: a hundredth of a batch of fat too
          little weighs as much as a tenth of a degree of freezing point (:data:`UNIT`);
changed   every wish holds, and amounts change as little as can be.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from weighd.domain.limits import Limit
from weighd.domain.mix_lines import FREEZING, Rows, lines_of, mass_of, named, quotient_of, upper
from weighd.domain.mix_search import Mixing
from weighd.domain.problem import Line, Problem, Unknown, total

_NOTHING, _ONE = Decimal(0), Decimal(1)
BATCH = "the batch"
SHORT, PAST = "short of ", "past "
LITTLE, MUCH = "too little of ", "too much of "
UP, DOWN = "more of ", "less of "
#: What a miss of each quantity is counted in; of any other, in 1 %.
UNIT = {
    FREEZING: Decimal("0.1"),
    "density": Decimal("0.01"),
    "solids_per_litre": Decimal("0.01"),
}
#: A miss of an amount is counted in this share of the batch.
_OF_BATCH = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a mix shall be.

    ``rows``     what is in a gram of each ingredient;
    ``amounts``  the ends of each one's grams;
    ``limits``   of quantities, each ``of`` at most once;
    ``batch_g``  what all of it weighs, ``None`` for anything;
    ``overrun_percent``  for limits of what has air in it.
    """

    rows: Rows
    amounts: tuple[Unknown, ...]
    limits: tuple[Limit, ...] = ()
    batch_g: Decimal | None = None
    overrun_percent: Decimal | None = None

    @property
    def band(self) -> Limit | None:
        """The limit of the freezing point, if there is one."""
        return next((one for one in self.limits if one.of == (FREEZING,)), None)


def hard(wishes: Wishes, price: Mapping[str, Decimal] | None = None) -> Mixing:
    """Every wish holds, at the lowest ``price`` of the grams.

    Raises :class:`OperatorError`: ``needs-overrun``, ``facts-missing``.
    """
    lines = [
        line
        for one in wishes.limits
        if one.of != (FREEZING,)
        for line in lines_of(one, wishes.rows, wishes.overrun_percent)
    ]
    problem = Problem(wishes.amounts, (*_batch(wishes), *lines), price or {})
    return Mixing(problem, wishes.rows, wishes.band)


def nearest(
    wishes: Wishes, about: Mapping[str, Decimal] | None = None, *, amounts: bool = False
) -> Mixing:
    """The smallest sum of misses, each in its own unit.

    ``about``    grams to reckon units by, where what a quantity is divided by may vary;
    ``amounts``  the ends of amounts may be missed too, but for nothing.
    Its price is the sum of misses, in units. Raises as :func:`hard` does.
    """
    about = about or _even(wishes)
    unknowns, lines = list(wishes.amounts), list(_batch(wishes))
    price: dict[str, Decimal] = {}
    short = past = ""
    for one in wishes.limits:
        name = named(one.of)
        below = SHORT + name if one.least is not None else ""
        above = PAST + name if one.most is not None else ""
        if one.of == (FREEZING,):
            under = total(upper(wishes.rows, "water"), about)
            short, past = below, above
        else:
            under = total(
                quotient_of(one.of, wishes.rows, wishes.overrun_percent).under_high, about
            )
            lines += lines_of(one, wishes.rows, wishes.overrun_percent, short=below, past=above)
        for slack in filter(None, (below, above)):
            unknowns.append(Unknown(slack))
            price[slack] = _ONE / (UNIT.get(name, _ONE) * (under or _ONE))
    if amounts:
        loose, misses, costs = _loosened(wishes)
        unknowns = [*loose, *unknowns[len(wishes.amounts) :]]
        unknowns += [Unknown(name) for name in costs]
        lines += misses
        price |= costs
    problem = Problem(tuple(unknowns), tuple(lines), price)
    return Mixing(problem, wishes.rows, wishes.band, short, past)


def _loosened(wishes: Wishes) -> tuple[list[Unknown], list[Line], dict[str, Decimal]]:
    size = wishes.batch_g or sum(_even(wishes).values(), _NOTHING) or _ONE
    loose: list[Unknown] = []
    lines: list[Line] = []
    costs: dict[str, Decimal] = {}
    for one in wishes.amounts:
        loose.append(replace(one, least=min(one.least or _NOTHING, _NOTHING), most=None))
        # Not SHORT and PAST: salt is a quantity, and may be the name of an ingredient.
        short, past = LITTLE + one.name, MUCH + one.name
        if one.least:
            lines.append(Line(short, {one.name: _ONE, short: _ONE}, one.least, None))
            costs[short] = _ONE / (size * _OF_BATCH)
        if one.most is not None:
            lines.append(Line(past, {one.name: _ONE, past: -_ONE}, None, one.most))
            costs[past] = _ONE / (size * _OF_BATCH)
    return loose, lines, costs


def changed(
    wishes: Wishes,
    present: Mapping[str, Decimal],
    weights: Mapping[str, Decimal] | None = None,
) -> Mixing:
    """Every wish holds, and grams differ from the present ones by the least sum.

    ``weights``  what a gram of change counts, 1 where it is not said.
    Raises as :func:`hard` does.
    """
    one = hard(wishes)
    return replace(one, problem=least_change(one.problem, present, weights or {}))


def least_change(
    problem: Problem, present: Mapping[str, Decimal], weights: Mapping[str, Decimal]
) -> Problem:
    """The same problem, with the sum of changes of ``present`` for its price."""
    unknowns: list[Unknown] = []
    lines: list[Line] = []
    price: dict[str, Decimal] = {}
    for name, grams in present.items():
        up, down = UP + name, DOWN + name
        unknowns += [Unknown(up), Unknown(down)]
        lines.append(Line(f"change of {name}", {name: _ONE, up: -_ONE, down: _ONE}, grams, grams))
        price |= dict.fromkeys((up, down), weights.get(name, _ONE))
    return problem.also(*lines, unknowns=tuple(unknowns)).priced(price)


def _batch(wishes: Wishes) -> list[Line]:
    if wishes.batch_g is None:
        return []
    return [Line(BATCH, mass_of(wishes.rows), wishes.batch_g, wishes.batch_g)]


def _even(wishes: Wishes) -> dict[str, Decimal]:
    """As much of each, to reckon units by."""
    names = [one.name for one in wishes.amounts if one.name in wishes.rows]
    size = wishes.batch_g or Decimal(1000)
    return {name: size / len(names) for name in names}
