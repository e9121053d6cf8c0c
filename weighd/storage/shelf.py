"""The formulas of a kitchen: a folder of TOML files, read again when they change."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from decimal import Decimal
from functools import cache
from importlib.resources import files as resources
from importlib.resources.abc import Traversable
from pathlib import Path

from weighd.domain.against_plan import Prices
from weighd.domain.errors import FormulaError
from weighd.domain.formula import Formula, Ingredient
from weighd.domain.formula_text import read_formula, read_ingredients
from weighd.domain.heat_tables import HeatTable, read_tables
from weighd.domain.limits import ProductClass, read_limits

#: A formula is a page of text; a larger file is something else and is not read.
LARGEST_BYTES = 256 * 1024
INGREDIENTS, LIMITS = "ingredients.toml", "limits.toml"
HEAT_TABLES = "heat_treatments.toml"
#: Files beside the formulas that are none.
OTHERS = (INGREDIENTS, LIMITS)


class FormulaShelf:
    """Formulas from a folder. Every file stands or falls by itself: one bad file hides no other.

    ``met``  called with all formulas whenever they were read anew.
    """

    def __init__(
        self,
        folder: Path | Traversable,
        met: Callable[[Iterable[Formula]], None] = lambda _formulas: None,
    ) -> None:
        self._folder = folder
        self._met = met
        self._shelved = _Shelved({}, (), None)
        self._limits: tuple[object, Mapping[str, ProductClass]] | None = None

    def all(self) -> tuple[Sequence[Formula], Sequence[FormulaError]]:
        """Every formula by name, and what is wrong with the files that are not one."""
        shelved = self._read()
        return sorted(shelved.good.values(), key=lambda one: one.name.casefold()), shelved.bad

    def get(self, identity: str) -> Formula:
        """One formula. Raises :class:`FormulaError` when there is none, or its file is bad."""
        shelved = self._read()
        if identity in shelved.good:
            return shelved.good[identity]
        for error in shelved.bad:
            if error.where.startswith(f"{identity}.toml"):
                raise error
        raise FormulaError("unknown-formula", f'No formula is called "{identity}".')

    def kinds(self) -> Mapping[str, ProductClass]:
        """The limits of each kind of product: the kitchen's own, else those that ship.

        Read again only when the file changed.

        Raises :class:`ConfigError` or :class:`FormulaError` for a file that is none.
        """
        own = self._folder / LIMITS
        file = own if own.is_file() else resources("weighd.data") / LIMITS
        stamps = stamps_of([file])
        if stamps is None or self._limits is None or self._limits[0] != stamps:
            self._limits = (stamps, read_limits(text_of(file), file.name))
        return self._limits[1]

    def prices(self, identity: str) -> Prices:
        """What the ingredients cost today: those of a formula, where it is still here, and all
        that the kitchen knows; with the day since which their files say so."""
        shelved = self._read()
        formula = shelved.good.get(identity)
        found = prices_of(shelved.known)
        if formula is not None:
            found |= prices_of({one.ingredient.id: one.ingredient for one in formula.additions})
        return Prices(found, date_of(self._folder / INGREDIENTS, self._folder / f"{identity}.toml"))

    def _read(self) -> _Shelved:
        """The newest reading of the folder, replaced whole: no thread sees half of one."""
        try:
            files = sorted(
                (one for one in self._folder.iterdir() if one.name.endswith(".toml")),
                key=lambda one: one.name,
            )
        except OSError as error:
            missing = FormulaError(
                "no-formulas",
                f"The folder of formulas cannot be read: {error.strerror or error}.",
                where=str(self._folder),
                remedy="Make it, or name another in the configuration.",
            )
            return _Shelved({}, (missing,), None)
        stamps = stamps_of(files)
        if stamps is None or stamps != self._shelved.stamps:
            self._shelved = _read_all(files, stamps)
            self._met(self._shelved.good.values())
        return self._shelved


@dataclass(frozen=True, slots=True)
class _Shelved:
    good: Mapping[str, Formula]
    bad: tuple[FormulaError, ...]
    stamps: object
    known: Mapping[str, Ingredient] = field(default_factory=dict)


def prices_of(known: Mapping[str, Ingredient]) -> dict[str, Decimal]:
    """The prices of a kilogram of each that has one."""
    return {
        name: one.facts.cost_per_kg
        for name, one in known.items()
        if one.facts is not None and one.facts.cost_per_kg is not None
    }


def date_of(*files: Path | Traversable) -> str:
    """The day (UTC) on which the newest of files was last changed; empty where none says."""
    newest = 0.0
    for one in files:
        if isinstance(one, Path):
            with suppress(OSError):
                newest = max(newest, one.stat().st_mtime)
    return datetime.fromtimestamp(newest, UTC).date().isoformat() if newest else ""


def _read_all(files: Sequence[Path | Traversable], stamps: object) -> _Shelved:
    good: dict[str, Formula] = {}
    bad: list[FormulaError] = []
    known: dict[str, Ingredient] = {}
    for file in files:
        if file.name == INGREDIENTS:
            try:
                known = read_ingredients(text_of(file), file.name)
            except FormulaError as error:
                bad.append(error)
    for file in files:
        if file.name in OTHERS:
            continue
        try:
            formula = read_formula(text_of(file), file.name, known, heat_tables())
        except FormulaError as error:
            bad.append(error)
        else:
            good[formula.id] = formula
    return _Shelved(good, tuple(bad), stamps, known)


@cache
def heat_tables() -> Mapping[str, HeatTable]:
    """The published heat treatments that ship, by their ids."""
    return read_tables(text_of(resources("weighd.data") / HEAT_TABLES), HEAT_TABLES)


def stamps_of(files: Sequence[Path | Traversable]) -> object:
    """What tells that a folder changed; ``None`` for files that cannot (in a zipped package)."""
    if not all(isinstance(one, Path) for one in files):
        return None
    out = []
    for one in files:
        assert isinstance(one, Path)
        try:
            stat = one.stat()
        except OSError:
            return None
        out.append((str(one), stat.st_ino, stat.st_mtime_ns, stat.st_size))
    return tuple(out)


def text_of(file: Path | Traversable) -> str:
    """The text of a formula file. Raises :class:`FormulaError` for what is none."""
    try:
        with file.open("rb") as stream:
            data = stream.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise FormulaError(
            "unreadable-file",
            f"The file cannot be read: {error.strerror or error}.",
            where=file.name,
        ) from error
    if len(data) > LARGEST_BYTES:
        raise FormulaError(
            "file-too-large",
            f"The file is larger than {LARGEST_BYTES // 1024} kB; it is not a formula.",
            where=file.name,
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise FormulaError(
            "not-text", "The file is not text in UTF-8.", where=f"{file.name}, line {line}"
        ) from error
