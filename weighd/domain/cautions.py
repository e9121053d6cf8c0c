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


#: The usual cautions of a means, those of dry ice as safety sheets of universities and codes for
#: food have them (10 NYCRR 14-5.46; EIGA, IGC Doc 150/08). Local codes come first.
DRY_ICE = "dry ice"
OF_MEANS: Mapping[str, tuple[Caution, ...]] = {
    DRY_ICE: (
        Caution(
            "local codes",
            "Yours, and licensed practice, come first. weighd gives figures, no permission.",
        ),
        Caution(
            "ventilate",
            "Open windows and doors or run the hood before you begin, and until all of it is gone. "
            "The gas is heavier than air and gathers low: never in a cellar, a cold room, a closet "
            "or a car. Headache, quick breath or dizziness: leave the room at once. An oxygen "
            "alarm is no guide: CO2 harms long before oxygen is short.",
        ),
        Caution(
            "cold burns",
            "At -78 °C it burns the skin at a touch: insulated gloves and eye protection; use a "
            "scoop.",
        ),
        Caution(
            "never closed in",
            "Never in a closed container, and no lid on the bowl: the gas bursts whatever holds it "
            "in. Never into a sink or a bin.",
        ),
        Caution(
            "none left",
            "Never eat, taste or serve while any of it remains: no piece, no fog. It burns mouth "
            "and gut. Look through the whole mix before it is served.",
        ),
        Caution(
            "children",
            "Keep children and animals out of the room, and do not leave the dry ice alone.",
        ),
        Caution("food-grade", "Only food-grade dry ice may touch food; ask whoever sells it."),
    ),
}


def means_named(text: str) -> str:
    """What a step is done with; by the name of :data:`OF_MEANS` however somebody wrote it."""
    plain = " ".join(text.replace("-", " ").casefold().split())
    return plain if plain in OF_MEANS else text


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
