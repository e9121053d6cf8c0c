"""The formulas that came down from a shared store, in a folder of their own: usable cut off.

1. A file for each revision, ``NUMBER.json``, never written over; ``chosen.json`` has what was made
   of them. The kitchen's own files are elsewhere and are never touched.
2. In the list of formulas stand, beside the kitchen's own, the newest revision of each that was
   taken, under its ``ID@REVISION``; not where the kitchen's own is the same. Older ones are found
   by that name, so that a batch can be made once more as it was.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

from weighd.domain.against_plan import Prices
from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.formula import Formula, plain_id
from weighd.domain.formula_shared import Chosen, Published, published_of
from weighd.domain.limits import ProductClass
from weighd.storage.replacing import replace_file, tag_of

CHOSEN_FILE = "chosen.json"
_FIELDS = ("number", "formula", "revision", "name", "station", "by", "at")


class Own(Protocol):
    """The kitchen's own formulas."""

    def all(self) -> tuple[Sequence[Formula], Sequence[FormulaError]]: ...

    def get(self, identity: str, /) -> Formula: ...

    def kinds(self) -> Mapping[str, ProductClass]: ...

    def prices(self, identity: str, /) -> Prices: ...


class Received:
    """The folder. Changed by one thread at a time, read by any; changes raise OperatorError.

    ``take``  whether what comes down is taken at once, or waits for somebody to take it.
    """

    def __init__(self, folder: Path, *, take: bool = True) -> None:
        self._folder = folder
        self._take = take
        self._known: dict[int, Published] = {}
        #: Those that are what they say they are, read once.
        self._formulas: dict[int, Formula] = {}
        self._bad: list[FormulaError] = []
        self._chosen: dict[int, Chosen] = {}
        self._read()

    @property
    def newest(self) -> int:
        """The number up to which all came down; 0 for none."""
        number = 0
        while number + 1 in self._known:
            number += 1
        return number

    def put(self, published: Sequence[Published]) -> list[Published]:
        """Keep what came down; what of it was not here yet. Content that is not what it says it is
        is kept, told, and cannot be taken."""
        new = [one for one in published if one.number not in self._known]
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise OperatorError(
                "cannot-write",
                f"The folder cannot be made: {error.strerror or error}.",
                where=str(self._folder),
            ) from error
        for one in new:
            path = self._folder / f"{one.number:06d}.json"
            text = json.dumps(one.as_json(), ensure_ascii=False, indent=1)
            replace_file(path, text + "\n", tag_of(path))
            self._keep(one)
        return new

    def choose(self, identity: str, chosen: Chosen) -> Published:
        """Take a revision (the newest of that name), or leave it.

        Raises :class:`OperatorError` where it cannot be written, :class:`FormulaError` for one
        that is not there or does not hold.
        """
        one = self._find(identity)
        if chosen is Chosen.TAKEN:
            one.read()
        path = self._folder / CHOSEN_FILE
        made = {**self._chosen, one.number: chosen}
        told = {str(number): str(it) for number, it in sorted(made.items())}
        replace_file(path, json.dumps(told, indent=1) + "\n", tag_of(path))
        self._chosen = made
        return one

    def chosen(self, one: Published) -> Chosen:
        """What was made of a revision."""
        return self._chosen.get(one.number, Chosen.TAKEN if self._take else Chosen.NEW)

    def all(self) -> list[Published]:
        """All that came down, newest first."""
        return [self._known[number] for number in sorted(self._known, reverse=True)]

    def listed(self, own: Mapping[str, Formula]) -> tuple[list[Formula], list[FormulaError]]:
        """The newest of each that was taken and that the kitchen does not have as it is."""
        out, seen = list[Formula](), set[str]()
        for one in self.all():
            if one.formula in seen or self.chosen(one) is not Chosen.TAKEN:
                continue
            mine = own.get(one.formula)
            if mine is not None and mine.revision == one.revision:
                seen.add(one.formula)
                continue
            if one.number in self._formulas:  # others are told among those that are none
                out.append(self._formulas[one.number])
                seen.add(one.formula)
        return out, list(self._bad)

    def get(self, identity: str) -> Formula:
        """A revision that was taken, by ``ID@REVISION``. Raises :class:`FormulaError`."""
        one = self._find(identity)
        if self.chosen(one) is not Chosen.TAKEN:
            raise FormulaError(
                "formula-not-taken",
                f"{one.name} came from station {one.station} and was not taken here yet.",
                where=identity,
                remedy="Look at it among the formulas, and take it.",
            )
        return one.read()

    def of(self, formula: str) -> list[Published]:
        """What came down of one formula and is what it says it is, newest first."""
        return [
            one for one in self.all() if one.formula == formula and one.number in self._formulas
        ]

    def draw(self, own: Mapping[str, Formula]) -> list[dict[str, Any]]:
        """All that came down as JSON values, newest first.

        ``own``     how the kitchen's own of that id stands to it: ``none``, ``same``, ``differs``.
        ``newest``  whether nothing newer of that id came down.
        """
        seen, out = set[str](), []
        for one in self.all():
            mine = own.get(one.formula)
            same = mine is not None and mine.revision == one.revision
            told = {key: getattr(one, key) for key in _FIELDS}
            told |= {"id": one.id, "chosen": str(self.chosen(one))}
            told |= {"own": "none" if mine is None else "same" if same else "differs"}
            out.append({**told, "newest": one.formula not in seen})
            seen.add(one.formula)
        return out

    def _find(self, identity: str) -> Published:
        for one in self.all():
            if one.id == identity:
                return one
        raise FormulaError(
            "unknown-formula",
            f'No formula "{identity}" came down from the shared store.',
            remedy="See the list.",
        )

    def _keep(self, one: Published) -> None:
        # Made anew, so that whoever reads meanwhile sees the one or the other.
        try:
            self._formulas = {**self._formulas, one.number: one.read()}
        except FormulaError as error:
            self._bad = [*self._bad, error]
        self._known = {**self._known, one.number: one}

    def _read(self) -> None:
        for path in sorted(self._folder.glob("[0-9]*.json")) if self._folder.is_dir() else ():
            try:
                self._keep(published_of(json.loads(path.read_text("utf-8"))))
            except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
                self._bad.append(
                    FormulaError(
                        "unreadable-file",
                        f"A formula that came down cannot be read: {error}.",
                        where=str(path),
                        remedy="Delete the file: it comes down again.",
                    )
                )
        try:
            given = json.loads((self._folder / CHOSEN_FILE).read_text("utf-8"))
            self._chosen = {int(number): Chosen(it) for number, it in given.items()}
        except FileNotFoundError:
            pass
        except (OSError, ValueError, AttributeError, TypeError) as error:
            self._bad.append(
                FormulaError(
                    "unreadable-file",
                    f"What was taken of the formulas that came down cannot be read: {error}.",
                    where=str(self._folder / CHOSEN_FILE),
                )
            )


