"""Ways to put a pour right, told to people on the command line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from typing import Any

from weighd.domain.recovery import State, Way
from weighd.domain.recovery_options import Option
from weighd.station.composing_words import quantity

_HEADS = {
    Way.TAKE_OUT: "Take it out again",
    Way.START_AGAIN: "Take all of it out, and tare anew",
    Way.ANOTHER_LOT: "Weigh the rest from another lot now",
    Way.ENLARGE: "Make the whole batch larger",
    Way.SHRINK: "Make the whole batch smaller",
    Way.REBALANCE: "Add the least that brings it back",
    Way.LESS: "Take less of what is still to come",
    Way.LATER: "Weigh the rest later",
    Way.KEEP: "Keep it as it is",
    Way.DISCARD: "Throw it away",
}
_TODO = {
    "in": "is in; pour on",
    "rest": "the rest:",
    "more": "more:",
    "less": "less:",
    "top up": "top up:",
    "extra": "put in besides:",
    "left out": "left out:",
}


def reason_for(one: Option, state: State) -> str:
    """Why a way stands where it does, in a sentence."""
    name = state.stuffs[state.hand].ingredient.name
    if one.barred is not None:
        return one.barred.text
    match one.way:
        case Way.TAKE_OUT | Way.START_AGAIN:
            return "Nothing else changes, as long as what comes out has not touched the rest."
        case Way.ANOTHER_LOT | Way.LATER:
            return "The mix and its size stay as planned; each lot stands in the record."
        case Way.ENLARGE:
            more = "it" if not one.weighings else f"it, with {_weighings(one.weighings)} more"
            return f"The mix is the formula's to the last digit, and there is more of {more}."
        case Way.SHRINK:
            return f"The mix is the formula's, and there is as much of it as the {name} allows."
        case Way.REBALANCE:
            return "The mix stays in its limits, with the least that has to be added."
        case Way.LESS:
            return "The mix stays in its limits, with what is still to come cut back."
        case Way.KEEP if one.stays:
            return "The mix stays in its limits all the same."
        case Way.KEEP if one.stays is None:
            return (
                "What it does to the mix is not known: the ingredients' compositions are missing."
            )
        case Way.KEEP:
            return "The mix leaves its limits: see what it will be like."
        case _:
            return "What was weighed is lost, and the batch ends here."


def _weighings(n: int) -> str:
    return "1 weighing" if n == 1 else f"{n} weighings"


def tell(drawn: Mapping[str, Any]) -> Iterator[str]:
    """The ways, the best first; after them what they were held to."""
    was = drawn["was"]
    head = f"Batch {drawn['batch']}, addition {drawn['addition']}, {drawn['name']}"
    yield f"{head}: {drawn['cause']}."
    if was is not None:
        yield f"{drawn['net_g']} g of {was['name']} went in."
        if was["new_allergens"]:
            yield f"ALLERGENS that this batch did not have: {', '.join(was['new_allergens'])}."
    else:
        yield (
            f"{drawn['net_g']} g are in, where {drawn['target_g']} g were wanted "
            f"({drawn['low_g']} to {drawn['high_g']} g)."
        )
    dry = drawn["dry"]
    if dry["asks"] and dry["taken"] is None:
        yield "Does it lie dry on top, so that it can be taken out? Say --dry yes or --dry no."
    elif dry["why"]:
        yield f"It can{'' if dry['taken'] else 'not'} be taken out: {dry['why']}."
    for n, one in enumerate(drawn["options"], start=1):
        yield ""
        yield from _way(n, one, drawn["interval_g"])
    if drawn["on_hand"]:
        yield ""
        yield "Reckoned to be there:"
        for each in drawn["on_hand"]:
            yield f"  {_there(each)}"
    yield ""
    yield "Held to:"
    for limit in drawn["limits"]:
        yield f"  {_range(limit)} ({limit['source']})"
    if drawn["no_limits_for"]:
        yield f"  not known, and so not held to: {', '.join(drawn['no_limits_for'])}"
    yield f"Words of taste and texture: {drawn['words_from']}."


def _there(one: Mapping[str, Any]) -> str:
    """What was reckoned to be there of an ingredient."""
    if one["by"] == "said":
        return f"{one['name']}: {one['grams']} g, as was said"
    if not one["lots"]:
        return f"{one['name']}: none in any lot that may be used"
    return f"{one['name']}: {one['grams']} g, by the books, in {', '.join(one['lots'])}"


def _taken(take: Mapping[str, str], interval_g: str) -> str:
    """What is to come out, as the scale can show it: finer nobody can take out."""
    step = Decimal(interval_g)
    target, least = Decimal(take["to_target"]), Decimal(take["to_limit"])
    about = (target / step).quantize(Decimal(1), ROUND_HALF_UP) * step
    up = (least / step).quantize(Decimal(1), ROUND_CEILING) * step
    return f"{about:f} g out; at least {(up if up <= target else least):f} g"


def _way(n: int, one: Mapping[str, Any], interval_g: str) -> Iterator[str]:
    mark = f"{n}." if one["goes"] else "-"
    yield f"{mark} {_HEADS[Way(one['way'])]}{'' if one['goes'] else ' (does not go)'}"
    yield f"   {one['reason']}"
    if one["take_g"]:
        yield f"   {_taken(one['take_g'], interval_g)}"
    if one["becomes_g"] and (one["goes"] or one["broken"]):
        more = Decimal(one["more_g"])
        sign = f", {'+' if more > 0 else ''}{one['more_g']} g" if more else ""
        near = "" if one["goes"] else "The nearest: "
        yield f"   {near}{one['becomes_g']} g{sign}; {_weighings(one['weighings'])} more"
    for each in one["todo"] if one["goes"] else ():
        if each["kind"] != "in" or Decimal(each["grams"]) > 0:
            yield f"     {each['name']} {_TODO[each['kind']]} {each['grams'].lstrip('-')} g"
    for each in one["broken"]:
        yield f"   outside: {_range(each)}"
    for each in one["effects"]:
        if each["word"]:
            yield (
                f"   {each['word']}: {each['of'].replace('_', ' ')} {each['before']} to "
                f"{each['after']} {each['unit']} ({each['rule']})"
            )
    if one["cost"] is not None:
        yield f"   costs {one['cost']} more, at today's prices"
    if one["fight"]:
        yield f"   {one['fight']}"


def _range(one: Mapping[str, Any]) -> str:
    ends = [("at least", one["min"]), ("at most", one["max"])]
    told = ", ".join(f"{word} {end}" for word, end in ends if end is not None)
    value = "" if one["value"] is None else f" {one['value']}"
    return f"{quantity(one['of'])}{value}: {told} {one['unit']}"
