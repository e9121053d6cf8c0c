"""The files of a kitchen, changed: ingredients, formulas, limits.

1. A change is made of the file as it is, read anew; it names the tag of what it was made from, and
   is refused where the file is another by now.
2. What would be written is read first by the reader of such files, together with every formula
   that can be made; a change that would spoil one of them is refused. Nothing is written then.
3. What no change touches stays in the file as it was written (:mod:`weighd.storage.toml_edit`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from importlib.resources import files as resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.formula import Formula, Ingredient
from weighd.domain.formula_text import (
    faults,
    formula_of,
    ingredients_of,
    is_id,
    read_formula,
    read_ingredients,
    read_toml,
)
from weighd.domain.heat_tables import HeatTable
from weighd.domain.limits import ProductClass, limits_of, read_limits
from weighd.station.drafting import NO_FILE, Origins, kept
from weighd.storage.replacing import changed, put_away, replace_file, tag_of
from weighd.storage.shelf import (
    INGREDIENTS,
    LARGEST_BYTES,
    LIMITS,
    OTHERS,
    heat_tables,
    stamps_of,
    text_of,
)
from weighd.storage.toml_edit import EditError, edited

#: Formulas that were taken away lie here, beside the others.
REMOVED = ".removed"
_LONGEST_ID = 80


class FilePantry:
    """The files in a folder. Used by one thread at a time."""

    def __init__(self, folder: Path | Traversable) -> None:
        self._folder = folder
        self._known: tuple[object, Mapping[str, Ingredient], str] | None = None

    @property
    def fixed(self) -> str:
        """Why nothing can be changed here; empty where it can."""
        if not isinstance(self._folder, Path):
            return "These formulas came with weighd and cannot be changed where they are."
        return ""

    # --- ingredients --------------------------------------------------------------------------

    def ingredients(self) -> tuple[Mapping[str, Ingredient], str]:
        """The kitchen's ingredients by their ids, and the file's tag. Raises FormulaError.

        Read again only when the file changed: a draft asks at every pause of somebody's typing.
        """
        place = self._folder / INGREDIENTS
        stamps = stamps_of([place])
        if stamps is None or self._known is None or self._known[0] != stamps:
            text, tag = self._text(INGREDIENTS)
            self._known = (stamps, read_ingredients(text, INGREDIENTS), tag)
        return self._known[1], self._known[2]

    def users(self) -> Mapping[str, Sequence[str]]:
        """Of each of the kitchen's ingredients the ids of the formulas that weigh it in."""
        out: dict[str, list[str]] = {}
        for formula, document in self._documents():
            own, rows = document.get("ingredients"), document.get("additions")
            for row in rows if isinstance(rows, list) else ():
                one = row.get("ingredient") if isinstance(row, Mapping) else None
                if isinstance(one, str) and not (isinstance(own, Mapping) and one in own):
                    users = out.setdefault(one, [])
                    users += [] if formula in users else [formula]
        return out

    def put_ingredients(self, tables: Mapping[str, Mapping[str, Any]], tag: str) -> str:
        """Add ingredients, or change those of these ids; the file's new tag.

        Raises :class:`FormulaError` naming the field that is wrong, and :class:`OperatorError`.
        """
        for identity in tables:
            _named(identity, "an ingredient")

        def change(document: dict[str, Any]) -> None:
            held = document.get("ingredients")
            held = dict(held) if isinstance(held, Mapping) else {}
            for identity, table in tables.items():
                held[identity] = kept(held.get(identity), table)
            document["ingredients"] = held

        return self._change(INGREDIENTS, tag, change, self._check_ingredients)

    def remove_ingredient(self, identity: str, tag: str) -> str:
        """Take an ingredient out of the list; the file's new tag.

        Raises :class:`OperatorError`: ``ingredient-in-use`` naming what still needs it,
        ``unknown-ingredient`` where there is none.
        """
        known, _ = self.ingredients()
        if identity not in known:
            raise FormulaError("no-ingredient", f'No ingredient is called "{identity}".')
        needed = [f"the formula {one}" for one in self.users().get(identity, ())]
        needed += [
            f"a rule of {one.name}"
            for one in known.values()
            if any(rule.ingredient == identity for rule in one.instead)
        ]
        if needed:
            raise OperatorError(
                "ingredient-in-use",
                f"{known[identity].name} is needed by {', '.join(needed)}.",
                where=identity,
                remedy="Take it out there first.",
            )

        def change(document: dict[str, Any]) -> None:
            rest = {k: v for k, v in document["ingredients"].items() if k != identity}
            document["ingredients"] = rest
            if not rest:
                del document["ingredients"]

        return self._change(INGREDIENTS, tag, change, self._check_ingredients)

    def _check_ingredients(self, document: Mapping[str, Any]) -> None:
        """The list can be read, and so can every formula that could be before."""
        known = ingredients_of(document, INGREDIENTS)
        try:
            before, _ = self.ingredients()
        except FormulaError:
            before = {}
        for formula, held in self._documents():
            file = f"{formula}.toml"
            published = heat_tables()
            wrong = faults(held, file, known, published)
            if wrong and not faults(held, file, before, published):
                raise OperatorError(
                    "formula-would-break",
                    f"The formula {formula} could not be read any more: {wrong[0]}",
                    where=formula,
                    remedy="Change the formula first.",
                )

    # --- formulas -----------------------------------------------------------------------------

    def source(self, identity: str) -> tuple[Mapping[str, Any], str]:
        """A formula's file as it is, and its tag.

        Raises FormulaError where there is none, or it is no TOML.
        """
        file = self._formula_file(identity)
        if not (self._folder / file).is_file():
            raise FormulaError("unknown-formula", f'No formula is called "{identity}".')
        text, tag = self._text(file)
        return read_toml(text, file), tag

    def draft(self, identity: str, document: Mapping[str, Any]) -> Formula:
        """What a document would be as a formula of this kitchen. Raises FormulaError."""
        known, _ = self.ingredients()
        return formula_of(document, f"{identity}.toml", known, heat_tables())

    def heat_tables(self) -> Mapping[str, HeatTable]:
        """The published heat treatments that steps may follow, by their ids."""
        return heat_tables()

    def faults(self, identity: str, document: Mapping[str, Any]) -> list[FormulaError]:
        """All that is wrong with such a document."""
        known, _ = self.ingredients()
        return faults(document, f"{identity}.toml", known, heat_tables())

    def put_formula(
        self,
        identity: str,
        document: Mapping[str, Any],
        origins: Origins,
        tag: str,
        like: str = "",
    ) -> str:
        """Write a formula; ``tag`` is :data:`NO_FILE` for a new one. The file's new tag.

        ``origins`` says which addition and which step each was before; a new one begins as a copy
        of the file of ``like``. Raises FormulaError and OperatorError.
        """
        _named(identity, "a formula")
        file = self._formula_file(identity)
        start = self._text(self._formula_file(like))[0] if like and tag == NO_FILE else ""
        known, _ = self.ingredients()

        def change(held: dict[str, Any]) -> None:
            held.clear()
            held.update(document)

        def check(wanted: Mapping[str, Any]) -> None:
            formula_of(wanted, file, known, heat_tables())

        def again(text: str) -> None:
            read_formula(text, file, known, heat_tables())

        rows: dict[tuple[str, ...], Sequence[int | None]] = {
            (of,): those for of, those in origins.items()
        }
        return self._change(file, tag, change, check, rows, again, start)

    def remove_formula(self, identity: str, tag: str) -> str:
        """Put a formula's file away; the name that it has there, below the folder."""
        file = self._formula_file(identity)
        folder = self._open_folder()
        if not (folder / file).is_file():
            raise FormulaError("unknown-formula", f'No formula is called "{identity}".')
        return f"{REMOVED}/{put_away(folder / file, folder / REMOVED, tag).name}"

    def _formula_file(self, identity: str) -> str:
        if not is_id(identity) or len(identity) > _LONGEST_ID or f"{identity}.toml" in OTHERS:
            raise FormulaError("unknown-formula", "There is no such formula.", where="id")
        return f"{identity}.toml"

    # --- limits -------------------------------------------------------------------------------

    def limits(self) -> tuple[Mapping[str, ProductClass], str, bool]:
        """The classes, the tag of their file, and whether it is the kitchen's own.

        Without one it is the file that ships, whose tag is :data:`NO_FILE`.
        """
        own = (self._folder / LIMITS).is_file()
        text, tag = self._text(LIMITS)
        return read_limits(text if own else _shipped(), LIMITS), tag, own

    def put_limits(self, identity: str, table: Mapping[str, Any], tag: str) -> str:
        """Change a class of product, or add one; the tag of the kitchen's own file.

        Where there is none yet, it begins as a copy of the one that ships.
        Raises :class:`ConfigError` naming the field that is wrong, and :class:`OperatorError`.
        """
        _named(identity, "a class")

        def change(document: dict[str, Any]) -> None:
            classes = dict(document.get("classes") or {})
            classes[identity] = kept(classes.get(identity), table)
            document["classes"] = classes

        def check(document: Mapping[str, Any]) -> None:
            limits_of(document, LIMITS)

        return self._change(LIMITS, tag, change, check, start=_shipped())

    # --- files --------------------------------------------------------------------------------

    def _text(self, file: str) -> tuple[str, str]:
        """A file's text and tag; of one that is not there, those of nothing."""
        place = self._folder / file
        if not place.is_file():
            return "", NO_FILE
        if not isinstance(place, Path):
            return text_of(place), "packaged"
        for _ in range(3):
            try:
                tag = tag_of(place)
            except OSError:
                tag = ""
            text = text_of(place)
            if tag == tag_of(place):
                break
        return text, tag

    def _documents(self) -> list[tuple[str, Mapping[str, Any]]]:
        out: list[tuple[str, Mapping[str, Any]]] = []
        if not self._folder.is_dir():
            return out  # nothing was written yet
        for one in self._folder.iterdir():
            identity = one.name.removesuffix(".toml")
            if one.name == identity or one.name in OTHERS or not is_id(identity):
                continue
            try:
                out.append((identity, read_toml(text_of(one), one.name)))
            except FormulaError:
                continue
        return sorted(out, key=lambda each: each[0])

    def _open_folder(self) -> Path:
        if not isinstance(self._folder, Path):
            raise OperatorError(
                "formulas-fixed",
                self.fixed,
                remedy="Copy them into a folder of your own and name it in the configuration.",
            )
        return self._folder

    def _change(
        self,
        file: str,
        tag: str,
        change: Callable[[dict[str, Any]], None],
        check: Callable[[Mapping[str, Any]], None],
        rows: Mapping[tuple[str, ...], Sequence[int | None]] | None = None,
        again: Callable[[str], object] = lambda _text: None,
        start: str = "",
    ) -> str:
        folder = self._open_folder()
        text, now = self._text(file)
        before = text if now != NO_FILE else start
        document = read_toml(before, file)
        wanted = dict(document)
        change(wanted)
        check(wanted)
        if wanted == document and now != NO_FILE:
            return now  # said twice, or nothing to say
        if now != tag:
            raise _there(file) if tag == NO_FILE else changed(file)
        try:
            after = edited(before, wanted, rows)
        except EditError as error:
            raise OperatorError(
                "cannot-edit",
                f"{file} is written in a way that cannot be changed from here ({error}).",
                where=file,
                remedy="Change it with an editor of texts.",
            ) from error
        again(after)
        if len(after.encode("utf-8")) > LARGEST_BYTES:
            raise OperatorError(
                "file-would-be-too-large",
                f"{file} would be larger than {LARGEST_BYTES // 1024} kB.",
                where=file,
                remedy="Take something out first.",
            )
        return replace_file(folder / file, after, now)


def _there(file: str) -> OperatorError:
    return OperatorError(
        "exists-already",
        f"There is a {file} already. Nothing was written.",
        where="id",
        remedy="Choose another name.",
    )


def _named(identity: str, what: str) -> None:
    if not is_id(identity) or len(identity) > _LONGEST_ID:
        raise FormulaError(
            "bad-id",
            f'"{identity[:40]}" cannot name {what}; use lower-case letters, digits and hyphens, '
            f"{_LONGEST_ID} at most.",
            where="id",
        )


def _shipped() -> str:
    return text_of(resources("weighd.data") / LIMITS)
