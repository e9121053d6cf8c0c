"""Revisions of a formula told to people: lines of text from what was drawn."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from weighd.domain.against_plan import Told
from weighd.domain.formula_changes import How
from weighd.domain.limits import Standing
from weighd.station.comparing_words import NAMES, limit_asked, step_of, told_of, value_told
from weighd.station.composing_words import QUANTITIES

#: What a text that changed is called.
_TEXTS = {
    "kind": "class",
    "with": "done with",
    "how": "what to do",
    "product.keeps_days": "keeps, in days",
    "product.storage": "storage",
    "product.gtin": "trade number",
    "density_g_ml": "density, g/mL",
}
#: Batches of a revision that are named in the list.
_NAMED = 5
_WHERE = {
    "page": "saved on the page",
    "ingredients": "an ingredient was changed",
    "file": "seen in the file",
    "batch": "a batch was opened with it",
    "shared": "published",
}


def tell_history(drawn: Mapping[str, Any]) -> list[str]:
    """The list, a line each, and what is wrong."""
    n = len(drawn["revisions"])
    many = "1 revision" if n == 1 else f"{n} revisions"
    out = [f"{drawn['name']} ({drawn['formula']}): {many}", ""]
    for one in drawn["revisions"]:
        made = one["batches"]["count"]
        batches = "no batch" if not made else "1 batch" if made == 1 else f"{made} batches"
        mark = "now " if one["now"] else "    "
        since = one["since"][:16].replace("T", " ") or "not kept yet"
        met = one["met"][0] if one["met"] else None
        told = _met(met) if met else ""
        out.append(
            f"{mark}{one['revision']}  {since:<16}  {one['batch_g']:>8} g  {batches:<11}  {told}"
        )
        names = [each["batch"] for each in one["batches"]["newest"][:_NAMED]]
        more = ", ..." if made > _NAMED else ""
        out += [f"      {', '.join(names)}{more}"] if names else []
    if drawn["away"]:
        out += ["", f"{drawn['away']} batches were put away: their revisions are in the archive."]
    out += [f"{one['where']}: {one['message']}" for one in drawn["problems"]]
    return [line.rstrip() for line in out]


def _met(one: Mapping[str, Any]) -> str:
    by = f" by {one['by']}" if one["by"] else ""
    station = f" at {one['station']}" if one["station"] else ""
    return f"{_WHERE[one['where']]}{by}{station}"


def tell_compared(drawn: Mapping[str, Any]) -> list[str]:
    """What differs and what each comes to, a line each."""
    then, now = drawn["then"], drawn["now"]
    head = f"{drawn['name']} ({drawn['formula']})"
    out = [f"{head}: {then['revision']} then, {now['revision']} now", ""]
    if drawn["nothing"]:
        return [*out[:1], "Nothing differs."]
    if drawn["only_size"]:
        out.append("Only the size differs: every share is as it was.")
    allergens = drawn["allergens"]
    out += [
        f"Allergens {key}: {', '.join(allergens[key])}" for key in ("new", "gone") if allergens[key]
    ]
    out += [_text(one) for one in drawn["texts"]]
    out += [line for one in drawn["additions"] for line in _addition(one)]
    sizes = f"{then['batch_g']:>10}{now['batch_g']:>10}{_signed(drawn['change_g']):>10} g"
    out.append(f"   {'In all':<30}{sizes}")
    out += [line for one in drawn["steps"] for line in _step(one)]
    out += ["", f"{'':<33}{'then':>10}{'now':>10}{'change':>12}"]
    out += [_difference(one) for one in drawn["differences"]]
    out += _limits(drawn)
    return out


def _addition(one: Mapping[str, Any]) -> list[str]:
    then, now = one["then"], one["now"]
    mark = {How.ADDED: "+", How.REMOVED: "-", How.CHANGED: "*"}.get(How(one["how"]), " ")
    sides = [side["target_g"] if side else "" for side in (then, now)]
    share = f"{_signed(one['points'])} points of the batch" if float(one["points"]) else ""
    grams = f"{sides[0]:>10}{sides[1]:>10}{_signed(one['change_g']):>10} g"
    out = [f"{mark}  {one['name'][:29]:<30}{grams}  {share}".rstrip()]
    if one["moved"]:
        out.append(f"     moved from place {then['n']} to {now['n']}")
    out += [f"     {_text(each)}" for each in one["texts"]]
    out += [
        f"     {_called(each['of'])} in 100 g: {each['then'] or 'not known'}, now "
        f"{each['now'] or 'not known'}"
        for each in one["facts"]
    ]
    return out


def _step(one: Mapping[str, Any]) -> list[str]:
    how = How(one["how"])
    if how is How.SAME and not one["moved"]:
        return []
    told = {How.ADDED: "is new", How.REMOVED: "is gone"}.get(how, "")
    places = f"moved from place {one['then']['n']} to {one['now']['n']}" if one["moved"] else ""
    head = ", ".join(each for each in (told, places) if each) or "differs"
    return [f"Step {one['name']} {head}", *(f"     {_text(each)}" for each in one["texts"])]


def _text(one: Mapping[str, Any]) -> str:
    sides = [" / ".join(one[key].splitlines()) or "none" for key in ("then", "now")]
    return f"{_called(one['of'])}: {sides[0]}, now {sides[1]}"


def _called(key: str) -> str:
    words = _TEXTS.get(key) or QUANTITIES.get(key) or key.replace("sugars.", "").replace("_", " ")
    return words[:1].upper() + words[1:]


def _signed(text: str) -> str:
    return text if text.startswith("-") or not float(text) else f"+{text}"


def _difference(one: Mapping[str, Any]) -> str:
    step = step_of(one)
    name = NAMES.get(one["of"], one["of"].replace("_", " "))
    name = f"ice at {one['at_c']} °C" if "at_c" in one else name
    unit = "" if one["unit"] == "a kg" else one["unit"].split(" ")[0]
    label = f"{name[:1].upper()}{name[1:]}" + (f", {unit}" if unit else "")
    sides = [value_told(one[key], step) for key in ("then", "now")]
    told = told_of(one["of"])[Told(one["told"])]
    change = "" if one["told"] == Told.SAME else value_told(one["change"], step, sign=True)
    return f"{label:<33}{sides[0]:>10}{sides[1]:>10}{change:>12}  {told}"


def _limits(drawn: Mapping[str, Any]) -> list[str]:
    out = []
    for one in drawn["limits"]:
        before, after = one["then"]["standing"], one["now"]["standing"]
        if before == after == Standing.INSIDE:
            continue
        name = " and ".join(QUANTITIES.get(each, each) for each in one["of"])
        sides = [
            f"{value_told(one[key]['value'], '0.01')} ({one[key]['standing']})"
            for key in ("then", "now")
        ]
        asked = limit_asked(one)
        out.append(f"{one['class']}, {name}: {sides[0]}, now {sides[1]}; usual {asked}")
    if drawn["unknown_class"]:
        out.append(f'No class is called "{drawn["unknown_class"]}" here: held to no limits of it.')
    if drawn["limits"]:
        inside = sum(one["now"]["standing"] == Standing.INSIDE for one in drawn["limits"])
        out.append(f"{inside} of {len(drawn['limits'])} limits are kept now.")
    return ["", *out] if out else []
