"""What is found of what somebody types: formulas, ingredients, lots and batches of this station.

All words must be there, in any order; capitals and accents do not count. What begins with what was
typed comes first.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NamedTuple

from weighd.domain.formula import Formula, Ingredient
from weighd.domain.lots import Lot
from weighd.domain.spelling import plain
from weighd.station.ports import BatchRow

#: Of each kind, and words that are looked at.
MOST, MOST_WORDS = 8, 8


class Hit(NamedTuple):
    """One thing: its kind, id and name, and what tells it from others of that name."""

    kind: str
    id: str
    name: str
    about: str

    def as_json(self) -> dict[str, Any]:
        """As pages are shown it."""
        return self._asdict()


def words_of(typed: str) -> list[str]:
    """The words to look for."""
    return plain(typed).split()[:MOST_WORDS]


def find(
    words: Sequence[str],
    formulas: Iterable[Formula],
    ingredients: Iterable[Ingredient],
    lots: Iterable[Lot],
    batches: Iterable[BatchRow],
) -> list[Hit]:
    """What has all the words, by kind. ``batches`` are those that were found already."""
    if not words:
        return []
    known = {one.id: one.name for one in ingredients}
    kinds: list[Iterator[tuple[Hit, str]]] = [
        (
            (Hit("formula", one.id, one.name, ""), " ".join((one.id, one.name, one.note)))
            for one in formulas
        ),
        ((Hit("ingredient", one, name, ""), " ".join((one, name))) for one, name in known.items()),
        (
            (
                Hit("lot", one.code, known.get(it.ingredient, it.ingredient), it.supplier),
                f"{one.code} {it.ingredient} {known.get(it.ingredient, '')} {it.supplier}",
            )
            for one, it in ((one, one.goods) for one in lots)
        ),
    ]
    out: list[Hit] = []
    for some in kinds:
        hits = [hit for hit, text in some if all(word in plain(text) for word in words)]
        hits.sort(key=lambda it: (not _begins(it, words[0]), plain(it.name), it.id))
        out += hits[:MOST]
    out += [Hit("batch", one.id, one.name, one.opened) for one in batches][:MOST]
    return out


def _begins(it: Hit, word: str) -> bool:
    return plain(it.name).startswith(word) or plain(it.id).startswith(word)
