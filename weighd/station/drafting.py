"""Drafts: what somebody types about an ingredient, a formula or a limit, as a document to be read.

A draft is JSON values whose numbers are texts as typed. It becomes the table that the file would
hold and is read by the reader of files, so that a draft, a saved file and a file written by hand
are judged by the same code. Nothing is judged here: what is no number stays the text that it is,
and the reader says so.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.facts import SUGARS, Facts
from weighd.domain.facts_text import number
from weighd.domain.formula import Ingredient
from weighd.domain.limits import ProductClass
from weighd.domain.substitutes import FIELD as INSTEAD
from weighd.station.step_drafting import are_rows, draw_rows, origins, shown, step_rows

_FACTS = ("density_g_ml", "cost_per_kg")
_DAYS = ("shelf_life_days", "shelf_life_opened_days")
_TEXTS = ("supplier_code", "source")
#: The tag of a file that is not there; others are the first half of a SHA-256 in hex.
NO_FILE = "e3b0c44298fc1c149afbf4c8996fb924"
#: Which row of the file each row of a list was, ``None`` for a new one; by the list's name.
Origins = Mapping[str, Sequence[int | None]]
#: What an editor of formulas changes; every other key of a file stays as it is.
EDITED = ("name", "note", "kind", "cautions", "additions", "steps")
_ROW = ("ingredient", "target", "tolerance", "method", "carrier")
#: Digits that a number of TOML, read as a float, certainly keeps.
_SAFE_DIGITS = 15


def value_of(text: str) -> int | float | str:
    """A typed number as a value of TOML: the number itself, or the text where it is none."""
    plain = text.strip().replace("−", "-").replace(",", ".")
    if not re.fullmatch(r"-?[0-9]{1,12}(\.[0-9]{1,12})?", plain, re.ASCII):
        return text.strip()
    if len(re.sub(r"[^0-9]", "", plain)) > _SAFE_DIGITS:
        return plain
    if "." not in plain:
        return int(plain)
    value = float(plain)
    try:
        return value if number(value) == Decimal(plain) else plain
    except ValueError:
        return plain  # a float that Python writes with an exponent


def ingredient_table(draft: Mapping[str, Any]) -> dict[str, Any]:
    """An ingredient's draft as its table. What is left empty is missing from it."""
    out: dict[str, Any] = {"name": str(draft.get("name", "")).strip()}
    allergens = [one.strip() for one in draft.get("allergens") or () if one.strip()]
    out |= {"allergens": allergens} if allergens else {}
    out |= _texts(draft, ("caution",))
    for key in (*_FACTS, *_DAYS):
        if text := str(draft.get(key) or "").strip():
            out[key] = value_of(text)
    out |= _texts(draft, _TEXTS)
    composition: dict[str, Any] = {}
    for key, value in (draft.get("composition") or {}).items():
        if isinstance(value, Mapping):
            kinds = {kind: value_of(one) for kind, one in value.items() if str(one).strip()}
            composition[key] = kinds
        elif str(value or "").strip():
            composition[key] = value_of(str(value))
    out |= {"composition": composition} if composition else {}
    rules = [
        {
            "ingredient": str(row.get("ingredient", "")).strip(),
            "ratio": value_of(str(row.get("ratio", ""))),
            **_texts(row, ("note", "source")),
        }
        for row in draft.get(INSTEAD) or ()
    ]
    return {**out, **({INSTEAD: rules} if rules else {})}


def kept(before: Any, after: Any) -> Any:
    """``after``, with every number written as ``before`` has it where it is the same number."""
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        return {key: kept(before.get(key), value) for key, value in after.items()}
    if isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        return [kept(one, other) for one, other in zip(before, after, strict=True)]
    try:
        return before if number(before) == number(after) else after
    except ValueError:
        return after


