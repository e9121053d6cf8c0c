"""What can be done about a pour that went wrong: what is asked, read; and every way, drawn.

Masses are decimal strings in grams, to 0.1 g where they are reckoned; percentages to 0.01 points,
temperatures to 0.01 °C. ``change`` of a way is what the command ``put right`` takes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.addition import Now
from weighd.domain.as_weighed import planned_formula
from weighd.domain.batch import Batch, Cause, Planned
from weighd.domain.errors import OperatorError
from weighd.domain.facts import Facts
from weighd.domain.facts_text import number
from weighd.domain.formula import LARGEST_G, Ingredient
from weighd.domain.headroom import load_of
from weighd.domain.limits import Limit, ProductClass
from weighd.domain.lots import LotBook
from weighd.domain.problem import Solver
from weighd.domain.recovery import State, Trouble, Way, state_of
from weighd.domain.recovery_coming import with_others
from weighd.domain.recovery_effects import SERVED_C, STATUS, Effect
from weighd.domain.recovery_options import Asked, Option, Options, options
from weighd.domain.recovery_ranges import Mix
from weighd.domain.recovery_search import Allowed
from weighd.station.composing import read_temperature
from weighd.station.on_hand import draw_on_hand, reckoned
from weighd.station.recovering_words import reason_for
from weighd.station.solving_words import sentence

_TENTH, _CENTI = Decimal("0.1"), Decimal("0.01")
_NONE = Decimal(0)
_MOST_NAMED = 50
#: What may always be put in: water, which is what it says (100 g in 100 g).
WATER = Ingredient("water", "Water", facts=Facts((("water", Decimal(100)),), ()))
#: Which command of a batch carries a way through; ``put right`` for the others.
COMMANDS = {Way.TAKE_OUT: "take out", Way.DISCARD: "abandon"}


@dataclass(frozen=True, slots=True)
class Query:
    """What is asked, as it was written; empty where nothing was said.

    ``cause``    what went wrong; ``was`` the id of a wrong ingredient.
    ``net_g``    how much of the pour is in, where no scale says so.
    ``dry``      ``yes`` or ``no``: whether it can be taken out.
    ``holds_g``  the most that the bowl takes; ``on_hand`` what is left, like ``sucrose:120``.
    ``add``      ids of what may be put in besides.
    ``at``       the temperature it is eaten at; ``kind`` the class of product.
    """

    cause: str = ""
    was: str = ""
    net_g: str = ""
    dry: str = ""
    holds_g: str = ""
    on_hand: str = ""
    add: str = ""
    at: str = ""
    kind: str = ""


@dataclass(frozen=True, slots=True)
class There:
    """What stands there: grams of the pour in the bowl, and the load of the scale, if known.

    ``book``  the lots that are booked in, and what day it is; ``None`` where nothing is known.
    """

    net_g: Decimal | None = None
    load_g: Decimal | None = None
    book: tuple[LotBook, str] | None = None


def standing(batch: Batch, now: Now, book: tuple[LotBook, str] | None = None) -> There:
    """What the scale of the current addition shows of it."""
    net = now.claim.net_g if now.claim else now.sum_g
    load = None if now.gross_g is None else load_of(batch, now.gross_g)
    return There(net, load, book)


def recovered(
    batch: Batch,
    there: There,
    query: Query,
    pool: Mapping[str, Ingredient],
    kinds: Mapping[str, ProductClass],
    prices: Mapping[str, Decimal],
    solver: Solver,
) -> dict[str, Any]:
    """Every way to put it right, as JSON values, the best first.

    ``pool``  the ingredients that are known, by id.
    Raises :class:`OperatorError`: ``bad-recovery`` naming the field, ``unknown-ingredient``,
    ``nothing-wrong``, and what :func:`~weighd.domain.recovery.state_of` does.
    """
    if batch.current is None:
        raise OperatorError("no-open-batch", "This batch is over; nothing is being weighed.")
    known = {**pool, **_own(batch)}
    net = _net(batch, there, query)
    cause = _cause(batch, net, query)
    was = _named(known, query.was, "was") if cause is Trouble.WRONG and query.was else None
    state = state_of(batch, cause, net, was)
    extras, stock = _extras(state, query, known), reckoned(state, there.book, _stock(query, known))
    grams = {name: one.grams for name, one in stock.items()}
    asked = Asked(
        dry=_yes(query.dry),
        allowed=Allowed(extras, grams),
        holds_g=_grams(query.holds_g, "bowl_holds_g"),
        load_g=there.load_g,
        kind=query.kind or str(batch.formula["content"].get("kind", "")),
        served_c=read_temperature(query.at) if query.at else SERVED_C,
        prices=prices,
    )
    drawn = draw(options(state, asked, kinds, solver), asked)
    these = (*(one.ingredient for one in state.stuffs.values()), *extras)
    return {**drawn, "on_hand": draw_on_hand(stock, these)}


def _own(batch: Batch) -> dict[str, Ingredient]:
    """The formula's ingredients as the batch keeps them."""
    return {one.ingredient.id: one.ingredient for one in planned_formula(batch).additions}


