"""Fields of formula files and of limits, and the tables that ship.

Which fields there are, the reader of the files says itself: asked for one that there is not, it
names those that there are.
"""

from __future__ import annotations

import functools
import re
from importlib import resources

from docs.making.fields_said import FIELDS
from docs.making.tables import code, table
from weighd.domain.errors import WeighdError
from weighd.domain.facts import OF_WHICH, PARTS
from weighd.domain.formula_text import read_formula
from weighd.domain.heat_tables import read_tables
from weighd.domain.limits import read_limits
from weighd.domain.sugars import KINDS

_WHOLE = """
name = "n"
[ingredients.x]
name = "X"
[[additions]]
ingredient = "x"
target = "1 g"
tolerance = "0.1 g"
"""
#: For each table of a file: its name there, and a text in which it has a field that is none.
_WRONG = {
    "": ("the file itself", "nosuch = 1"),
    "ingredients.ID": ("[ingredients.ID]", 'name = "n"\n[ingredients.x]\nnosuch = 1'),
    "ingredients.ID.instead": (
        "[[ingredients.ID.instead]]",
        _WHOLE + "[[ingredients.x.instead]]\nnosuch = 1",
    ),
    "additions": (
        "[[additions]]",
        'name = "n"\n[ingredients.x]\nname="X"\n[[additions]]\nnosuch = 1',
    ),
    "steps": ("[[steps]]", _WHOLE + "[[steps]]\nnosuch = 1"),
    "steps.cautions": (
        "cautions of a step",
        _WHOLE + '[[steps]]\nkind = "mix"\ncautions = [{ nosuch = 1 }]',
    ),
    "product": ("[product]", _WHOLE + "[product]\nnosuch = 1"),
}
_LIMITS = {
    "classes.ID": ("[classes.ID]", "[classes.x]\nnosuch = 1"),
    "classes.ID.limits": (
        "[[classes.ID.limits]]",
        '[classes.x]\nname = "X"\n[[classes.x.limits]]\nnosuch = 1',
    ),
}


def _asked(of: str, wrong: str) -> tuple[str, ...]:
    try:
        if of.startswith("classes"):
            read_limits(wrong, "x.toml")
        else:
            read_formula(wrong, "x.toml")
    except WeighdError as error:
        if found := re.search(r"the fields are ([a-z_, ]+)", str(error)):
            return tuple(found[1].split(", "))
        raise AssertionError(f"{of}: asked for a field that is none, it said {error}") from error
    raise AssertionError(f"{of}: it took a field that is none")


@functools.cache
def fields() -> dict[str, tuple[str, ...]]:
    """The fields that each table of a file takes, by :data:`~docs.making.fields_said.FIELDS`."""
    out = {of: _asked(of, wrong) for of, (_, wrong) in {**_WRONG, **_LIMITS}.items()}
    out["ingredients.ID.composition"] = (*PARTS, "sugars", *OF_WHICH)
    return out


def made() -> str:
    """A table of fields for each table of a formula file."""
    heads = {of: head for of, (head, _) in {**_WRONG, **_LIMITS}.items()}
    heads["ingredients.ID.composition"] = "[ingredients.ID.composition]"
    parts = []
    for of, names in fields().items():
        head = code(heads[of]) if heads[of].startswith("[") else heads[of].capitalize()
        parts.append(f"### {head}\n")
        said = FIELDS.get(of, {})
        parts.append(table(("field", "meaning"), ((code(one), said.get(one, "")) for one in names)))
    return "\n".join(parts)


def made_of_sugars() -> str:
    """Every kind of sugar with what it counts for."""
    return table(
        ("kind", "name", "freezing", "source", "sweetness", "source", "kcal/g", "kJ/g"),
        (
            (
                code(one.id),
                one.name,
                f"{one.molar_mass} g/mol" if one.molar_mass else _span(one.freezing),
                one.freezing_source,
                _span(one.sweetness),
                one.sweetness_source,
                str(one.kcal),
                str(one.kj),
            )
            for one in KINDS.values()
        ),
    )


def _span(span: object) -> str:
    low, high = span.low, span.high  # type: ignore[attr-defined]
    return str(low) if low == high else f"{low} to {high}"


def made_of_heat_tables() -> str:
    """Every published heat treatment that ships, pair by pair."""
    text = (resources.files("weighd.data") / "heat_treatments.toml").read_text("utf-8")
    parts = []
    for one in read_tables(text, "heat_treatments.toml").values():
        parts.append(f"### `{one.id}`\n\n{one.name}. {one.note}\n")
        rows = [(str(pair), pair.source, pair.status) for pair in one.pairs]
        if one.cooling:
            rows.append((f"then to {one.cooling}", one.cooling.source, one.cooling.status))
        parts.append(table(("pair", "source", "status"), rows))
    return "\n".join(parts)


def made_of_limits() -> str:
    """Every class of product with the limits that ship."""
    text = (resources.files("weighd.data") / "limits.toml").read_text("utf-8")
    parts = []
    for kind in read_limits(text, "limits.toml").values():
        parts.append(f"### `{kind.id}`\n\n{kind.name}.\n")
        rows = []
        for one in kind.limits:
            ends = [f"at least {one.least}"] if one.least is not None else []
            ends += [f"at most {one.most}"] if one.most is not None else []
            rows.append(
                (" + ".join(map(code, one.of)), f"{', '.join(ends)} {one.unit}", one.source)
            )
        parts.append(table(("quantity", "limit", "source"), rows))
    return "\n".join(parts)
