"""Ingredients from a table in CSV, as suppliers and spreadsheets give them.

1. The first row names the columns: ``name`` is needed; ``id``, ``allergens`` (separated by ``;`` or
   ``|``), ``caution``, the facts, the parts and values inside parts by their own names, each kind
   of sugar as ``sugars.KIND``, and ``sugars`` for a total of kinds not known.
2. Columns stand apart by ``;``, tab or ``,``, whichever the first row has most of. A decimal comma
   is read as one; where commas part the columns such a number stands in quotes.
3. An empty cell, ``-`` or ``n/a`` is missing. Anything else that is no number is an error.
"""

from __future__ import annotations

import csv
import json
import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from weighd.domain.errors import FormulaError
from weighd.domain.facts import OF_WHICH, PARTS, SUGARS
from weighd.domain.facts_text import read_facts
from weighd.domain.facts_text import written as facts_written
from weighd.domain.formula import Ingredient
from weighd.domain.substitutes import FIELD as INSTEAD
from weighd.domain.substitutes import written
from weighd.domain.sugars import KINDS
from weighd.domain.toml_text import Path

if TYPE_CHECKING:
    from _csv import Reader as _Reader

#: So many make a list that is still read as one: it is kept well below 256 kB.
LARGEST, MOST_ROWS = 1_000_000, 400
_TEXTS = ("id", "name", "allergens", "caution", "supplier_code", "source")
_DAYS = ("shelf_life_days", "shelf_life_opened_days")
_NUMBERS = ("cost_per_kg", "density_g_ml", *_DAYS)
_COMPOSITION = (*PARTS, SUGARS, *(f"{SUGARS}.{kind}" for kind in KINDS), *OF_WHICH)
#: Every column that is understood.
COLUMNS = (*_TEXTS, *_NUMBERS, *_COMPOSITION)
_MISSING = ("", "-", "–", "—", "n/a", "na")
_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_CONTROL = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table: its line, its cells, and the ingredient that it is, or what is wrong."""

    line: int
    cells: tuple[str, ...]
    ingredient: Ingredient | None
    error: FormulaError | None


@dataclass(frozen=True, slots=True)
class Look:
    """A table looked over: columns as written, those that are not understood, and the rows."""

    columns: tuple[str, ...]
    strange: tuple[str, ...]
    rows: tuple[Row, ...]

    @property
    def understood(self) -> dict[str, Ingredient]:
        """The ingredients that can be used, by their ids."""
        return {row.ingredient.id: row.ingredient for row in self.rows if row.ingredient}


def look(text: str, file: str) -> Look:
    """A table, whatever it holds: what is not understood is kept with what is wrong with it.

    Columns that are not known are left aside. Raises :class:`FormulaError` where nothing of it can
    be read as a table of ingredients.
    """
    columns, rows = _table(text, file)
    heads = _columns(columns, file, strict=False)
    strange = tuple(
        column for column, head in zip(columns, heads, strict=True) if head not in COLUMNS
    )
    out: list[Row] = []
    seen: set[str] = set()
    for line, row in _rows(rows, file):
        try:
            one = _ingredient(_cells(heads, row, file, line), file, line)
            if one.id in seen:
                raise _wrong(file, line, "id", f'"{one.id}" is there twice')
            seen.add(one.id)
            out.append(Row(line, tuple(row), one, None))
        except FormulaError as error:
            out.append(Row(line, tuple(row), None, error))
    return Look(tuple(columns), strange, tuple(out))


def read_csv(text: str, file: str) -> dict[str, Ingredient]:
    """The ingredients in a table, by their ids.

    Raises :class:`FormulaError` naming file, line and column.
    """
    columns, rows = _table(text, file)
    heads = _columns(columns, file, strict=True)
    out: dict[str, Ingredient] = {}
    for line, row in _rows(rows, file):
        one = _ingredient(_cells(heads, row, file, line), file, line)
        if one.id in out:
            raise _wrong(file, line, "id", f'"{one.id}" is there twice')
        out[one.id] = one
    if not out:
        raise _wrong(file, 2, "", "there is no ingredient below the names of the columns")
    return out


def _table(text: str, file: str) -> tuple[list[str], _Reader]:
    if len(text) > LARGEST:
        raise _wrong(file, 0, "", "the file is too large for a list of ingredients")
    lines = text.removeprefix("\ufeff").splitlines(keepends=True)
    if not lines or not lines[0].strip():
        raise _wrong(file, 1, "", "the first row must name the columns")
    rows = csv.reader(lines, delimiter=max(";\t,", key=lines[0].count), strict=True)
    try:
        return [cell.strip() for cell in next(rows)], rows
    except csv.Error as error:
        raise _wrong(file, 1, "", f"this is not readable CSV ({error})") from error


def _rows(rows: _Reader, file: str) -> Iterator[tuple[int, list[str]]]:
    count = 0
    try:
        for row in rows:
            if any(cell.strip() for cell in row):
                yield rows.line_num, row
            count += 1
            if count > MOST_ROWS:
                raise _wrong(file, rows.line_num, "", f"more than {MOST_ROWS} ingredients")
    except csv.Error as error:
        raise _wrong(file, rows.line_num, "", f"this is not readable CSV ({error})") from error


def _cells(heads: Sequence[str], row: Sequence[str], file: str, line: int) -> dict[str, str]:
    if len(row) > len(heads):
        raise _wrong(
            file,
            line,
            "",
            f"{len(row)} cells in {len(heads)} columns; where commas part them, a number "
            "with a decimal comma stands in quotes",
        )
    return dict(zip(heads, (cell.strip() for cell in row), strict=False))


def as_toml(ingredients: Mapping[str, Ingredient]) -> str:
    """The same as an ingredient list in TOML, which reads back as the same."""
    out = []
    for one in ingredients.values():
        out += [f"[ingredients.{one.id}]", f"name = {_quoted(one.name)}"]
        if one.allergens:
            out.append(f"allergens = [{', '.join(_quoted(each) for each in one.allergens)}]")
        if one.caution:
            out.append(f"caution = {_quoted(one.caution)}")
        fields = facts_written(one.facts) if one.facts else {}
        composition = fields.pop("composition", {})
        out += [f"{key} = {_plain(key, value)}" for key, value in fields.items()]
        for rule in written(one.instead):
            out.append(f"[[ingredients.{one.id}.{INSTEAD}]]")
            out += [f"{key} = {_plain(key, value)}" for key, value in rule.items()]
        if composition:
            out.append(f"[ingredients.{one.id}.composition]")
            out += [f"{key} = {value}" for key, value in composition.items() if key != SUGARS]
            if SUGARS in composition:
                kinds = ", ".join(
                    f"{kind} = {grams}" for kind, grams in composition[SUGARS].items()
                )
                out.append(f"sugars = {{ {kinds} }}" if kinds else "sugars = {}")
        out.append("")
    return "\n".join(out)


def _columns(named: Sequence[str], file: str, *, strict: bool) -> list[str]:
    columns = [cell.lower().replace(" ", "_") for cell in named]
    for column in columns if strict else ():
        if column not in COLUMNS:
            raise _wrong(
                file,
                1,
                column[:40],
                f'"{column[:40]}" is not a column here; the columns are {", ".join(COLUMNS)}',
            )
    known = [column for column in columns if column in COLUMNS]
    if len(set(known)) < len(known):
        raise _wrong(file, 1, "", "a column is named twice")
    if "name" not in columns:
        raise _wrong(file, 1, "name", 'there is no column "name"')
    return columns


def _ingredient(cells: Mapping[str, str], file: str, line: int) -> Ingredient:
    for column in _TEXTS:
        if _CONTROL.search(cells.get(column, "")) or len(cells.get(column, "")) > 300:
            raise _wrong(file, line, column, "this cannot be shown on a record")
    name = cells.get("name", "")
    if not name or len(name) > 120:
        raise _wrong(file, line, "name", "a name is missing, or longer than 120 characters")
    identity = cells.get("id", "") or _slug(name)
    if not identity:
        raise _wrong(
            file, line, "id", f'no id can be made from the name "{name[:40]}"; give one of its own'
        )
    if not _ID.fullmatch(identity):
        raise _wrong(
            file,
            line,
            "id",
            f'"{identity}" cannot name an ingredient; use lower-case letters, digits and hyphens',
        )
    named = {column: cell for column, cell in cells.items() if cell.lower() not in _MISSING}
    table = _facts(named, file, line)
    facts = read_facts(
        table,
        (),
        lambda path, message, _code: _wrong(file, line, _column(path), message),
    )
    allergens = tuple(
        one.strip() for one in re.split(r"[;|]", cells.get("allergens", "")) if one.strip()
    )
    return Ingredient(identity, name, allergens, cells.get("caution", ""), facts)


def _facts(named: Mapping[str, str], file: str, line: int) -> dict[str, Any]:
    """The row as the table that TOML would have."""
    table: dict[str, Any] = {
        key: named[key]
        for key in ("supplier_code", "source", "cost_per_kg", "density_g_ml")
        if key in named
    }
    for key in _DAYS:
        if key in named:
            days = named[key]
            table[key] = int(days) if re.fullmatch(r"[0-9]{1,6}", days) else days
    kinds = {kind: named[f"{SUGARS}.{kind}"] for kind in KINDS if f"{SUGARS}.{kind}" in named}
    if SUGARS in named:
        if kinds:
            raise _wrong(
                file, line, SUGARS, 'give either kinds of sugar or the total "sugars", not both'
            )
        kinds = {"unspecified": named[SUGARS]}
    composition: dict[str, Any] = {key: named[key] for key in (*PARTS, *OF_WHICH) if key in named}
    if kinds:
        composition[SUGARS] = kinds
    if composition:
        table["composition"] = composition
    return table


def _column(path: Path) -> str:
    column = ".".join(str(part) for part in path if part != "composition")
    return SUGARS if column == f"{SUGARS}.unspecified" else column


def _slug(name: str) -> str:
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")


def _wrong(file: str, line: int, column: str, message: str) -> FormulaError:
    place = f"{file}, line {line}" if line else file
    return FormulaError(
        "bad-ingredients", f"{message}.", where=f"{place}, {column}" if column else place
    )


def _quoted(text: str) -> str:
    """A TOML basic string, also of several lines: JSON's escapes are among its own."""
    return json.dumps(text, ensure_ascii=False)


def _plain(key: str, value: object) -> str:
    texts = ("supplier_code", "source", "ingredient", "note")
    return _quoted(str(value)) if key in texts else str(value)
