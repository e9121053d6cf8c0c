"""An earlier revision as a draft that the editor of formulas begins with, over the present file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from weighd.domain.formula import Formula, Ingredient
from weighd.domain.formula_text import read_toml
from weighd.domain.formula_writing import formula_toml
from weighd.station.drafting import EDITED, draw_source

#: Of each key that the editor leaves as the file has it: what a formula makes of it.
_OTHERS = ("scenario", "steps", "product")


def draw_again(
    revision: Formula,
    present: Mapping[str, Any],
    now: Formula | None,
    known: Mapping[str, Ingredient],
) -> dict[str, Any]:
    """The draft, as :func:`~weighd.station.drafting.draw_source` draws it.

    ``present``  the file as it stands, empty where there is none; ``now`` the formula in it, and
                 ``known`` the ingredients that it would be read with.

    ``otherwise``  ingredients that are ``gone``, or hold or say something else by now;
    ``stays``      keys that stay as the file has them, though they were others then.
    """
    document = read_toml(formula_toml(revision, known), revision.id)
    there, then = draw_source(revision.id, present), draw_source(revision.id, document)
    _find_again(then["additions"], there["additions"], "ingredient")
    _find_again(then["steps"], there["steps"] or [], "kind")
    before, after = revision.content(), {} if now is None else now.content()
    stays = [key for key in _OTHERS if key not in EDITED and before.get(key) != after.get(key)]
    return {
        **then,
        "own_ingredients": there["own_ingredients"],
        "kept": there["kept"],
        "revision": revision.revision,
        "otherwise": _otherwise(revision, known),
        "stays": stays,
    }


def _find_again(then: list[dict[str, Any]], there: list[dict[str, Any]], by: str) -> None:
    """Which row of the present file each row is a change of: the first one left of its name."""
    free = list(there)
    for row in then:
        was = next((one for one in free if one[by] == row[by]), None)
        row["was"] = None if was is None else was["was"]
        if was is not None:
            free.remove(was)


def _otherwise(revision: Formula, known: Mapping[str, Ingredient]) -> list[dict[str, str]]:
    out: dict[str, dict[str, str]] = {}
    for one in revision.additions:
        then, now = one.ingredient, known.get(one.ingredient.id)
        if now is None:
            why = "gone"
        elif _content(then) != _content(now):
            why = "changed"
        else:
            continue
        out[then.id] = {"ingredient": then.id, "name": then.name, "why": why}
    return list(out.values())


def _content(one: Ingredient) -> tuple[object, ...]:
    """What of an ingredient counts in a revision."""
    facts = one.facts.content() if one.facts else {}
    return one.name, one.allergens, one.caution, facts
