"""A formula as the text of its file, which reads back as the same."""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import replace

from weighd.domain import mass
from weighd.domain.formula import BY_DIFFERENCE, Formula
from weighd.domain.ingredient_csv import as_toml
from weighd.domain.process_writing import steps_toml
from weighd.domain.product import product_toml


def formula_toml(formula: Formula, known: Collection[str] = ()) -> str:
    """TOML for :func:`weighd.domain.formula_text.read_formula`.

    ``known``  ids of ingredients that stand in the list beside the file and are left out here.
    Rules of what may stand in for an ingredient are left out: what they name may not be there.
    """
    out = [f"name = {_quoted(formula.name)}"]
    for key, value in (
        ("note", formula.note),
        ("kind", formula.kind),
        ("scenario", formula.scenario),
    ):
        if value:
            out.append(f"{key} = {_quoted(value)}")
    if formula.cautions:
        out.append(f"cautions = [{', '.join(_quoted(one) for one in formula.cautions)}]")
    own = {
        one.ingredient.id: replace(one.ingredient, instead=())
        for one in formula.additions
        if one.ingredient.id not in known
    }
    if own:
        out += ["", as_toml(own).rstrip("\n")]
    for one in formula.additions:
        out += ["", "[[additions]]", f"ingredient = {_quoted(one.ingredient.id)}"]
        out.append(f'target = "{mass.text(one.target_g.normalize())} g"')
        out.append(f"tolerance = {_quoted(one.tolerance.text)}")
        if one.by_difference:
            out.append(f'method = "{BY_DIFFERENCE}"')
        if one.carrier:
            out.append(f"carrier = {_quoted(one.carrier)}")
    out += steps_toml(formula.steps)
    out += product_toml(formula.product)
    return "\n".join(out) + "\n"


def _quoted(text: str) -> str:
    """A TOML basic string: JSON's escapes are among its own."""
    return json.dumps(text, ensure_ascii=False)