def _net(batch: Batch, there: There, query: Query) -> Decimal:
    given = _grams(query.net_g, "net_g", zero=True)
    if there.net_g is not None:
        return there.net_g
    if given is not None:
        return given
    if batch.held is not None and batch.held.sum_g is not None:
        return batch.held.sum_g
    return _NONE


def _cause(batch: Batch, net: Decimal, query: Query) -> Trouble:
    if query.cause:
        try:
            cause = Trouble(query.cause)
        except ValueError:
            raise _bad("cause", query.cause, f"Give one of: {', '.join(Trouble)}.") from None
    elif query.was:
        cause = Trouble.WRONG
    elif batch.held is not None and batch.held.cause is Cause.SHORT:
        cause = Trouble.RAN_OUT
    else:
        cause = Trouble.OVER
    current = batch.current
    assert current is not None
    if cause is Trouble.OVER and net <= current.high_g:
        raise OperatorError(
            "nothing-wrong",
            f"{mass.text(net)} g of {current.name} are in, and up to {mass.text(current.high_g)} g "
            "are allowed.",
            where=f"addition {current.n}",
            remedy="Say what went wrong: it ran out, or it was a wrong ingredient.",
        )
    if cause is Trouble.WRONG and not net:
        raise OperatorError(
            "nothing-wrong",
            "Nothing has been poured yet.",
            where=f"addition {current.n}",
        )
    return cause


def _extras(state: State, query: Query, known: Mapping[str, Ingredient]) -> tuple[Ingredient, ...]:
    """Water, what was named, and what may stand in for an ingredient that ran out."""
    names = [one.strip() for one in query.add.split(",") if one.strip()]
    if len(names) > _MOST_NAMED:
        raise _bad("add", query.add, f"Name {_MOST_NAMED} at most.")
    out = [_named(known, one, "add") for one in names]
    if state.trouble is Trouble.RAN_OUT:
        rules = state.stuffs[state.hand].ingredient.instead
        rules = rules or known.get(state.stuffs[state.hand].ingredient.id, WATER).instead
        out += [known[one.ingredient] for one in rules if one.ingredient in known]
    out.append(known.get(WATER.id, WATER))
    hand = state.stuffs[state.hand].ingredient.id
    return tuple(one for one in dict.fromkeys(out) if one.id != hand)


def _stock(query: Query, known: Mapping[str, Ingredient]) -> dict[str, Decimal]:
    out = {}
    for one in filter(None, (part.strip() for part in query.on_hand.split(","))):
        name, _, grams = one.rpartition(":")
        if not name:
            raise _bad("on_hand", one, "Write it like sucrose:120.")
        found = _grams(grams, "on_hand", zero=True)
        if found is None:
            raise _bad("on_hand", one, "Write it like sucrose:120.")
        out[_named(known, name, "on_hand").id] = found
    return out


def _named(known: Mapping[str, Ingredient], name: str, field: str) -> Ingredient:
    found = known.get(name) or (WATER if name == WATER.id else None)
    if found is None:
        raise OperatorError(
            "unknown-ingredient",
            f'There is no ingredient "{name[:80]}".',
            where=field,
            remedy="Name one of the formula or of the kitchen's list, by its id.",
        )
    return found


def _yes(text: str) -> bool | None:
    if text in ("", "yes", "no"):
        return None if not text else text == "yes"
    raise _bad("dry", text, "Say yes or no.")


def _grams(text: str, field: str, *, zero: bool = False) -> Decimal | None:
    if not text.strip():
        return None
    try:
        value = number(text)
    except ValueError:
        raise _bad(field, text, "Give grams, like 2400.") from None
    if value < 0 or (not zero and not value) or value > LARGEST_G:
        raise _bad(field, text, f"Give grams above 0 and up to {LARGEST_G}.")
    return value


def _bad(field: str, text: str, remedy: str) -> OperatorError:
    return OperatorError(
        "bad-recovery", f'"{text[:40]}" is not what can be said there.', where=field, remedy=remedy
    )


# --- drawn ----------------------------------------------------------------------------------------


def draw(found: Options, asked: Asked) -> dict[str, Any]:
    """All of it as JSON values."""
    state = found.state
    current, hand = state.current, state.stuffs[state.hand]
    taken = asked.dry if asked.dry is not None else (found.dry_said or (None, ""))[0]
    return {
        "batch": state.batch.id,
        "addition": current.n,
        "name": current.name,
        "cause": str(state.trouble),
        "net_g": mass.text(state.hand_g),
        "target_g": mass.text(current.target_g),
        "low_g": mass.text(current.low_g),
        "high_g": mass.text(current.high_g),
        "interval_g": mass.text(state.batch.scales[current.scale].interval_g),
        "was": _was(state) if state.trouble is Trouble.WRONG else None,
        "batch_g": _g(found.plan_g),
        "dry": {
            "asks": found.dry_asked,
            "taken": taken,
            "why": found.dry_said[1] if found.dry_said else "",
        },
        "serving_c": mass.text(asked.served_c),
        "words_from": STATUS,
        "limits": [_limit(one, found.plan) for one in found.limits],
        "no_limits_for": list(found.unknown),
        "in_it": hand.ingredient.name,
        "options": [_option(one, found) for one in found.ways],
    }


