"""Every route of the station with its parameters and the right it needs, from the application."""

from __future__ import annotations

import functools
from collections.abc import Iterator
from typing import Any

from fastapi import FastAPI

from docs.making.tables import cell, code, table
from weighd.http.app import PARTS
from weighd.http.described import described
from weighd.http.rights import COMMANDS, ROUTES, need_said

_METHODS = ("get", "post", "put", "delete", "patch")


@functools.cache
def description() -> dict[str, Any]:
    """The OpenAPI description of all routes."""
    app = FastAPI(title="weighd")
    for part in PARTS:
        app.include_router(part.router)
    return described(app)


def routes() -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Method, path and description of each, in the order in which they are declared."""
    for path, methods in description()["paths"].items():
        for method in _METHODS:
            if method in methods:
                yield method.upper(), path, methods[method]


def _schema(one: dict[str, Any]) -> dict[str, Any]:
    while "$ref" in one:
        one = description()["components"]["schemas"][one["$ref"].rsplit("/", 1)[1]]
    return one


def _kind(schema: dict[str, Any]) -> str:
    said = _schema(schema)
    if "anyOf" in said:
        kinds = (_kind(one) for one in said["anyOf"] if one.get("type") != "null")
        return " or ".join(dict.fromkeys(kinds))
    if "enum" in said:
        return " / ".join(f"`{one}`" for one in said["enum"])
    if said.get("type") == "array":
        return f"list of {_kind(said.get('items', {}))}"
    names = {"string": "text", "integer": "whole number", "boolean": "true or false"}
    return names.get(str(said.get("type", "")), str(said.get("type", "anything")))


def _fields(route: dict[str, Any]) -> Iterator[tuple[str, str, str, str]]:
    for one in route.get("parameters", []):
        where = {"query": "asked", "path": "in the path", "header": "header"}[one["in"]]
        needed = " *" if one.get("required") else ""
        yield code(one["name"]) + needed, where, _kind(one["schema"]), one.get("description", "")
    content = route.get("requestBody", {}).get("content", {})
    for kind, one in content.items():
        body = _schema(one["schema"])
        if "properties" not in body:
            yield "the body", kind, _kind(body), body.get("description", "")
        for name, field in body.get("properties", {}).items():
            needed = " *" if name in body.get("required", ()) else ""
            about = field.get("description") or _schema(field).get("description", "")
            yield code(name) + needed, "body", _kind(field), about


def answer(route: dict[str, Any]) -> str:
    """What comes back: the fields of JSON, or a media type; and what it may be refused with."""
    said = []
    for status, one in route["responses"].items():
        for kind, content in one.get("content", {}).items():
            inside = _schema(content["schema"]).get("properties", {})
            names = ", ".join(f"{code(name)} ({_kind(field)})" for name, field in inside.items())
            said.append(f"{status}, {'JSON' if kind.endswith('json') else kind}: {names}")
    refused = [one for one in route["responses"] if not one.startswith("2")]
    text = "Answer " + "; ".join(one.removesuffix(": ") for one in said) + "."
    return text + (f" Refused with {', '.join(refused)}." if refused else "")


def _group(path: str) -> str:
    """The beginning of a path, under which its routes stand."""
    parts = path.split("/")
    return "/".join(parts[:3]) if parts[1] == "api" else "/" + parts[1]


def made() -> str:
    """A section for each group of routes."""
    parts, group = [], ""
    for method, path, route in sorted(routes(), key=lambda one: _group(one[1])):
        if _group(path) != group:
            group = _group(path)
            parts.append(f"### {group}\n")
        about = " ".join(str(route.get("description", "")).split()).replace("``", "`")
        parts.append(f"#### `{method} {path}`\n\n{about}\n")
        if method != "GET":
            parts.append(f"Right: {need_said(ROUTES.get((method, path)))}.\n")
        if fields := list(_fields(route)):
            parts.append(table(("name", "where", "what it is", "meaning"), fields))
        parts.append(answer(route) + "\n")
    return "\n".join(parts)


def made_of_commands() -> str:
    """The commands of a batch and the rights they need."""
    return table(
        ("command", "right"),
        ((code(cell(name)), need_said(need)) for name, need in COMMANDS.items()),
    )
