"""Ways to put a pour right whose amounts follow from the batch alone, without a search.

*Enlarge*: every amount is wanted ``s`` times, ``s`` the largest quotient of what is in and what the
formula asks for, over all amounts that are above their tolerance. What is still to come grows by
it, what is in and lags behind is topped up: the composition is that of the formula, and there is
more of it. *Shrink*: the same with what is there of an ingredient that ran out, downwards.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from weighd.domain import mass
from weighd.domain.errors import RecordError
from weighd.domain.formula import FINEST, Ingredient
from weighd.domain.recovery import Change, State, Stuff, Trouble, Way, to_finest
from weighd.domain.recovery_coming import becomes, coming
from weighd.domain.recovery_ranges import kept, ranges_of

_NONE, _ONE = Decimal(0), Decimal(1)


@dataclass(frozen=True, slots=True)
class Barred:
    """Why a way does not go: a stable ``code``, and a sentence in a cook's words."""

    code: str
    text: str


def change(state: State, way: Way, wholes: Mapping[int, Decimal]) -> Change:
    """A change of a state; a wrong ingredient that the formula does not know comes with it."""
    hand = state.stuffs[state.hand]
    was = hand.ingredient if state.trouble is Trouble.WRONG else None
    others: dict[int, Ingredient] = {}
    if was is not None and not hand.plan_g and hand.like is None and way is not Way.START_AGAIN:
        others[hand.of] = was
    if way is Way.START_AGAIN:
        wholes = {}
    return Change(state.trouble, way, hand.hand_g, dict(wholes), was, others)


def scale_of(state: State) -> Decimal:
    """By how much the batch has to grow for what is in of it to be no more than it should be.

    At least 1; a rounded quotient.
    """
    s, _ = _largest(state)
    return s


def _largest(state: State) -> tuple[Decimal, Stuff | None]:
    s, largest = _ONE, None
    for one in state.called:
        ratio = one.there_g / one.plan_g
        if ratio > s and one.there_g > one.tolerance.band(one.plan_g)[1]:
            s, largest = ratio, one
    return s, largest


def enlarged(state: State) -> Change | Barred:
    """Everything in the proportions of the formula, with all that is in."""
    if state.trouble is Trouble.RAN_OUT:
        return Barred("ran-out", "There is none left to make more with.")
    if state.besides:
        names = " and ".join(one.ingredient.name for one in state.besides)
        return Barred(
            "not-of-the-formula",
            f"{names} is in, which the formula does not call for: no size makes that right.",
        )
    _, largest = _largest(state)
    wholes: dict[int, Decimal] = {}
    for of, one in state.stuffs.items():
        if largest is None or not one.plan_g:
            wholes[of] = one.plan_g
        else:
            wholes[of] = _times(one.plan_g, largest.there_g, largest.plan_g)
    if largest is None and state.trouble is Trouble.OVER:
        return Barred("not-over", "Nothing that is in is more than its tolerance allows.")
    return change(state, Way.ENLARGE, wholes)


def shrunk(state: State) -> Change | Barred:
    """Everything in the proportions of the formula, by what there is of what ran out."""
    short = state.stuffs[state.hand]
    name = short.ingredient.name
    if state.trouble is not Trouble.RAN_OUT:
        return Barred("did-not-run-out", "It did not run out.")
    if not short.plan_g or not short.there_g:
        return Barred("none-in", f"There is no {name} in it to make a batch of.")
    if state.besides:
        names = " and ".join(one.ingredient.name for one in state.besides)
        return Barred("not-of-the-formula", f"{names} is in, which the formula does not call for.")
    wholes = {}
    for of, one in state.stuffs.items():
        wholes[of] = _times(one.plan_g, short.there_g, short.plan_g) if one.plan_g else _NONE
    ahead = [
        one
        for one in state.called
        if one.there_g > max(one.tolerance.band(wholes[one.of])[1], wholes[one.of])
    ]
    if ahead:
        told = ", ".join(
            f"{mass.text(mass.rounded(one.there_g - wholes[one.of], Decimal('0.1')))} g of "
            f"{one.ingredient.name}"
            for one in ahead
        )
        return Barred("too-much-is-in", f"{told} too much would be in a batch of that size.")
    return change(state, Way.SHRINK, wholes)


