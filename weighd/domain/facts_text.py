"""Facts of an ingredient out of a TOML table, and back; errors name the field."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

from weighd.domain.facts import SUGARS, FactError, Facts, checked
from weighd.domain.toml_text import Path

#: The fields of an ingredient that are facts.
FIELDS = (
    "composition",
    "density_g_ml",
    "cost_per_kg",
    "supplier_code",
    "shelf_life_days",
    "shelf_life_opened_days",
    "source",
)
_NUMBER = re.compile(r"[+-]?[0-9]{1,12}(?:[.,][0-9]{1,12})?", re.ASCII)
#: Heavier than osmium, or lighter than any liquid or powder in a kitchen: a slip of the keyboard.
_LIGHTEST, _HEAVIEST = Decimal("0.01"), Decimal(23)
_LONGEST_LIFE = 36500

#: Makes the error that a field is wrong: its path, what is wrong, a code.
Wrong = Callable[[Path, str, str], Exception]


def number(value: object) -> Decimal:
    """A number of TOML or its text, with a decimal point or comma; a float as it was written.

    Raises ``ValueError`` saying what is wrong with it.
    """
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise ValueError("must be a number")  # noqa: TRY004 -- one kind of error for a reader
    text = str(value).strip()
    if not _NUMBER.fullmatch(text):
        raise ValueError(f'"{text[:40]}" is not a plain number')
    return Decimal(text.replace(",", "."))


def read_facts(table: Mapping[str, Any], path: Path, wrong: Wrong) -> Facts | None:
    """The facts in an ingredient's table, ``None`` where there are none.

    ``path`` is the ingredient's. Raises what ``wrong`` makes, with the path of the field.
    """
    if not any(field in table for field in FIELDS):
        return None
    composition = table.get("composition", {})
    inside: Path = (*path, "composition")
    if not isinstance(composition, dict):
        raise wrong(inside, '"composition" must be a table of grams in 100 g', "bad-composition")
    stated, sugars = dict(composition), None
    if SUGARS in stated:
        kinds = stated.pop(SUGARS)
        if not isinstance(kinds, dict):
            raise wrong(
                (*inside, SUGARS),
                '"sugars" must be a table of kinds, like { sucrose = 12.5 }; write '
                "{ unspecified = 12.5 } where the kinds are not known",
                "bad-composition",
            )
        sugars = tuple(
            (kind, _read(value, (*inside, SUGARS, kind), wrong)) for kind, value in kinds.items()
        )
    parts = tuple((key, _read(value, (*inside, key), wrong)) for key, value in stated.items())
    facts = Facts(
        parts,
        sugars,
        _between(table, path, "density_g_ml", (_LIGHTEST, _HEAVIEST), wrong),
        _between(table, path, "cost_per_kg", (Decimal(0), Decimal(1_000_000)), wrong),
        _text(table, path, "supplier_code", wrong),
        _days(table, path, "shelf_life_days", wrong),
        _text(table, path, "source", wrong),
        _days(table, path, "shelf_life_opened_days", wrong),
    )
    try:
        return checked(facts)
    except FactError as error:
        raise wrong((*inside, *error.field), str(error), "bad-composition") from error


def written(facts: Facts) -> dict[str, Any]:
    """The fields of an ingredient's table that :func:`read_facts` reads as these facts."""
    composition: dict[str, Any] = {
        key: value for key, value in facts.content().items() if key != "density_g_ml"
    }
    out: dict[str, Any] = {
        "density_g_ml": facts.density_g_ml,
        "cost_per_kg": facts.cost_per_kg,
        "supplier_code": facts.supplier_code,
        "shelf_life_days": facts.shelf_life_days,
        "shelf_life_opened_days": facts.shelf_life_opened_days,
        "source": facts.source,
        "composition": composition,
    }
    return {key: value for key, value in out.items() if value not in (None, "", {})}


def _read(value: object, path: Path, wrong: Wrong) -> Decimal:
    try:
        return number(value)
    except ValueError as error:
        raise wrong(path, f"{error}; write grams in 100 g, like 3.25", "bad-composition") from error


def _between(
    table: Mapping[str, Any], path: Path, key: str, limits: tuple[Decimal, Decimal], wrong: Wrong
) -> Decimal | None:
    if key not in table:
        return None
    try:
        value = number(table[key])
    except ValueError as error:
        raise wrong((*path, key), f'"{key}": {error}', "bad-field") from error
    low, high = limits
    if not low <= value <= high:
        raise wrong((*path, key), f'"{key}" is {value}; it is from {low} to {high}', "bad-field")
    return value


def _days(table: Mapping[str, Any], path: Path, key: str, wrong: Wrong) -> int | None:
    value = table.get(key)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not 0 < value <= _LONGEST_LIFE:
        raise wrong((*path, key), f'"{key}" must be whole days above 0', "bad-field")
    return value


def _text(table: Mapping[str, Any], path: Path, key: str, wrong: Wrong) -> str:
    value = table.get(key, "")
    if not isinstance(value, str) or len(value) > 300 or not value.isprintable():
        raise wrong((*path, key), f'"{key}" must be a line of text in quotes', "bad-field")
    return value.strip()
