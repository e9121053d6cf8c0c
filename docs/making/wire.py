"""Fields of a wire shape, from the models that read it."""

from __future__ import annotations

import re
import tomllib
from importlib import resources
from inspect import cleandoc

from pydantic import BaseModel

from docs.making.keys import default_of, kind_said
from docs.making.tables import code, sentence, table
from weighd_drivers import shape_parts, shapes

#: The tables of a shape file: what stands around the field, then each kind of field.
MODELS: dict[str, type[BaseModel]] = {
    "the file itself": shapes.WireShape,
    "[frame]": shapes.Frame,
    "[check]": shapes.Check,
    '[[field]] kind = "status"': shape_parts.Status,
    '[[field]] kind = "literal"': shape_parts.Fixed,
    '[[field]] kind = "space"': shape_parts.Space,
    '[[field]] kind = "sign"': shape_parts.Sign,
    '[[field]] kind = "number"': shape_parts.Number,
    '[[field]] kind = "unit"': shape_parts.UnitWord,
    '[[field]] kind = "ignored"': shape_parts.Ignored,
}


def meanings(model: type[BaseModel]) -> dict[str, str]:
    """What its docstring says of each field: lines that begin with the field's name."""
    text = cleandoc(model.__doc__ or "")
    lines = re.sub(r"\n +", " ", text)
    found = {}
    for line in lines.split("\n"):
        if one := re.match(r"``(\w+)``\s+(.+)", line):
            found[one[1]] = one[2].replace("``", "`")
    return found


def about(model: type[BaseModel]) -> str:
    """The docstring before its list of fields."""
    text = cleandoc(model.__doc__ or "")
    return " ".join(text.split("\n\n", 1)[0].split()).replace("``", "`")


def made() -> str:
    """A table for each table of a shape file."""
    parts = []
    for name, model in MODELS.items():
        head = code(name) if name.startswith("[") else name.capitalize()
        parts.append(f"### {head}\n\n{about(model)}\n")
        said = meanings(model)
        parts.append(
            table(
                ("field", "what it is", "default", "meaning"),
                (
                    (
                        code(field.alias or key),
                        kind_said(key, field),
                        default_of(field),
                        sentence(said.get(key) or field.description or ""),
                    )
                    for key, field in model.model_fields.items()
                    if key != "kind" or "field" not in name
                ),
            )
        )
    return "\n".join(parts)


def made_of_shipped() -> str:
    """The shapes that ship."""
    rows = []
    for one in sorted((resources.files("weighd_drivers") / "wire").iterdir(), key=lambda o: o.name):
        if one.name.endswith(".toml"):
            shape = tomllib.loads(one.read_text("utf-8"))
            rows.append((code(shape["name"]), shape.get("title", ""), shape.get("source", "")))
    return table(("shape", "what a report is", "source"), rows)
