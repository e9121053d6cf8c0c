"""What ships with weighd: compositions of ingredients, limits, and an invented kitchen to try."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from pathlib import Path

from weighd.domain.formula import Ingredient
from weighd.domain.formula_text import read_ingredients

TABLE = "compositions.toml"


@cache
def read_shipped_table() -> dict[str, Ingredient]:
    """The compositions that ship, by their ids."""
    return read_ingredients(shipped_text(TABLE), TABLE)


def shipped_text(name: str) -> str:
    """A file that ships."""
    return (files("weighd.data") / name).read_text("utf-8")


def record_schema() -> str:
    """The JSON Schema of records."""
    return shipped_text("record.schema.json")


def copy_of_the_kitchen(into: Path) -> Path:
    """The invented kitchen's files, copied to where they can be changed, unless they are there."""
    if not into.exists():
        into.mkdir(parents=True)
        for one in (files("weighd.data") / "formulas").iterdir():
            if one.name.endswith(".toml"):
                (into / one.name).write_bytes(one.read_bytes())
    return into
