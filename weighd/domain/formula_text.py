"""Formula files: TOML text in, a :class:`Formula` out, or an error that names line and field."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from weighd.domain.errors import FormulaError
from weighd.domain.facts_text import FIELDS, read_facts
from weighd.domain.formula import (
    LARGEST_G,
    MOST_ADDITIONS,
    Addition,
    Formula,
    Ingredient,
    is_by_difference,
    read_amount,
    read_tolerance,
    revision_of,
)
from weighd.domain.heat_tables import HeatTable
from weighd.domain.process import ProcessStep
from weighd.domain.process_text import each_step, read_steps
from weighd.domain.product import read_product
from weighd.domain.substitutes import FIELD as INSTEAD
from weighd.domain.substitutes import contradiction, read_substitutes
from weighd.domain.toml_text import Path, TomlError, dotted, line_of, lines, load

_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_LONGEST_NAME = 120
_LONGEST_NOTE = 2000
#: C0 and C1 controls and the marks that reorder text: none belongs in a name on a record.
_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")


def is_id(text: str) -> bool:
    """Whether this can name a formula or an ingredient: nothing of it can lead to another file."""
    return _ID.fullmatch(text) is not None


class _Reader:
    """One document being read: knows its file and where each key stands."""

    def __init__(
        self, document: Mapping[str, Any], file: str, where: dict[Path, int] | None = None
    ) -> None:
        self.document, self.file, self.where = document, file, where or {}

    @classmethod
    def of_text(cls, text: str, file: str) -> _Reader:
        """Raises FormulaError for what is no TOML."""
        return cls(read_toml(text, file), file, lines(text))

    def wrong(self, path: Path, message: str, code: str = "bad-field") -> FormulaError:
        line = line_of(self.where, path)
        place = f"{self.file}, line {line}" if line else self.file
        return FormulaError(code, f"{message}.", where=f"{place}, {dotted(path)}")

    def known(self, table: Mapping[str, Any], path: Path, allowed: tuple[str, ...]) -> None:
        for key in table:
            if key not in allowed:
                raise self.wrong(
                    (*path, key),
                    f'"{key}" is not a field here; the fields are {", ".join(allowed)}',
                    "unknown-field",
                )

    def string(
        self,
        table: Mapping[str, Any],
        path: Path,
        key: str,
        *,
        needed: bool = False,
        longest: int = _LONGEST_NAME,
    ) -> str:
        value = table.get(key, "")
        if not isinstance(value, str):
            raise self.wrong((*path, key), f'"{key}" must be text in quotes')
        value = value.strip()
        if needed and not value:
            raise self.wrong((*path, key), f'"{key}" is missing or empty', "missing-field")
        if len(value) > longest:
            raise self.wrong((*path, key), f'"{key}" is longer than {longest} characters')
        if _CONTROL.search(value):
            raise self.wrong((*path, key), f'"{key}" holds control characters')
        return value

    def strings(self, table: Mapping[str, Any], path: Path, key: str) -> tuple[str, ...]:
        value = table.get(key, [])
        if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
            raise self.wrong((*path, key), f'"{key}" must be a list of texts')
        for one in value:
            if len(one) > _LONGEST_NOTE or _CONTROL.search(one):
                raise self.wrong((*path, key), f'"{key}" holds a text that cannot be shown')
        return tuple(one.strip() for one in value if one.strip())

    def tables(self, table: Mapping[str, Any], path: Path, key: str) -> Mapping[str, Any]:
        value = table.get(key, {})
        if not isinstance(value, dict):
            raise self.wrong((*path, key), f'"{key}" must be a table')
        return value


def read_toml(text: str, file: str) -> dict[str, Any]:
    """The values in a text. Raises :class:`FormulaError` naming file and line."""
    try:
        return load(text)
    except TomlError as error:
        place = f"{file}, line {error.line}" if error.line else file
        raise FormulaError(
            "not-toml", f"This is not readable TOML: {error}.", where=place
        ) from error


def read_ingredients(text: str, file: str) -> dict[str, Ingredient]:
    """An ingredient list: one table ``[ingredients.ID]`` for each. Raises FormulaError."""
    return _ingredient_list(_Reader.of_text(text, file), {})


def ingredients_of(
    document: Mapping[str, Any], file: str, others: Mapping[str, Ingredient] | None = None
) -> dict[str, Ingredient]:
    """:func:`read_ingredients` of what a text would hold; errors name no line.

    ``others``  what is known beside it.
    """
    return _ingredient_list(_Reader(document, file), others or {})


def _ingredient_list(reader: _Reader, others: Mapping[str, Ingredient]) -> dict[str, Ingredient]:
    reader.known(reader.document, (), ("ingredients", "scenario"))
    own = _ingredients(reader)
    _substitutes(reader, own, {**others, **own})
    return own


def read_formula(
    text: str,
    file: str,
    ingredients: Mapping[str, Ingredient] | None = None,
    heat_tables: Mapping[str, HeatTable] | None = None,
) -> Formula:
    """The formula in ``text``; ``file`` names it in errors and, less its ending, is its id.

    ``ingredients`` are those the kitchen knows; the file may define more of its own.
    ``heat_tables`` are the published heat treatments that its steps may follow.
    Raises :class:`FormulaError` naming file, line and field.
    """
    return _formula(_Reader.of_text(text, file), ingredients or {}, heat_tables or {})


def formula_of(
    document: Mapping[str, Any],
    file: str,
    ingredients: Mapping[str, Ingredient] | None = None,
    heat_tables: Mapping[str, HeatTable] | None = None,
) -> Formula:
    """:func:`read_formula` of what a text would hold; errors name no line."""
    return _formula(_Reader(document, file), ingredients or {}, heat_tables or {})


def faults(
    document: Mapping[str, Any],
    file: str,
    ingredients: Mapping[str, Ingredient] | None = None,
    heat_tables: Mapping[str, HeatTable] | None = None,
) -> list[FormulaError]:
    """All that is wrong with a formula's additions and steps, one error each; else the first of
    the rest."""
    reader = _Reader(document, file)
    rows = document.get("additions")
    found: list[FormulaError] = []
    if isinstance(rows, list) and len(rows) <= MOST_ADDITIONS:
        known = {**(ingredients or {})}
        try:
            known |= _ingredients(reader)
        except FormulaError as error:
            return [error]
        for index, row in enumerate(rows):
            try:
                if isinstance(row, Mapping):
                    _addition(reader, index, row, known)
            except FormulaError as error:
                found.append(error)
    try:
        read = each_step(reader, document, heat_tables or {})
        found += [one for one in read if isinstance(one, FormulaError)]
    except FormulaError as error:
        found.append(error)
    if not found:
        try:
            _formula(reader, ingredients or {}, heat_tables or {})
        except FormulaError as error:
            found.append(error)
    return found


def steps_of(
    document: Mapping[str, Any], file: str, heat_tables: Mapping[str, HeatTable]
) -> list[ProcessStep | FormulaError]:
    """The steps of what a text would hold, each by itself: the step, or what is wrong with it.

    Raises :class:`FormulaError` for what is no list of steps, or too long a one.
    """
    return each_step(_Reader(document, file), document, heat_tables)


def _formula(
    reader: _Reader, ingredients: Mapping[str, Ingredient], heat_tables: Mapping[str, HeatTable]
) -> Formula:
    document, file = reader.document, reader.file
    identity = re.sub(r"\.toml$", "", file.rpartition("/")[2])
    if not is_id(identity):
        raise FormulaError(
            "bad-file-name",
            f'"{identity}" cannot name a formula; use lower-case letters, digits and hyphens.',
            where=file,
        )
    if not document:
        raise FormulaError(
            "empty-formula", "The file is empty.", where=file, remedy="Give a name and additions."
        )
    reader.known(
        document,
        (),
        (
            *("name", "note", "scenario", "kind", "cautions"),
            *("product", "ingredients", "additions", "steps"),
        ),
    )
    name = reader.string(document, (), "name", needed=True)
    own = _ingredients(reader)
    known = {**ingredients, **own}
    _substitutes(reader, own, known)
    rows = document.get("additions")
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        raise reader.wrong(
            ("additions",), "a formula needs at least one [[additions]]", "missing-field"
        )
    if len(rows) > MOST_ADDITIONS:
        raise reader.wrong(
            ("additions",), f"{len(rows)} additions are too many; {MOST_ADDITIONS} at most"
        )
    additions = tuple(_addition(reader, index, row, known) for index, row in enumerate(rows))
    _carriers(reader, additions)
    if sum((one.target_g for one in additions), Decimal(0)) > LARGEST_G:
        raise reader.wrong(("additions",), f"the amounts add up to more than {LARGEST_G} g")
    formula = Formula(
        identity,
        name,
        additions,
        reader.string(document, (), "note", longest=_LONGEST_NOTE),
        reader.string(document, (), "scenario", longest=_LONGEST_NOTE),
        reader.strings(document, (), "cautions"),
        kind=reader.string(document, (), "kind"),
        steps=read_steps(reader, document, heat_tables),
        product=read_product(document, reader.wrong),
    )
    return replace(formula, revision=revision_of(formula.content()))


def _ingredients(reader: _Reader) -> dict[str, Ingredient]:
    out = {}
    tables = reader.tables(reader.document, (), "ingredients")
    for identity, table in tables.items():
        path: Path = ("ingredients", identity)
        if not _ID.fullmatch(identity):
            raise reader.wrong(
                path,
                f'"{identity}" cannot name an ingredient; '
                "use lower-case letters, digits and hyphens",
            )
        if not isinstance(table, dict):
            raise reader.wrong(path, "an ingredient is a table with a name")
        reader.known(table, path, ("name", "allergens", "caution", *FIELDS, INSTEAD))
        out[identity] = Ingredient(
            identity,
            reader.string(table, path, "name", needed=True),
            reader.strings(table, path, "allergens"),
            reader.string(table, path, "caution", longest=_LONGEST_NOTE),
            read_facts(table, path, reader.wrong),
            read_substitutes(table, path, reader.wrong),
        )
    return out


def _substitutes(
    reader: _Reader, own: Mapping[str, Ingredient], known: Mapping[str, Ingredient]
) -> None:
    """What stands in for an ingredient of this file is known, and the rules agree with another."""
    if not any(one.instead for one in own.values()):
        return
    for one in own.values():
        for n, rule in enumerate(one.instead):
            if rule.ingredient not in known:
                raise reader.wrong(
                    ("ingredients", one.id, INSTEAD, n, "ingredient"),
                    f'no ingredient is called "{rule.ingredient}"',
                    "unknown-ingredient",
                )
    if found := contradiction({one.id: one.instead for one in known.values()}):
        identity, n = found.rule
        raise reader.wrong(
            ("ingredients", identity, INSTEAD, n, "ratio"), str(found), "circular-substitutes"
        )


def _addition(
    reader: _Reader, index: int, row: Mapping[str, Any], known: Mapping[str, Ingredient]
) -> Addition:
    path: Path = ("additions", index)
    reader.known(row, path, ("ingredient", "target", "tolerance", "method", "carrier"))
    identity = reader.string(row, path, "ingredient", needed=True)
    if identity not in known:
        raise reader.wrong(
            (*path, "ingredient"),
            f'no ingredient is called "{identity}"; '
            f"add [ingredients.{identity}] here or to the ingredient list",
            "unknown-ingredient",
        )
    try:
        target = read_amount(reader.string(row, path, "target", needed=True))
    except ValueError as error:
        raise reader.wrong((*path, "target"), str(error), "bad-amount") from error
    try:
        tolerance = read_tolerance(reader.string(row, path, "tolerance", needed=True))
    except ValueError as error:
        raise reader.wrong((*path, "tolerance"), str(error), "bad-tolerance") from error
    if tolerance.band(target)[0] <= 0:
        raise reader.wrong(
            (*path, "tolerance"),
            f'the tolerance "{tolerance.text}" is as large as the amount itself',
            "bad-tolerance",
        )
    try:
        by_difference = is_by_difference(reader.string(row, path, "method"))
    except ValueError as error:
        raise reader.wrong((*path, "method"), str(error), "bad-method") from error
    carrier = reader.string(row, path, "carrier")
    return Addition(known[identity], target, tolerance, by_difference, carrier)


def _carriers(reader: _Reader, additions: tuple[Addition, ...]) -> None:
    """A carrier is another ingredient that the formula weighs in."""
    weighed = {one.ingredient.id for one in additions}
    for index, one in enumerate(additions):
        if one.carrier and one.carrier not in weighed - {one.ingredient.id}:
            raise reader.wrong(
                ("additions", index, "carrier"),
                f'"{one.carrier}" cannot carry the {one.ingredient.name}; '
                "a carrier is another ingredient that this formula weighs in",
                "unknown-carrier",
            )
