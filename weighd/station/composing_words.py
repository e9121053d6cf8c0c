"""A composition, told to people: lines of text from what :mod:`weighd.station.composing` drew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.limits import Limit, Standing
from weighd.domain.sugars import KINDS

_PARTS = {
    "water": "Water",
    "fat": "Fat",
    "msnf": "Milk solids-not-fat",
    "whey_solids": "Whey solids",
    "stabiliser": "Stabiliser",
    "other_solids": "Other solids",
    "alcohol": "Alcohol",
    "salt": "Salt",
}
_OF_WHICH = {
    "milk_fat": "of it milk fat",
    "lactose": "lactose, added and of milk",
    "protein": "protein",
    "ash": "ash but salt",
}
QUANTITIES = {
    **{key: name.lower() for key, name in _PARTS.items()},
    "milk_fat": "milk fat",
    "sugars": "sugars",
    "total_solids": "total solids",
    "lactose_in_water": "lactose",
    "msnf_in_serum": "milk solids-not-fat",
    "freezing_point": "freezing point",
    "density": "density",
    "solids_per_litre": "solids",
}


def quantity(of: Sequence[str]) -> str:
    """What a limit is of, in words: ``total solids``, or ``fat and milk solids-not-fat``."""
    kinds = {f"sugars.{kind}": one.name.lower() for kind, one in KINDS.items()}
    known = {**kinds, **QUANTITIES}
    return " and ".join(known.get(one, one.replace("_", " ")) for one in of)


def tell(drawn: Mapping[str, Any]) -> list[str]:
    """The whole of it, a line each."""
    out = [f"{drawn['name']} ({drawn['formula']}, revision {drawn['revision']})", ""]
    out += _rows(drawn)
    out += ["", *_figures(drawn), "", *_freezing(drawn["freezing"])]
    out += ["", *_limits(drawn["limits"], drawn["class"])]
    out += ["", drawn["allergen_statement"]]
    if drawn["missing"]:
        out += ["", "Missing, so that amounts are at least what they say:"]
        names = {one["ingredient"]: one["name"] for one in drawn["additions"]}
        out += [
            f"  {names[ingredient]}: {', '.join(facts)}"
            for ingredient, facts in drawn["missing"].items()
        ]
    if drawn["assumptions"]:
        out += ["", *drawn["assumptions"]]
    return out


def _rows(drawn: Mapping[str, Any]) -> list[str]:
    out = []
    parts, kinds = drawn["parts"], drawn["sugars"]["kinds"]
    for key, name in _PARTS.items():
        if _there(parts[key]):
            out.append(_row(name, parts[key]))
        if key == "fat" and _there(drawn["of_which"]["milk_fat"]):
            out.append(_row("  " + _OF_WHICH["milk_fat"], drawn["of_which"]["milk_fat"]))
        if key == "whey_solids" and _there(drawn["sugars"]):
            out.append(_row("Sugars", drawn["sugars"]))
            out += [_row(f"  {KINDS[kind].name}", one) for kind, one in kinds.items() if _sure(one)]
    out.append(_row("Sum", {"grams": drawn["mass_g"], "percent": "100.000"}))
    out.append(_row("Total solids", drawn["total_solids"]))
    inside = {key: drawn["of_which"][key] for key in ("lactose", "protein", "ash")}
    out += [_row(f"Inside: {_OF_WHICH[key]}", one) for key, one in inside.items() if _there(one)]
    return out


def _there(one: Mapping[str, Any]) -> bool:
    return "at_most" in one or Decimal(one["grams"]) > 0


def _sure(one: Mapping[str, Any]) -> bool:
    return Decimal(one["grams"]) > 0


def _row(name: str, one: Mapping[str, Any]) -> str:
    grams, percent = _short(one["grams"], "0.1"), _short(one["percent"], "0.01")
    most = one.get("at_most")
    if most and (_short(most["grams"], "0.1"), _short(most["percent"], "0.01")) == (grams, percent):
        most = None
    ahead = "at least " if most else ""
    text = f"{name:<40} {ahead:>9}{grams:>9} g {percent:>7} %"
    return f"{text}, at most {_short(most['percent'], '0.01')} %" if most else text


def _short(text: str | None, step: str) -> str:
    return "any" if text is None else mass.text(mass.rounded(Decimal(text), Decimal(step)))


def _value(one: Mapping[str, Any], unit: str) -> str:
    most = one.get("at_most", one["value"])
    if most == one["value"]:
        return f"{most} {unit}"
    return f"at least {one['value']} {unit}" + (f" and at most {most} {unit}" if most else "")


def _figures(drawn: Mapping[str, Any]) -> list[str]:
    sweet, energy, mix = drawn["sweetness"], drawn["energy_per_100_g"], drawn["mix"]
    sweetest = sweet.get("at_most", sweet)["percent"]
    sweetness = {"value": _short(sweet["percent"], "0.1"), "at_most": _short(sweetest, "0.1")}
    out = [
        f"Sweetness, as sucrose: {_value(sweetness, '%')}",
        f"Energy of 100 g: {_value(energy['kcal'], 'kcal')}, {_value(energy['kj'], 'kJ')}",
        f"Mix: {_value(mix['volume_ml'], 'mL')}, {_value(mix['density_g_ml'], 'g/mL')}",
    ]
    product = drawn["product"]
    if product:
        out.append(
            f"With {product['overrun_percent']} % overrun: {_value(product['volume_ml'], 'mL')}, "
            f"{_value(product['density_g_ml'], 'g/mL')}"
        )
    cost = drawn["cost"]
    if Decimal(cost["batch"]["value"]):
        out.append(f"Cost: {_value(cost['batch'], 'in all')}; {_value(cost['per_kg'], 'a kg')}")
        if product:
            out.append(f"  with the overrun {_value(product['cost_per_litre'], 'a litre')}")
    return out


def _freezing(drawn: Mapping[str, Any]) -> list[str]:
    start, lowest = drawn["begins_c"], drawn["begins_at_lowest_c"]
    if start is None:
        return ["Where it begins to freeze is not known: no water, or too much dissolved in it."]
    if start == lowest:
        out = [f"Begins to freeze at {start} °C"]
    elif lowest is None:
        out = [f"Begins to freeze at {start} °C or lower; how much lower is not known"]
    else:
        out = [f"Begins to freeze between {start} and {lowest} °C"]
    terms = {name.replace("_", " "): one for name, one in drawn["terms_c"].items() if Decimal(one)}
    if start == lowest:
        out[0] += " (" + ", ".join(f"{name} {one}" for name, one in terms.items()) + ")"
    out += [_ice(one, drawn["ends"]) for one in drawn["curve"]]
    if drawn["half_frozen_c"] and drawn["half_frozen_c"] == drawn["half_frozen_at_lowest_c"]:
        out.append(
            f"Half of the water is ice at {drawn['half_frozen_c']} °C; about there a mix gets too "
            "stiff to stir (McGee, On Food and Cooking)."
        )
    out.append(f"Method: {drawn['method']}.")
    return out


def _ice(one: Mapping[str, Any], ends: Mapping[str, Any] | None) -> str:
    least, most = one["frozen_percent"], one["at_most_percent"]
    head = f"  {one['at_c']:>5} °C  "
    if least is not None and least == most:
        return f"{head}{least:>5} % of the water is ice"
    if least is not None:
        most = f"to {most} %" if most else "% or more"
        return f"{head}{least:>5} {most} of the water is ice"
    beyond = "the method does not reach"
    if ends and one.get("more_than_percent"):
        return f"{head}more than {one['more_than_percent']} %: {beyond} below {ends['at_c']} °C"
    return f"{head}not known"


def tell_limit(limit: Limit) -> str:
    """A limit in words, like ``fat 4 to 8 %``."""
    name = quantity(limit.of)
    low, high = (None if one is None else mass.text(one) for one in (limit.least, limit.most))
    return f"{name} {_asked(low, high)} {limit.unit}"


def _asked(low: str | None, high: str | None) -> str:
    return f"{low} to {high}" if low and high else f"{low} or more" if low else f"{high} or less"


def _limits(findings: list[Mapping[str, Any]], kind: str) -> list[str]:
    out = []
    for one in findings:
        if one["standing"] == Standing.INSIDE:
            continue
        name = quantity(one["of"])
        asked = _asked(one["min"], one["max"])
        value = "not known" if one["value"] is None else _value(one["value"], one["unit"])
        why = f" ({one['why']})" if one["why"] else ""
        out.append(
            f"{one['standing'].capitalize()}, {one['class']}: {name} {value}{why}; "
            f"{asked} {one['unit']} [{one['source']}]"
        )
    inside = sum(one["standing"] == Standing.INSIDE for one in findings)
    out.append(
        f"{inside} of {len(findings)} limits are kept" + ("." if kind else "; no class named.")
    )
    return out
