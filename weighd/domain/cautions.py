"""Cautions that a person confirms by name before something is done.

1. A caution has a short name and a sentence. It is shown before the step; whoever begins the step
   names every one of them, and the record keeps the names and the person.
2. What a step is done *with* may bring cautions of its own (:data:`OF_MEANS`): they come with the
   formula's content, so that the record has the very words that were shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from weighd.domain.errors import OperatorError


@dataclass(frozen=True, slots=True)
class Caution:
    """What could hurt somebody. ``name`` is what is confirmed, ``text`` what is read."""

    name: str
    text: str

    def content(self) -> dict[str, str]:
        return {"name": self.name, "text": self.text}


def caution_of(content: Mapping[str, Any]) -> Caution:
    """The inverse of :meth:`Caution.content`. Raises ``KeyError``."""
    return Caution(content["name"], content["text"])


#: The usual cautions of a means (common practice, no source). Local codes come first.
OF_MEANS: Mapping[str, tuple[Caution, ...]] = {
    "dry ice": (
        Caution("cold burns", "It is at -78 °C: insulated gloves, and eye protection."),
        Caution("never closed in", "It turns to gas: never into a closed container, it bursts."),
        Caution("ventilate", "The gas takes the place of air and lies low: ventilate the room."),
        Caution("none left", "Never eaten or served while any of it remains."),
    ),
}


def with_means(means: str, own: Iterable[Caution]) -> tuple[Caution, ...]:
    """The cautions of a step: those of what it is done with, then its own by other names."""
    out = {one.name: one for one in OF_MEANS.get(means, ())}
    for one in own:
        out.setdefault(one.name, one)
    return tuple(out.values())


def confirmed(cautions: Sequence[Caution], named: Iterable[str], where: str) -> tuple[str, ...]:
    """The names that a person confirmed, in the cautions' order.

    Raises :class:`OperatorError`: ``cautions-not-confirmed`` while one is not named,
    ``unknown-caution`` for a name that is none of them.
    """
    given = {one.strip() for one in named}
    names = [one.name for one in cautions]
    if unknown := sorted(given - set(names)):
        raise OperatorError(
            "unknown-caution",
            f'"{unknown[0]}" is no caution of this step.',
            where=where,
            remedy=f"There are: {', '.join(names)}." if names else "It has none.",
        )
    if missing := [one for one in cautions if one.name not in given]:
        raise OperatorError(
            "cautions-not-confirmed",
            "Not confirmed: " + "; ".join(f"{one.name} ({one.text})" for one in missing),
            where=where,
            remedy="Read each caution and confirm it by its name; then begin.",
        )
    return tuple(names)
