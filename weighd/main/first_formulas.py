"""The first formula of a kitchen: an invented example that ships, or a list that somebody pastes.

What is in the kitchen's folder already stands: nothing there is written over.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from decimal import Decimal
from importlib.resources import files
from pathlib import Path
from typing import Any

from weighd.domain import mass
from weighd.domain.errors import OperatorError
from weighd.domain.formula import Formula, Ingredient
from weighd.domain.pasted import Line, Outcome, Pasted
from weighd.domain.spelling import plain
from weighd.station.drafting import NO_FILE
from weighd.station.pasting import USUAL_TOLERANCE, draw_pasted, pasted
from weighd.storage.pantry import FilePantry
from weighd.storage.replacing import replace_file
from weighd.storage.shelf import INGREDIENTS, FormulaShelf

#: Stands in a formula whose ingredients have only their names.
UNKNOWN_ALLERGENS = (
    "Allergens were not entered: read the label of each ingredient, and enter them under "
    "Ingredients."
)
_LONGEST_ID = 60
#: An amount whose line says nothing may be off by so much at least, in grams: our own choice.
LEAST_G = Decimal("0.3")


class FirstFormulas:
    """The folder of a kitchen's formulas, and the examples that ship."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._shipped = files("weighd.data") / "formulas"
        self._examples = FormulaShelf(self._shipped)

    def examples(self) -> list[dict[str, Any]]:
        """The examples, ices that are weighed soonest first, as JSON values."""
        good, _ = self._examples.all()
        by_effort = sorted(good, key=lambda one: (len(one.steps), not one.kind, len(one.additions)))
        return [_drawn(one) for one in by_effort]

    def take(self, identity: str) -> str:
        """Copy an example with the ingredients that it needs; its id.

        Raises :class:`FormulaError`, ``unknown-formula``, and :class:`OperatorError`.
        """
        self._examples.get(identity)
        self._made()
        file = f"{identity}.toml"
        text = (self._shipped / file).read_text("utf-8")
        document = tomllib.loads(text)
        rows = document["additions"]
        needed = {one[key] for one in rows for key in ("ingredient", "carrier") if key in one}
        shipped = tomllib.loads((self._shipped / INGREDIENTS).read_text("utf-8"))["ingredients"]
        self._put({one: shipped[one] for one in sorted(needed)})
        if not (self._folder / file).exists():
            replace_file(self._folder / file, text, NO_FILE)
        return identity

    def read_list(self, text: str) -> dict[str, Any]:
        """What a pasted list is taken for, as JSON values. Raises :class:`FormulaError`."""
        read, known, new = self._read(text)
        return {**draw_pasted(read, known), "new": sorted(one.name for one in new.values())}

    def take_list(self, name: str, text: str) -> str:
        """Make a formula of a pasted list; its id. Raises FormulaError and OperatorError."""
        read, _, new = self._read(text)
        if not read.taken:
            raise OperatorError(
                "nothing-in-it",
                "No line of it gives an ingredient with its grams.",
                remedy='Write a line for each, like "820 g buttermilk".',
            )
        self._made()
        self._put({key: {"name": one.name} for key, one in new.items()})
        document: dict[str, Any] = {
            "name": name,
            "additions": [
                {
                    "ingredient": one.ingredient,
                    "target": one.amount,
                    "tolerance": _tolerance(one),
                }
                for one in read.taken
            ],
        }
        if new:
            document["cautions"] = [UNKNOWN_ALLERGENS]
        identity = self._free(name)
        FilePantry(self._folder).put_formula(identity, document, {}, NO_FILE)
        return identity

    # --- inside -------------------------------------------------------------------------------

    def _made(self) -> None:
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise OperatorError(
                "cannot-write",
                f"The folder {self._folder} cannot be made: {error.strerror or error}.",
                where=str(self._folder),
                remedy="See that weighd may write there, then try again.",
            ) from error

    def _known(self) -> Mapping[str, Ingredient]:
        return FilePantry(self._folder).ingredients()[0]

    def _put(self, tables: Mapping[str, Mapping[str, Any]]) -> None:
        """Add the ingredients that the kitchen has not."""
        pantry = FilePantry(self._folder)
        known, tag = pantry.ingredients()
        missing = {key: one for key, one in tables.items() if key not in known}
        if missing:
            pantry.put_ingredients(missing, tag)

    def _read(self, text: str) -> tuple[Pasted, dict[str, Ingredient], dict[str, Ingredient]]:
        """The list; all ingredients with those that it brings; and these alone."""
        known = dict(self._known())
        new: dict[str, Ingredient] = {}
        for line in pasted(text, known).lines:
            if line.outcome is Outcome.NOT_UNDERSTOOD and line.name and line.amount_g is not None:
                identity = _slug(line.name) or f"ingredient-{line.n}"
                if identity not in known:
                    new[identity] = Ingredient(identity, line.name)
        said = {one.name: key for key, one in new.items()}
        return pasted(text, known | new, said), known | new, new

    def _free(self, name: str) -> str:
        first = _slug(name) or "formula"
        names = (first, *(f"{first}-{n}" for n in range(2, 1000)))
        taken = ("ingredients", "limits")
        return next(
            one for one in names if one not in taken and not (self._folder / f"{one}.toml").exists()
        )


def _slug(name: str) -> str:
    """An id of a name: letters and digits without accents, parted by hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", plain(name)).strip("-")[:_LONGEST_ID].strip("-")


def _tolerance(one: Line) -> str:
    """What a line allows; without a word of it a hundredth, and what a kitchen scale can tell."""
    assert one.amount_g is not None
    small = one.amount_g <= 2 * LEAST_G
    return one.tolerance or (
        USUAL_TOLERANCE if small else f"{USUAL_TOLERANCE}, at least {LEAST_G} g"
    )


def _drawn(one: Formula) -> dict[str, Any]:
    return {
        "id": one.id,
        "name": one.name,
        "note": one.note,
        "batch_g": mass.text(one.batch_g),
        "additions": len(one.additions),
        "steps": len(one.steps),
        "allergens": list(one.allergens),
    }
