"""Wire shapes as text files: read with errors that name file, line and key; written readably."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from weighd.domain.errors import ScaleError
from weighd.domain.mass import Unit
from weighd_drivers.shapes import UNIT_WORDS, WireShape

#: A shape file that is larger is none.
LARGEST = 64_000


def parse(text: str, file: str = "shape") -> WireShape:
    """The shape that a text describes.

    Raises :class:`ScaleError` (``bad-shape``) naming file, line and key of the first problem.
    """
    if len(text) > LARGEST:
        raise _bad(file, None, f"it is longer than {LARGEST} characters")
    try:
        tree = tomllib.loads(text)
        return from_json(tree)
    except tomllib.TOMLDecodeError as error:
        at = re.search(r"line (\d+)", str(error))
        raise _bad(file, int(at[1]) if at else None, str(error)) from error
    except ValidationError as error:
        first = error.errors(include_url=False, include_context=False)[0]
        path = first["loc"]
        if path[:1] == ("field",):
            path = path[:2] + path[3:]  # the third part is the kind, and no key
        what = str(first["msg"]).removeprefix("Value error, ")
        key = ".".join(str(one + 1 if isinstance(one, int) else one) for one in path)
        raise _bad(file, _line_of(text, path), f"{key}: {what}" if key else what) from error
    except (TypeError, RecursionError) as error:
        raise _bad(file, None, str(error)) from error


def load(path: Path) -> WireShape:
    """The shape in a file. Raises :class:`ScaleError` where it is missing or says nonsense."""
    try:
        text = path.read_text("utf-8")
    except (OSError, ValueError) as error:  # no text, or a name that no file has
        raise ScaleError(
            "bad-shape",
            f"The wire shape cannot be read ({error}).",
            where=str(path),
            remedy="Give the name of a known shape or the path of a shape file.",
        ) from error
    return parse(text, str(path))


def dump(shape: WireShape) -> str:
    """A shape as the text of a file; :func:`parse` gives the same shape back."""
    out: list[str] = []
    tree = as_json(shape)
    tree = {"shape": shape.shape} | tree
    tables = {"frame", "check", "field"}
    out += [f"{key} = {_value(one)}" for key, one in tree.items() if key not in tables]
    for key in ("frame", "check"):
        if key in tree:
            out += ["", f"[{key}]"]
            out += [f"{name} = {_value(one)}" for name, one in tree[key].items()]
    for part in tree["field"]:
        out += ["", "[[field]]"]
        out += [f"{name} = {_value(one)}" for name, one in part.items()]
    return "\n".join(out) + "\n"


def as_json(shape: WireShape) -> dict[str, Any]:
    """A shape as JSON values, without what is a default: goes into records as evidence."""
    tree: dict[str, Any] = shape.model_dump(mode="json", exclude_defaults=True)
    plain = {word: unit.value for word, unit in UNIT_WORDS.items()}
    fields = []
    for part, given in zip(shape.field, tree["field"], strict=True):
        given = {"kind": part.kind} | given
        if given.get("words") == plain:
            del given["words"]
        fields.append(given)
    tree["field"] = fields
    return tree


def from_json(tree: Mapping[str, Any]) -> WireShape:
    """The inverse of :func:`as_json`. Raises pydantic's ``ValidationError``."""
    return WireShape.model_validate_json(json.dumps(tree))


def spec_of(shape: WireShape) -> dict[str, Any]:
    """What makes a decoder for ``shape`` again: the name of a shipped one, or all of it."""
    known = shipped().get(shape.name)
    if known == shape:
        return {"shape": shape.name}
    if known is not None and shape.unit and known.with_unit(shape.unit) == shape:
        return {"shape": shape.name, "unit": shape.unit.value}
    return {"shape": as_json(shape)}


def shape_of(spec: Mapping[str, object]) -> WireShape:
    """The inverse of :func:`spec_of`. Raises ``KeyError`` where ``spec`` names no shape."""
    wanted = spec["shape"]
    try:
        if isinstance(wanted, Mapping):
            return from_json(wanted)
        found = shipped()[str(wanted)]
        return found.with_unit(Unit(str(spec["unit"]))) if "unit" in spec else found
    except ValueError as error:
        raise KeyError(f"no wire shape: {error}") from error


@cache
def shipped() -> Mapping[str, WireShape]:
    """The shapes that come with the drivers, by name, the stricter first."""
    found = [
        parse(one.read_text("utf-8"), one.name)
        for one in files("weighd_drivers").joinpath("wire").iterdir()
        if one.name.endswith(".toml")
    ]
    found.sort(key=lambda shape: (tuple(-part for part in shape.strictness), shape.name))
    return {shape.name: shape for shape in found}


def shape_names() -> Sequence[str]:
    """Names that may be given for a shape, the stricter first."""
    return tuple(shipped())


def _is_file(name: str) -> bool:
    try:
        return Path(name).is_file()
    except (OSError, ValueError):  # too long for a name of any, or with characters that none has
        return False


def named(name: str, unit: Unit | None = None) -> WireShape:
    """The shipped shape of this name or the shape in the file of this path.

    ``unit`` overrides the implied unit. Raises :class:`ScaleError` where there is no such shape.
    """
    if name in shipped():
        found = shipped()[name]
    elif "/" in name or name.endswith(".toml") or _is_file(name):
        found = load(Path(name))
    else:
        raise ScaleError(
            "unknown-shape",
            f"There is no wire shape {name!r}.",
            remedy=f"Known are {', '.join(shape_names())}; or give the path of a shape file.",
        )
    return found if unit is None or not found.needs_unit else found.with_unit(unit)


def _line_of(text: str, path: Sequence[int | str]) -> int | None:
    """The line on which the key of an error stands, as near as the text tells."""
    lines = text.splitlines()
    at, stop = 0, len(lines)
    if path and path[0] in {"field", "frame", "check"}:
        header = re.compile(rf"\s*\[+\s*{path[0]}\s*\]+")
        heads = [n for n, line in enumerate(lines) if header.match(line)]
        nth = path[1] if len(path) > 1 and isinstance(path[1], int) else 0
        if nth >= len(heads):
            return None
        at = heads[nth]
        after = [n for n in range(at + 1, stop) if lines[n].lstrip().startswith("[")]
        stop = after[0] if after else stop
    for key in [one for one in path if isinstance(one, str)][::-1]:
        own = re.compile(rf"\s*\"?{re.escape(key)}\"?\s*[=.]")
        for n in range(at, stop):
            if own.match(lines[n]):
                return n + 1
    return at + 1 if path else None


def _value(value: object) -> str:
    if isinstance(value, dict):
        pairs = (f"{_string(str(key))} = {_value(one)}" for key, one in value.items())
        return "{ " + ", ".join(pairs) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value) if isinstance(value, int) else _string(str(value))


def _string(text: str) -> str:
    # A JSON string is a TOML basic string, but for surrogates and DEL.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


def _bad(file: str, line: int | None, message: str) -> ScaleError:
    where = f"{file}, line {line}" if line else file
    return ScaleError("bad-shape", f"The wire shape cannot be used: {message}.", where=where)