def formula_document(
    before: Mapping[str, Any], draft: Mapping[str, Any]
) -> tuple[dict[str, Any], Origins]:
    """A formula's file as the draft wants it, and which row each of its rows was before.

    ``before`` is the file as it is, empty for a new one. Keys that no draft changes are kept, and
    so are the steps where the draft says nothing of any (``None``).
    """
    out = {key: value for key, value in before.items() if key not in EDITED}
    head: dict[str, Any] = {"name": str(draft.get("name", "")).strip()}
    head |= _texts(draft, ("note", "kind"))
    cautions = [one.strip() for one in draft.get("cautions") or () if one.strip()]
    head |= {"cautions": cautions} if cautions else {}
    old = before.get("additions")
    old = old if isinstance(old, list) else []
    asked = list(draft.get("additions") or ())
    places: dict[str, list[int | None]] = {"additions": origins(asked, len(old))}
    rows = []
    for row, own in zip(asked, places["additions"], strict=True):
        held = old[own] if own is not None and isinstance(old[own], Mapping) else {}
        kept_keys = {key: value for key, value in held.items() if key not in _ROW}
        texts = {key: str(row.get(key) or "").strip() for key in _ROW}
        rows.append({**{k: v for k, v in texts.items() if v}, **kept_keys})
    document = {**head, **out, "additions": rows}
    steps = before.get("steps")
    if draft.get("steps") is None:
        document |= {} if steps is None else {"steps": steps}
    else:
        held_steps = steps if isinstance(steps, list) and are_rows(steps) else []
        made, places["steps"] = step_rows(held_steps, draft["steps"])
        document |= {"steps": made} if made else {}
    return document, places


def draw_source(identity: str, document: Mapping[str, Any]) -> dict[str, Any]:
    """A formula's file as a draft, with what else stands in it."""
    rows = document.get("additions")
    own = document.get("ingredients")
    cautions = document.get("cautions")
    return {
        "id": identity,
        **{key: shown(document.get(key)) for key in ("name", "note", "kind")},
        "cautions": [shown(one) for one in cautions] if isinstance(cautions, list) else [],
        "additions": [
            {**{key: shown(row.get(key)) for key in _ROW}, "was": n}
            for n, row in enumerate(rows if isinstance(rows, list) else ())
            if isinstance(row, Mapping)
        ],
        "steps": draw_rows(document.get("steps")),
        "own_ingredients": [
            {"id": one, "name": shown(table.get("name"))}
            for one, table in (own.items() if isinstance(own, Mapping) else ())
            if isinstance(table, Mapping)
        ],
        "kept": [key for key in document if key not in EDITED],
    }


def draw_ingredient(one: Ingredient) -> dict[str, Any]:
    """An ingredient as a draft, with what is known of its gaps."""
    facts = one.facts or Facts()
    composition: dict[str, Any] = {key: mass.text(value) for key, value in facts.stated}
    if facts.sugars is not None:
        composition[SUGARS] = {kind: mass.text(value) for kind, value in facts.sugars}
    return {
        "id": one.id,
        "name": one.name,
        "allergens": list(one.allergens),
        "caution": one.caution,
        "composition": composition,
        **{key: _number(getattr(facts, key)) for key in _FACTS},
        **{key: str(getattr(facts, key) or "") for key in _DAYS},
        **{key: getattr(facts, key) for key in _TEXTS},
        INSTEAD: [
            {
                "ingredient": rule.ingredient,
                "ratio": mass.text(rule.ratio),
                "note": rule.note,
                "source": rule.source,
            }
            for rule in one.instead
        ],
        **draw_gaps(one),
    }


def draw_gaps(one: Ingredient) -> dict[str, Any]:
    """What is missing of an ingredient: facts by name, and the grams of 100 in no stated part."""
    facts = one.facts or Facts()
    nothing = not facts.stated and facts.sugars is None
    missing = ["composition"] if nothing else list(facts.missing)
    missing += [key for key in (*_FACTS, "shelf_life_days") if getattr(facts, key) is None]
    return {
        "stated_g": mass.text(facts.parts_g),
        "left_g": mass.text(facts.left_g),
        "missing": missing,
    }


def limits_table(name: str, limits: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """A class of product as its table."""
    rows = []
    for row in limits:
        of = [str(one).strip() for one in row.get("of") or ()]
        ends = {
            key: value_of(text)
            for key in ("min", "max")
            if (text := str(row.get(key) or "").strip())
        }
        source = str(row.get("source") or "").strip()
        rows.append({"of": of[0] if len(of) == 1 else of, **ends, "source": source})
    return {"name": name.strip(), **({"limits": rows} if rows else {})}


def draw_class(one: ProductClass) -> dict[str, Any]:
    """A class of product with its limits, numbers as texts."""
    return {
        "id": one.id,
        "name": one.name,
        "limits": [
            {
                "of": list(limit.of),
                "unit": limit.unit,
                "min": _number(limit.least),
                "max": _number(limit.most),
                "source": limit.source,
            }
            for limit in one.limits
        ],
    }


def _texts(draft: Mapping[str, Any], keys: Sequence[str]) -> dict[str, str]:
    return {key: text for key in keys if (text := str(draft.get(key) or "").strip())}


def _number(value: Decimal | None) -> str:
    return "" if value is None else mass.text(value)
