"""Kinds of entry and their fields, from the JSON Schema of the record; columns of tables."""

from __future__ import annotations

import functools
import json
from collections.abc import Iterator, Mapping
from importlib import resources
from typing import Any

from docs.making.record_said import FLOOR_SAID, SAID
from docs.making.tables import code, sentence, table
from weighd.reports.columns import COLUMNS
from weighd.reports.tables import TABLES

Schema = Mapping[str, Any]


@functools.cache
def schema(name: str) -> Schema:
    """A schema that ships: ``record`` or ``floor``."""
    text = (resources.files("weighd.data") / f"{name}.schema.json").read_text("utf-8")
    found: Schema = json.loads(text)
    return found


def entry_kinds() -> list[str]:
    """Every kind of entry that a record may have."""
    return list(schema("record")["$defs"]["entry"]["properties"]["kind"]["enum"])


def body_of(kind: str) -> Schema:
    """The schema of the body of a kind of entry."""
    found: Schema = schema("record")["$defs"][f"body-of-{kind.replace(' ', '-')}"]
    return found


def kind_of(one: Schema, of: str = "record") -> str:
    """What a value is, in words."""
    if "$ref" in one:
        name = str(one["$ref"]).rsplit("/", 1)[1]
        return f"[{name}](#{name})" if of == "record" else name
    if "const" in one:
        return code(json.dumps(one["const"]))
    if "enum" in one:
        return " / ".join(code(str(each)) for each in one["enum"])
    if "anyOf" in one:
        return " or ".join(dict.fromkeys(kind_of(each, of) for each in one["anyOf"]))
    match one.get("type"):
        case "array":
            return f"list of {kind_of(one.get('items', {}), of)}"
        case list() as several:
            return " or ".join(map(str, several))
        case None:
            return "anything"
        case kind:
            names = {"string": "text", "integer": "whole number", "null": "nothing"}
            return names.get(str(kind), str(kind))


def fields(one: Schema, part: str = "", of: str = "record") -> Iterator[tuple[str, str, str]]:
    """The rows of a table of an object's fields; what is not always there is marked.

    ``part``  the kind of entry or the part that it is, for what its fields mean.
    """
    needed = set(one.get("required", ()))
    for name, field in one.get("properties", {}).items():
        mark = "" if name in needed else " (may be missing)"
        about = field.get("description") or SAID.get(f"{part}.{name}") or SAID.get(name, "")
        if of == "floor":
            about = field.get("description") or FLOOR_SAID.get(name, "")
        if "properties" in field:
            inside = ", ".join(code(each) for each in field["properties"])
            about = f"{about.rstrip('.')}; has {inside}" if about else f"has {inside}"
        yield code(name) + mark, kind_of(field, of), sentence(about) if about else ""


def made() -> str:
    """A section for each kind of entry, then one for each part that several have."""
    parts = []
    for kind in entry_kinds():
        body = body_of(kind)
        parts.append(f"### `{kind}`\n\n{sentence(body.get('description', ''))}\n")
        parts.append(table(("field", "what it is", "meaning"), fields(body, kind)))
    parts.append("## Parts\n\nWhat stands in more than one of them.\n")
    for name, one in schema("record")["$defs"].items():
        if name.startswith("body-of-"):
            continue
        parts.append(f"### {name}\n\n{sentence(one.get('description', '')) or kind_of(one)}\n")
        if "properties" in one:
            parts.append(table(("field", "what it is", "meaning"), fields(one, name)))
    return "\n".join(parts)


def made_of_columns() -> str:
    """The columns of the table of weighings."""
    return table(
        ("column", "holds", "meaning"),
        ((code(one.name), str(one.of), one.about) for one in COLUMNS),
    )


def made_of_tables() -> str:
    """Every table that can be written, with its columns."""
    return table(
        ("table", "a row for each", "columns"),
        (
            (code(name), one.about, ", ".join(code(each.name) for each in one.heads))
            for name, one in TABLES.items()
        ),
    )


def made_of_floor() -> str:
    """What a station tells the floor, section by section."""
    parts = []
    for name, one in schema("floor")["$defs"].items():
        parts.append(f"### `{name}`\n\n{sentence(one.get('description', ''))}\n")
        parts.append(table(("field", "what it is", "meaning"), fields(one, of="floor")))
    return "\n".join(parts)
