"""What the command line reads of targets: files of them, ingredients by their ids, a solver."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.formula import Formula, Ingredient
from weighd.domain.formula_text import read_formula, read_ingredients
from weighd.domain.formula_writing import formula_toml
from weighd.domain.problem import Solver
from weighd.domain.targets import Target, read_target, split_target
from weighd.domain.toml_text import TomlError, line_of, lines, load
from weighd.main.files import read_text, write_new
from weighd.main.shipped import read_shipped_table
from weighd.storage.shelf import heat_tables

LIST = "ingredients.toml"
_FIELDS = ("targets", "class", "aim", "overrun", "batch_g", "use")


def a_solver() -> Solver:
    """The solver of this installation; scipy is imported when it is given its first problem."""
    from weighd.solver.highs import Highs

    return Highs()


@dataclass(frozen=True, slots=True)
class Source:
    """A file that was named: a formula, or no formula but a list of ingredients."""

    formula: Formula | None
    known: Mapping[str, Ingredient]


def read_source(path: Path) -> Source:
    """A formula with the list beside it, or a list of ingredients. Raises FormulaError."""
    text = read_text(path)
    if "additions" not in _document(text, path):
        return Source(None, read_ingredients(text, str(path)))
    beside = path.parent / LIST
    known = read_ingredients(read_text(beside), str(beside)) if beside.is_file() else {}
    return Source(read_formula(text, str(path), known, heat_tables()), known)


def chosen(source: Source, use: Sequence[str]) -> dict[str, Ingredient]:
    """Ingredients by id: of the formula, of the list beside it, of the table that ships.

    Raises :class:`OperatorError`, ``unknown-ingredient``.
    """
    own = (
        {}
        if source.formula is None
        else {one.ingredient.id: one.ingredient for one in source.formula.additions}
    )
    shipped = read_shipped_table()
    out = {}
    for name in use:
        found = own.get(name) or source.known.get(name) or shipped.get(name)
        if found is None:
            raise OperatorError(
                "unknown-ingredient",
                f'No ingredient is called "{name[:60]}".',
                where="use",
                remedy=f"There are: {', '.join(sorted({*own, *source.known}))}; and those that "
                "`weighd ingredients table` lists.",
            )
        out[name] = found
    return out


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a file of targets says; empty where it does not."""

    targets: Mapping[str, str]
    kind: str = ""
    aim: str = ""
    overrun: str = ""
    batch_g: str = ""
    use: tuple[str, ...] = ()


def read_wanted(path: Path | None) -> Wanted:
    """A file of targets (TOML). Raises :class:`FormulaError` naming file, line and field."""
    if path is None:
        return Wanted({})
    text = read_text(path)
    document, where = _document(text, path), lines(text)

    def wrong(keys: tuple[str, ...], message: str) -> FormulaError:
        line = line_of(where, keys)
        place = f"{path}, line {line}" if line else str(path)
        return FormulaError("bad-field", f"{message}.", where=f"{place}, {'.'.join(keys)}")

    for key in document:
        if key not in _FIELDS:
            raise wrong((key,), f'"{key}" is not a field here; the fields are {", ".join(_FIELDS)}')
    table = document.get("targets", {})
    if not isinstance(table, dict):
        raise wrong(("targets",), '"targets" is a table, like fat = 5')
    use = document.get("use", [])
    if not isinstance(use, list) or not all(isinstance(one, str) for one in use):
        raise wrong(("use",), '"use" is a list of ingredients')
    told = {key: _plain(document.get(key, "")) for key in ("class", "aim", "overrun", "batch_g")}
    for key, value in told.items():
        if value is None:
            raise wrong((key,), f'"{key}" is a text or a number')
    flat = _flat(table)
    for key, value in flat.items():
        if _plain(value) is None:
            raise wrong(("targets", key), "a target is a number, or a text like 34..36")
    return Wanted(
        {key: _plain(value) or "" for key, value in flat.items()},
        told["class"] or "",
        told["aim"] or "",
        told["overrun"] or "",
        told["batch_g"] or "",
        tuple(use),
    )


def targets_of(
    wanted: Wanted, typed: Sequence[str], pool: Mapping[str, Ingredient]
) -> list[Target]:
    """The targets of a file and of the command line; what was typed goes first.

    Raises :class:`OperatorError`: ``bad-target``, ``unknown-quantity``.
    """
    given = [split_target(one) for one in typed]
    names = [name for name, _ in given]
    given += [(name, text) for name, text in wanted.targets.items() if name not in names]
    return [read_target(name, text, pool) for name, text in given]


def save_formula(path: Path, formula: Formula) -> None:
    """Write a formula to a new file; what it needs of ingredients, where no list beside has it.

    Raises :class:`OperatorError` where the file is there or cannot be written.
    """
    beside = path.parent / LIST
    known = read_ingredients(read_text(beside), str(beside)) if beside.is_file() else {}
    same = [
        one.ingredient.id
        for one in formula.additions
        if known.get(one.ingredient.id) == one.ingredient
    ]
    text = formula_toml(formula, same)
    read_formula(
        text, str(path), known, heat_tables()
    )  # a name that cannot be one is told before it is written
    write_new(path, text)


def read_grams(text: str, what: str) -> Decimal | None:
    """A size in grams, ``None`` for none given. Raises :class:`FormulaError`."""
    from weighd.domain.facts_text import number

    if not text:
        return None
    try:
        return number(text)
    except ValueError as error:
        raise FormulaError(
            "bad-batch-size", f'"{text[:40]}" is not a batch size.', where=what,
            remedy="Give it in grams, like 2400.",
        ) from error  # fmt: skip


def _document(text: str, path: Path) -> Mapping[str, Any]:
    try:
        return load(text)
    except TomlError as error:
        place = f"{path}, line {error.line}" if error.line else str(path)
        raise FormulaError(
            "not-toml", f"This is not readable TOML: {error}.", where=place
        ) from error


def _flat(table: Mapping[str, Any], ahead: str = "") -> dict[str, Any]:
    """``sugars.sucrose = 12`` is a table inside a table to TOML, and one name to us."""
    out: dict[str, Any] = {}
    for key, value in table.items():
        if isinstance(value, dict):
            out |= _flat(value, f"{ahead}{key}.")
        else:
            out[ahead + key] = value
    return out


def _plain(value: object) -> str | None:
    return (
        str(value) if isinstance(value, str | int | float) and not isinstance(value, bool) else None
    )
