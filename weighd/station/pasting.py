"""A pasted list as the page and the command line show it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from weighd.domain import mass
from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.formula import (
    Addition,
    Formula,
    Ingredient,
    Tolerance,
    read_amount,
    read_tolerance,
)
from weighd.domain.pasted import Line, Outcome, Pasted, read_pasted

#: What an addition gets whose line names no tolerance.
USUAL_TOLERANCE = "1 %"
_MARKS = {Outcome.TAKEN: "+", Outcome.LEFT_OUT: " ", Outcome.NOT_UNDERSTOOD: "?"}


def pasted(
    text: str, known: Mapping[str, Ingredient], said: Mapping[str, str] | None = None
) -> Pasted:
    """The list taken apart. Raises :class:`FormulaError`, ``bad-list``, for what is no list."""
    try:
        return read_pasted(text, known, said)
    except ValueError as error:
        reason = str(error)
        raise FormulaError(
            "bad-list",
            f"This is too long: {reason}.",
            where="text",
            remedy="Paste the ingredients of one formula.",
        ) from error


def said(means: Sequence[str], known: Mapping[str, Ingredient]) -> dict[str, str]:
    """What names mean, of texts like ``cream=cream-30``. Raises :class:`OperatorError`."""
    out = {}
    for one in means:
        name, _, identity = one.rpartition("=")
        if not name or identity not in known:
            raise OperatorError(
                "unknown-ingredient",
                f'"{one[:80]}" names no ingredient of this kitchen.',
                where="means",
                remedy='Write the name as it stands in the list, and an id: "cream=cream-30".',
            )
        out[name] = identity
    return out


def draw_pasted(read: Pasted, known: Mapping[str, Ingredient]) -> dict[str, Any]:
    """The lines as JSON values; names of what is offered stand beside the ids."""
    return {
        "lines": [
            {
                "n": one.n,
                "text": one.text,
                "outcome": one.outcome.value,
                "ingredient": one.ingredient,
                "name": one.name,
                "amount": one.amount,
                "amount_g": None if one.amount_g is None else mass.text(one.amount_g),
                "tolerance": one.tolerance,
                "offered": [{"id": it, "name": known[it].name} for it in one.offered],
                "why": one.why,
            }
            for one in read.lines
        ],
        "taken": len(read.taken),
        "taken_g": mass.text(read.taken_g),
        "sum_g": None if read.sum_g is None else mass.text(read.sum_g),
        "not_understood": len(of_outcome(read, Outcome.NOT_UNDERSTOOD)),
        "warning": differs(read),
    }


def tell(read: Pasted, known: Mapping[str, Ingredient]) -> list[str]:
    """The same for people: a line each, then what it comes to."""
    out = []
    for one in read.lines:
        out.append(f"{_MARKS[one.outcome]} {one.n:3}  {one.text}")
        said = _said(one, known)
        if said:
            out.append(f"         {said}")
    out.append(
        f"{len(read.taken)} taken, {mass.text(read.taken_g)} g; "
        f"{len(of_outcome(read, Outcome.NOT_UNDERSTOOD))} not understood."
    )
    if warning := differs(read):
        out.append(warning)
    return out


def differs(read: Pasted) -> str:
    """Whether the sum that the list gives is another; empty where it is not, or gives none."""
    if read.sum_g is None or read.sum_g == read.taken_g:
        return ""
    return (
        f"The list gives {mass.text(read.sum_g)} g as its sum; what was taken comes to "
        f"{mass.text(read.taken_g)} g."
    )


def of_outcome(read: Pasted, outcome: Outcome) -> list[Line]:
    """The lines that came out so."""
    return [one for one in read.lines if one.outcome is outcome]


def _said(one: Line, known: Mapping[str, Ingredient]) -> str:
    parts = []
    if one.outcome is Outcome.TAKEN:
        tolerance = f" ± {one.tolerance}" if one.tolerance else ""
        parts.append(f"{one.amount} {known[one.ingredient].name}{tolerance}.")
    if one.why:
        parts.append(one.why)
    if one.offered:
        parts.append(f"Perhaps {', '.join(one.offered)}?")
    return " ".join(parts)


def formula_of(read: Pasted, known: Mapping[str, Ingredient], identity: str, name: str) -> Formula:
    """The formula of what was taken, in the order of the list.

    Raises :class:`FormulaError` where nothing was.
    """
    if not read.taken:
        raise FormulaError(
            "bad-list",
            "No line of it gives an ingredient of this kitchen with its grams.",
            remedy='Write a line for each, like "820 g buttermilk".',
        )
    additions = tuple(
        Addition(known[one.ingredient], read_amount(one.amount), _tolerance_of(one))
        for one in read.taken
    )
    return Formula(identity, name or identity, additions)


def _tolerance_of(one: Line) -> Tolerance:
    return read_tolerance(one.tolerance or USUAL_TOLERANCE)