class SharedShelf:
    """The kitchen's own formulas, and those that came down and were taken."""

    def __init__(self, own: Own, received: Received) -> None:
        self.own, self.received = own, received

    def all(self) -> tuple[Sequence[Formula], Sequence[FormulaError]]:
        """Every formula by name, and what is wrong with those that are none."""
        good, bad = self.own.all()
        more, wrong = self.received.listed({one.id: one for one in good})
        every = sorted([*good, *more], key=lambda one: one.name.casefold())
        return every, [*bad, *wrong]

    def get(self, identity: str) -> Formula:
        """One formula. Raises :class:`FormulaError`."""
        return self.received.get(identity) if "@" in identity else self.own.get(identity)

    def kinds(self) -> Mapping[str, ProductClass]:
        """The limits of each kind of product: the kitchen's own."""
        return self.own.kinds()

    def prices(self, identity: str) -> Prices:
        """What the ingredients cost here."""
        return self.own.prices(plain_id(identity))

    def drawn(self) -> list[dict[str, Any]]:
        """What came down, as JSON values (:meth:`Received.draw`)."""
        return self.received.draw({one.id: one for one in self.own.all()[0]})


def cannot_publish(why: str) -> OperatorError:
    """What to raise where there is no shared store to publish to."""
    return OperatorError("no-shared-store", why, remedy="Name one as store under [shared].")
