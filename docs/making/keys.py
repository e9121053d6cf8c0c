"""Every key of the configuration: its kind, default and meaning, from the models that read it."""

from __future__ import annotations

import types
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from docs.making.tables import code, table
from weighd.config import reference, tables
from weighd.config import values as kinds
from weighd_drivers.replay import ReplaySettings
from weighd_drivers.serial_settings import SerialSettings
from weighd_drivers.simulated import SimulatedSettings
from weighd_drivers.usb_hid import UsbSettings

#: The models of what a scale's table holds for its driver.
DRIVERS: dict[str, type[BaseModel]] = {
    "serial": SerialSettings,
    "usb": UsbSettings,
    "replay": ReplaySettings,
    "simulated": SimulatedSettings,
}
_PLAIN: dict[object, str] = {
    str: "text",
    int: "whole number",
    float: "number",
    bool: "true or false",
    Decimal: "number",
    Path: "path",
}
_OURS: tuple[tuple[object, str], ...] = (
    (kinds.Grams, "number"),
    (kinds.Figure, "number"),
    (kinds.File, "file"),
    (kinds.Folder, "folder"),
)


#: What a number is of, by how the key ends.
_UNITS = {
    "_g": "grams",
    "_s": "seconds",
    "_h": "hours",
    "_m3": "m³",
    "_days": "days",
    "_percent": "percent",
    "_hz": "a second",
    "minutes": "minutes",
}


@dataclass(frozen=True, slots=True)
class Told:
    """What is told of one key. ``where`` names the place in the code where it is described."""

    key: str
    kind: str
    default: str
    meaning: str
    where: str
    needed: bool = False


def kind_of(annotation: object, field: FieldInfo | None = None) -> str:
    """What may stand there, in words."""
    for ours, said in _OURS:
        if field is not None and field.metadata and _same(ours, annotation, field):
            return said
    origin = get_origin(annotation)
    if origin is Annotated:
        for ours, said in _OURS:
            if annotation == ours:
                return said
        return kind_of(get_args(annotation)[0])
    if origin is Literal:
        shown = (
            f'`"{one}"`' if str(one).strip() == "" else f"`{one}`" for one in get_args(annotation)
        )
        return "one of " + ", ".join(shown)
    if origin in (Union, types.UnionType):
        parts = [one for one in get_args(annotation) if one is not type(None)]
        return " or ".join(dict.fromkeys(kind_of(one) for one in parts))
    if origin is tuple:
        return f"list of {kind_of(get_args(annotation)[0])}s"
    if origin is dict:
        return "table"
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return "table"
    return _PLAIN.get(annotation, "text")


def _same(ours: object, annotation: object, field: FieldInfo) -> bool:
    base, *marks = get_args(ours)
    return annotation is base and any(one is mark for one in field.metadata for mark in marks)


def _bounds(field: FieldInfo) -> str:
    said = []
    for one in field.metadata:
        for name, words in (("ge", "from"), ("gt", "above"), ("le", "to"), ("lt", "below")):
            edge = getattr(one, name, None)
            if edge is not None:
                said.append(f"{words} {edge}")
    return " ".join(said)


def kind_said(key: str, field: FieldInfo) -> str:
    """What may stand in a field, with its unit and bounds."""
    kind = kind_of(field.annotation, field)
    unit = next((said for end, said in _UNITS.items() if key.endswith(end)), "")
    if unit and kind in ("number", "whole number", "text"):
        kind = unit if kind != "whole number" else f"whole {unit}"
    return " ".join(filter(None, (kind, _bounds(field))))


def configuration() -> list[Told]:
    """Every key that every station may have, in the order of the file."""
    told = []
    for one in reference():
        name = one.key.rsplit(".", 1)[1]
        model = tables()[one.key.rsplit(".", 1)[0]]
        field = model.model_fields[name]
        where = f"description= of {name} in {model.__module__}"
        needed = field.is_required()
        told.append(
            Told(one.key, kind_said(name, field), one.default, one.description, where, needed)
        )
    return told


def of_driver(name: str) -> Iterator[Told]:
    """Every key that a driver takes in the table of its scale."""
    model = DRIVERS[name]
    for key, field in model.model_fields.items():
        default = "" if field.is_required() or field.default is None else _toml(field.default)
        meaning = field.description or ""
        where = f"description= of {key} in {model.__module__}"
        yield Told(key, kind_said(key, field), default, meaning, where, field.is_required())


def default_of(field: FieldInfo) -> str:
    """The default of a field as it would be written; that it has none."""
    if field.is_required():
        return "has to be given"
    if field.default is None or field.default_factory is not None:
        return ""
    if isinstance(field.default, BaseModel):
        return ""
    return code(_toml(field.default))


def _toml(value: Any) -> str:
    match value:
        case bool():
            return str(value).lower()
        case ():
            return "[]"
        case str():
            return f'"{value}"'
        case _:
            return str(value)


def _rows(keys: list[Told]) -> str:
    return table(
        ("key", "what it is", "default", "meaning"),
        (
            (
                code(one.key),
                one.kind,
                "has to be given" if one.needed else code(one.default),
                one.meaning,
            )
            for one in keys
        ),
    )


def made() -> str:
    """All keys, a table for each table of the file."""
    parts = []
    every = configuration()
    for name in dict.fromkeys(one.key.rsplit(".", 1)[0] for one in every):
        own = [one for one in every if one.key.rsplit(".", 1)[0] == name]
        heading = f"[[{name}]]" if name.endswith("masses") else f"[{name}]"
        parts.append(f"### `{heading}`\n\n{_rows(own)}")
    return "\n".join(parts)


def made_of_drivers() -> str:
    """The keys of each driver, a table each."""
    return "\n".join(
        f'### `driver = "{name}"`\n\n{_rows(list(of_driver(name)))}' for name in DRIVERS
    )