def as_it_is(state: State, way: Way) -> Change | Barred:
    """Weigh on with what is wanted now: another lot, the rest later, kept, or started again."""
    hand, current = state.stuffs[state.hand], state.stuffs[state.current.amount]
    if way in (Way.ANOTHER_LOT, Way.LATER):
        if state.trouble is not Trouble.RAN_OUT:
            return Barred("did-not-run-out", "It did not run out.")
        if way is Way.LATER and not _others_to_come(state):
            return Barred("nothing-else-to-come", "Nothing else is to be weighed before it.")
        return change(state, way, state.goals)
    if way is Way.KEEP:
        wholes = state.goals
        if state.trouble is Trouble.RAN_OUT:
            wholes[hand.of] = to_finest(hand.there_g)
            if not hand.there_g and not _others_to_come(state):
                return Barred("nothing-else-to-come", "Nothing else is to be weighed.")
        return change(state, way, wholes)
    if state.trouble is not Trouble.WRONG:
        return Barred("not-wrong", "It is the right ingredient.")
    if current.like is not None and current.like.by_difference:
        return Barred(
            "not-in-this-vessel",
            "It was weighed by what left its container, and lies in a bowl that is on no scale.",
        )
    return change(state, Way.START_AGAIN, {})


def _others_to_come(state: State) -> bool:
    return len(state.batch.additions) > len(state.batch.accepted) + 1


def _times(plan_g: Decimal, there_g: Decimal, of_g: Decimal) -> Decimal:
    with_all = mass.EXACT.divide(mass.EXACT.multiply(plan_g, there_g), of_g)
    return to_finest(with_all)


def check(state: State, found: Change) -> None:
    """Whether a change follows from the state, whoever worked it out.

    The amounts of a search are not searched again: they must ask for no less than is in, and keep
    the limits that the change says they keep. Raises :class:`RecordError`, ``does-not-follow``.
    """
    due: Change | Barred
    if found.way in (Way.REBALANCE, Way.LESS):
        _rebalanced(state, found)
        return
    if found.way is Way.ENLARGE:
        due = enlarged(state)
    elif found.way is Way.SHRINK:
        due = shrunk(state)
    elif found.way in (Way.ANOTHER_LOT, Way.LATER, Way.KEEP, Way.START_AGAIN):
        due = as_it_is(state, found.way)
    else:
        raise _not(f'"{found.way}" changes no amounts')
    if isinstance(due, Barred):
        raise _not(due.text.rstrip("."))
    if due.as_json() != found.as_json():
        raise _not("the amounts are others than those of the batch give")


def _rebalanced(state: State, found: Change) -> None:
    known = set(state.stuffs) | set(found.others)
    if set(found.wholes) != known:
        raise _not("the amounts are not those of the batch")
    if set(found.others) - set(state.stuffs) - set(_new_numbers(state, found)):
        raise _not("what is put in besides is numbered otherwise")
    for of, one in state.stuffs.items():
        if of in found.others and found.others[of] != one.ingredient:
            raise _not(f"amount {of} is {one.ingredient.name}")
        least = mass.rounded(one.there_g, FINEST) - FINEST
        if found.wholes[of] < least:
            raise _not(f"of {one.ingredient.name} more is in than it asks for")
    for of, whole in found.wholes.items():
        if whole < 0 or (of not in state.stuffs and not whole):
            raise _not(f"amount {of} asks for nothing")
    hand = state.stuffs[state.hand]
    if state.trouble is Trouble.RAN_OUT and hand.lacks(found.wholes[hand.of]):
        raise _not(f"it asks for more {hand.ingredient.name}, which ran out")
    grams = becomes(state, found)
    broken = [one for one in ranges_of(found.keeps) if not kept(one, state, found, grams)]
    if broken:
        raise _not(f"the mix does not keep its limit of {' and '.join(broken[0].of)}")


def _new_numbers(state: State, found: Change) -> list[int]:
    new = sorted(set(found.others) - set(state.stuffs))
    start = max(state.stuffs) + 1
    return list(range(start, start + len(new)))


def _not(text: str) -> RecordError:
    return RecordError("does-not-follow", f"It does not follow from the batch: {text}.")


def weighings(state: State, found: Change) -> int:
    """How many weighings more a change takes than there would be."""
    left = len(state.batch.additions) - len(state.batch.accepted)
    return len(coming(state, found)) - left
