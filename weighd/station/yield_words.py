"""The yield of a batch, told to people: lines of text from what was drawn."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from weighd.domain.yields import Told

_LOSS = {
    Told.LOSS: "lost",
    Told.NONE: "no loss that can be told",
    Told.GAIN: "more came out than went in: something was entered wrong",
    Told.UNKNOWN: "loss not known: it needs the weight of every draw",
}


def tell_yield(drawn: Mapping[str, Any]) -> list[str]:
    """The whole of it, a line each."""
    out = [f"Batch {drawn['batch']}, {drawn['name']}", ""]
    total, cost = drawn["total"], drawn["cost"]
    density = drawn["density_g_ml"]
    out.append(
        f"Mix without air: {density} g/mL, {drawn['density']}."
        if density
        else "The density of the mix is not known: it is neither measured nor to be reckoned."
    )
    if not drawn["draws"]:
        return [*out, "Nothing is recorded of what came out of it."]
    out += [tell_draw(one) for one in drawn["draws"]]
    out += [
        "",
        f"In: {total['in_g']} g; drawn: {_or(total['drawn_g'], 'g')} of mix; "
        + _loss(total, drawn["status"]),
    ]
    if total["overrun_percent"] is not None:
        out.append(
            f"Overrun in all: {total['overrun_percent']} % (u {total['overrun_u_percent']})."
        )
    if total["portion"]:
        each = [f"{one} {unit}" for unit, one in _units(total["portion"]) if one]
        of = f", {' or '.join(each)} each" if each else ""
        out.append(f"Portions: {total['portions']}{of}.")
    out += _costs(cost)
    out += [
        f"At most {one['overrun_percent']} % overrun keeps it at {one['least_g_ml']} kg/L "
        f"({one['class']}: {one['source']})."
        for one in drawn["ceilings"]
    ]
    return out


def tell_draw(one: Mapping[str, Any]) -> str:
    """One draw, in a line."""
    said = [_typed(one, key) for key in ("weight", "volume")]
    if "containers" in one:
        said.append(f"{one['containers']} containers")
    if "pieces" in one:
        said.append(f"{_typed(one, 'pieces')} of it pieces")
    if "left" in one:
        said.append(f"{_typed(one, 'left')} left over")
    if "sample" in one:
        said.append(
            f"{one['sample']['weight']['typed']} of mix fill {one['sample']['volume']['typed']}"
        )
    if "portions" in one:
        said.append(f"{one['portions']} portions")
    text = f"Draw {one['draw']}: " + ", ".join(each for each in said if each) + "."
    if one["overrun_percent"] is not None:
        text += f" Overrun {one['overrun_percent']} % (u {one['overrun_u_percent']})"
        text += f", {one['product_g_ml']} g/mL with air."
    elif one["why"]:
        text += f" No overrun: {one['why']}."
    if "cup" in one:
        text += (
            f" By the cup ({one['cup']['mix']['typed']} of mix, "
            f"{one['cup']['product']['typed']} of product): {one['cup_overrun_percent']} %."
        )
    if one["impossible"]:
        text += " It would be denser than its own mix: look at what was entered."
    if one["disagrees"]:
        text += " The two overruns do not agree: look at what was entered."
    return text


def _typed(one: Mapping[str, Any], key: str) -> str:
    if key not in one:
        return ""
    given = one[key]
    unit = "mL" if "ml" in given else "g"
    if "typed" in given:
        return str(given["typed"])
    weighed = " weighed" if key == "weight" else ""
    return f"{given[unit.lower()]} {unit}{weighed}"


def _units(portion: Mapping[str, Any]) -> list[tuple[str, Any]]:
    return [("g", portion["g"]), ("mL", portion["ml"])]


def _or(value: str | None, unit: str) -> str:
    return "not known" if value is None else f"{value} {unit}"


def _loss(total: Mapping[str, Any], status: str) -> str:
    told = Told(total["told"])
    said = "not drawn so far" if status == "in process" and told is Told.LOSS else _LOSS[told]
    left = f"left over: {total['left_g']} g; " if total["left_g"] != "0.00" else ""
    if total["loss_g"] is None:
        return f"{left}{_LOSS[told]}."
    amount = f"{total['loss_g']} g, {total['loss_percent']} %, u {float(total['loss_u_g']):.2f} g"
    return f"{left}{said} ({amount})."


def _costs(cost: Mapping[str, Any]) -> list[str]:
    if not cost["known"]:
        return ["No cost: a record keeps no prices, and none are known here."]
    since = f" (prices as they stand since {cost['date']})" if cost["date"] else ""
    said = [f"all of it {_money(cost['batch'])}"]
    if cost["per_portion"]:
        said.append(f"a portion {_money(cost['per_portion'])}")
    if cost["per_litre"]:
        said.append(f"a litre {_money(cost['per_litre'])}")
    pieces = " The pieces are not in it." if cost["pieces"] else ""
    return [f"Cost: {', '.join(said)}{since}.{pieces}"]


def _money(one: Mapping[str, Any]) -> str:
    if one["value"] is None:
        return "not known"
    if "at_most" not in one:
        return str(one["value"])
    return f"at least {one['value']}"