def _was(state: State) -> dict[str, Any]:
    hand = state.stuffs[state.hand]
    new = set(hand.ingredient.allergens) - set(state.batch.allergens)
    return {
        "ingredient": hand.ingredient.id,
        "name": hand.ingredient.name,
        "allergens": list(hand.ingredient.allergens),
        "new_allergens": sorted(new),
        "of_the_formula": bool(hand.plan_g),
    }


def _option(one: Option, found: Options) -> dict[str, Any]:
    state = found.state
    over = state.trouble is Trouble.OVER and one.way is Way.KEEP
    fight = one.fight
    return {
        "way": str(one.way),
        "goes": one.barred is None,
        "why_not": None
        if one.barred is None
        else {"code": one.barred.code, "text": one.barred.text},
        "asks_dry": one.asks,
        "command": "accept" if over else COMMANDS.get(one.way, "put right"),
        "reason": reason_for(one, state),
        "take_g": None
        if one.take_g is None
        else {"to_target": mass.text(one.take_g[0]), "to_limit": mass.text(one.take_g[1])},
        "becomes_g": _g(one.becomes_g) if one.becomes_g else None,
        "more_g": _g(one.becomes_g - found.plan_g) if one.becomes_g else None,
        "weighings": one.weighings,
        "exact": one.exact,
        "stays": one.stays,
        "todo": _todo(one, state),
        "broken": [_limit(each, one.mix) for each in one.broken],
        "effects": [_effect(each) for each in one.effects],
        "cost": None if one.cost is None else mass.text(mass.rounded(one.cost, _CENTI)),
        "fight": None if fight is None else sentence(fight.conflict, fight.wishes, fight.pool),
        "change": None
        if one.change is None or over or one.barred is not None
        else one.change.as_json(),
    }


def _todo(one: Option, state: State) -> list[dict[str, Any]]:
    """What is weighed otherwise than it was to be, in the order it is weighed."""
    if not one.additions or one.change is None or one.way is Way.START_AGAIN:
        return []
    stuffs = with_others(state, one.change).stuffs
    before = {it.amount: it for it in state.batch.additions[len(state.batch.accepted) :]}
    out, seen = [], set()
    for n, piece in enumerate(one.additions):
        of = piece.amount
        at_hand = n == 0 and of == state.hand and state.hand_g > 0
        seen.add(of)
        if at_hand:
            out.append(_piece("in", piece, piece.target_g - state.hand_g))
            continue
        was = before.get(of)
        if was is None or (of == state.hand and state.hand_g):
            kind = "top up" if stuffs[of].plan_g else "extra"
            out.append(_piece("rest" if was is not None else kind, piece, piece.target_g))
            continue
        more = piece.target_g - was.target_g
        if abs(more) >= _CENTI:
            out.append(_piece("more" if more > 0 else "less", piece, more))
    out += [
        _piece("left out", replace(it, target_g=_NONE), -it.target_g)
        for of, it in before.items()
        if of not in seen
    ]
    return out


def _piece(kind: str, piece: Planned, grams: Decimal) -> dict[str, Any]:
    return {
        "kind": kind,
        "ingredient": piece.ingredient,
        "name": piece.name,
        "grams": _g(grams),
        "target_g": mass.text(piece.target_g),
        "low_g": mass.text(piece.low_g),
        "high_g": mass.text(piece.high_g),
    }


def _limit(one: Limit, mix: Mix | None) -> dict[str, Any]:
    value = mix.value(one.of) if mix else None
    return {
        "of": list(one.of),
        "unit": one.unit,
        "value": None if value is None or not value.known else _two(value.low),
        "min": None if one.least is None else _two(one.least),
        "max": None if one.most is None else _two(one.most),
        "source": one.source,
    }


def _effect(one: Effect) -> dict[str, Any]:
    return {
        "of": one.of,
        "unit": one.unit,
        "before": None if one.before is None else _two(one.before),
        "after": None if one.after is None else _two(one.after),
        "word": None if one.word is None else str(one.word),
        "rule": one.rule,
    }


def _g(grams: Decimal) -> str:
    return mass.text(mass.rounded(grams, _TENTH))


def _two(value: Decimal) -> str:
    return mass.text(mass.rounded(value, _CENTI))


def pool_of(*those: Iterable[Ingredient]) -> dict[str, Ingredient]:
    """Ingredients by id; the later ones stand where an id is twice."""
    return {one.id: one for group in those for one in group}
