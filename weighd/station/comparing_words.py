"""A batch as weighed beside its plan, told to people: lines of text from what was drawn."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.against_plan import Told
from weighd.domain.limits import Standing
from weighd.station.composing_words import QUANTITIES

#: What quantities are called in a table.
NAMES = {
    **QUANTITIES,
    "mass": "mass",
    "sweetness": "sweetness, as sucrose",
    "freezing_point": "begins to freeze at",
    "cost": "cost of all of it",
    "cost_per_kg": "cost of a kilogram",
}
#: To how many decimals each is shown to people; 2 where it is not listed.
_DECIMALS = {"mass": "0.1", "frozen": "0.1"}
_TOLD = {
    Told.SAME: "no difference",
    Told.MORE: "more",
    Told.LESS: "less",
    Told.UNKNOWN: "cannot be told",
}
_HIGHER = {**_TOLD, Told.MORE: "higher", Told.LESS: "lower"}


def told_of(quantity: str) -> Mapping[Told, str]:
    """What may be said of a quantity, in words."""
    return _HIGHER if quantity == "freezing_point" else _TOLD


def tell_weighed(drawn: Mapping[str, Any]) -> list[str]:
    """The whole of it, a line each."""
    head = f"Batch {drawn['batch']}, {drawn['name']} (revision {drawn['revision']}): "
    out = [head + _state(drawn), "", _head()]
    out += [_row(one) for one in drawn["differences"]]
    out += ["", _doubt(drawn), *_limits(drawn), *_prices(drawn["prices"])]
    if drawn["missing"]:
        names = {one["ingredient"]: one["name"] for one in drawn["amounts"]}
        out += ["", "Missing, so that not all can be told:"]
        out += [
            f"  {names.get(ingredient, ingredient)}: {', '.join(facts)}"
            for ingredient, facts in drawn["missing"].items()
        ]
    return out


def _state(drawn: Mapping[str, Any]) -> str:
    inside = f"{_short(drawn['in_g'], '0.1')} g are in"
    if drawn["status"] == "abandoned":
        return f"abandoned; {inside}."
    if drawn["whole"]:
        return f"all is in, {_short(drawn['in_g'], '0.1')} g."
    return f"{inside}, {_short(drawn['to_come_g'], '0.1')} g are still to come as planned."


def _head() -> str:
    return f"{'':<28}{'as planned':>16}{'as weighed':>16}{'difference':>18}  {'± 2 u':>8}"


def _row(one: Mapping[str, Any]) -> str:
    step = step_of(one)
    name = NAMES.get(one["of"], one["of"].replace("_", " "))
    if "at_c" in one:
        name = f"ice at {one['at_c']} °C"
    unit = one["unit"].split(" ")[0] if one["unit"] != "a kg" else ""
    change = value_told(one["change"], step, sign=True)
    if one["told"] in (Told.MORE, Told.LESS) and not Decimal(change.split(" ")[0]):
        change = f"{'+' if one['told'] == Told.MORE else '-'}<{step}"
    u = "" if one["u"] is None else _sized(2 * Decimal(one["u"]), step)
    sides = [value_told(one[side], step) for side in ("planned", "weighed")]
    label = f"{name[:1].upper()}{name[1:]}" + (f", {unit}" if unit else "")
    told = told_of(one["of"])[Told(one["told"])]
    return f"{label:<28}{sides[0]:>16}{sides[1]:>16}{change:>18}  {u:>8}  {told}"


def step_of(one: Mapping[str, Any]) -> str:
    """What a row is rounded to: finer where a difference would be told by one digit alone."""
    step = Decimal(_DECIMALS.get(one["of"], "0.01"))
    real = one["told"] in (Told.MORE, Told.LESS)
    if real and one["change"] and abs(Decimal(one["change"]["value"])) < 10 * step:
        step /= 10
    return str(step)


def value_told(one: Mapping[str, Any] | None, step: str, *, sign: bool = False) -> str:
    """A value that was drawn, rounded to a step; with its sign where it is a change."""
    if one is None or one["value"] is None:
        return "not known"
    least, most = one["value"], one.get("at_most", one["value"])
    low = _signed(least, step) if sign else _short(least, step)
    if most is None:
        return f"{low} or more"
    high = _signed(most, step) if sign else _short(most, step)
    return low if low == high else f"{low} to {high}"


def _signed(text: str, step: str) -> str:
    short = _short(text, step)
    return short if short.startswith("-") or not Decimal(short) else f"+{short}"


def _sized(value: Decimal, step: str) -> str:
    """An uncertainty as fine as what it belongs to."""
    out = mass.rounded(value, Decimal(step))
    return mass.text(out) if out or not value else f"<{step}"


def _short(text: str, step: str) -> str:
    return mass.text(mass.rounded(Decimal(text), Decimal(step)))


def _doubt(drawn: Mapping[str, Any]) -> str:
    return (
        f"What is in is known to {_short(drawn['in_u_g'], '0.01')} g (standard uncertainty u). A "
        "difference of no more than 2 u is no difference. What the labels are uncertain by is the "
        "same on both sides and not counted."
    )


def _limits(drawn: Mapping[str, Any]) -> list[str]:
    out = []
    for one in drawn["limits"]:
        before, after = one["planned"]["standing"], one["weighed"]["standing"]
        if before == after == Standing.INSIDE:
            continue
        name = " and ".join(QUANTITIES.get(each, each) for each in one["of"])
        was = after if before == after else f"{after}, {before} as planned"
        value = value_told(one["weighed"]["value"], "0.01")
        why = f" ({one['weighed']['why']})" if one["weighed"]["why"] else ""
        out.append(
            f"{was[:1].upper()}{was[1:]}; {one['class']}: {name} {value}{why}, "
            f"usual {limit_asked(one)} [{one['source']}]"
        )
    if drawn["limits"]:
        inside = sum(one["weighed"]["standing"] == Standing.INSIDE for one in drawn["limits"])
        out.append(f"{inside} of {len(drawn['limits'])} limits are kept as weighed.")
    return out


def limit_asked(one: Mapping[str, Any]) -> str:
    """What a limit asks for, with its unit."""
    low, high = one["min"], one["max"]
    asked = f"{low} to {high}" if low and high else f"{low} or more" if low else f"{high} or less"
    return f"{asked} {one['unit']}"


def _prices(prices: Mapping[str, Any]) -> list[str]:
    if not prices["known"]:
        return ["No cost: a record keeps no prices, and none are known here."]
    since = f", as they stand since {prices['date']}" if prices["date"] else ""
    return [f"Cost is by today's prices of the ingredients{since}: a record keeps none."]
