"""A short way to write down what an answer looks like, as JSON Schema (draft 2020-12).

``thing(batch=TEXT, seq=WHOLE)`` is an object with these members, ``maybe`` marks one that may be
missing, ``many`` a list, ``by_key`` an object with keys of its own, and ``|`` one or the other. A
member that is not described may be there all the same: a later weighd may say more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

Schema = dict[str, Any]


@dataclass(frozen=True)
class Shape:
    """The schema of a value; ``missing``: of a member that may be left out."""

    schema: Schema = field(default_factory=dict)
    missing: bool = False

    def __or__(self, other: Shape) -> Shape:
        ways: list[Schema] = []
        for one in (self.schema, other.schema):
            ways += one["anyOf"] if set(one) == {"anyOf"} else [one]
        return Shape({"anyOf": ways})

    def said(self, description: str) -> Shape:
        """The same, with a description."""
        return Shape({**self.schema, "description": description}, self.missing)


def thing(**members: Shape) -> Shape:
    """An object with these members. One that ends in ``_`` is named without it."""
    named = {name.removesuffix("_"): one for name, one in members.items()}
    return Shape(
        {
            "type": "object",
            "properties": {name: one.schema for name, one in named.items()},
            "required": [name for name, one in named.items() if not one.missing],
        }
    )


def with_more(shape: Shape, **members: Shape) -> Shape:
    """An object with more members."""
    more = thing(**members).schema
    return Shape(
        {
            "type": "object",
            "properties": {**shape.schema["properties"], **more["properties"]},
            "required": [*shape.schema["required"], *more["required"]],
        }
    )


def many(shape: Shape) -> Shape:
    """A list."""
    return Shape({"type": "array", "items": shape.schema})


def by_key(shape: Shape) -> Shape:
    """An object whose keys are names or ids."""
    return Shape({"type": "object", "additionalProperties": shape.schema})


def maybe(shape: Shape) -> Shape:
    """A member that may be missing."""
    return Shape(shape.schema, missing=True)


def one_of(*words: str) -> Shape:
    """One of these words."""
    return Shape({"type": "string", "enum": list(words)})


ANY = Shape()
NULL = Shape({"type": "null"})
TEXT = Shape({"type": "string"})
FLAG = Shape({"type": "boolean"})
WHOLE = Shape({"type": "integer"})
FLOAT = Shape({"type": "number"})
OBJECT = Shape({"type": "object"})
#: A decimal as a string: masses are grams.
NUMBER = Shape({"type": "string", "pattern": r"^-?[0-9]{1,40}(\.[0-9]{1,40})?$"})
NUMBER_OR_EMPTY = Shape({"type": "string", "pattern": r"^(-?[0-9]{1,40}(\.[0-9]{1,40})?)?$"})
#: A moment by the station's clock, RFC 3339 in UTC.
MOMENT = Shape(
    {
        "type": "string",
        "pattern": r"^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?Z$",
    }
)
MOMENT_OR_EMPTY = Shape({"type": "string", "pattern": f"^({MOMENT.schema['pattern'][1:-1]})?$"})
#: A value of which facts may be missing: then it is the least, and ``at_most`` the most.
RANGE = thing(
    value=NUMBER | NULL,
    at_most=maybe(NUMBER | NULL),
    missing=maybe(many(TEXT)),
    at_c=maybe(NUMBER),
)
#: So much of a mix is a part.
SHARE = thing(
    grams=NUMBER | NULL,
    percent=NUMBER | NULL,
    at_most_grams=maybe(NUMBER | NULL),
    at_most_percent=maybe(NUMBER | NULL),
    missing=maybe(many(TEXT)),
)

Answers = Mapping[str, Shape]
