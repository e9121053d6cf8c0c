"""A list of ingredients as people write it, taken apart: amount, tolerance, ingredient.

1. A line is understood whole or not at all, and what was not is told with its reason. Nothing is
   guessed that could be weighed wrongly: a name that only resembles is offered, never taken, and
   a number that could be read in two ways is asked about.
2. Cups, spoons and pieces do not repeat, so they are no amounts here. A volume is taken where the
   ingredient's density is known, and the line says so.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

from weighd.domain import mass
from weighd.domain.formula import FINEST, LARGEST_G, MOST_ADDITIONS, Ingredient
from weighd.domain.ingredient_names import Names
from weighd.domain.mass import EXACT
from weighd.domain.pasted_amounts import SPOONS, Found, amount_in, tolerance_in
from weighd.domain.pasted_amounts import plain as as_plain

#: Longer texts are no list for a bowl.
LONGEST_TEXT, MOST_LINES = 20_000, 2 * MOST_ADDITIONS


class Outcome(StrEnum):
    """What became of a line."""

    TAKEN = "taken"
    LEFT_OUT = "left out"
    NOT_UNDERSTOOD = "not understood"


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the list.

    ``amount_g``    grams; ``None`` where there is none that can be weighed.
    ``amount``      as it goes into a formula, in the unit it was written in if that is one of mass.
    ``tolerance``   as written; empty for none.
    ``ingredient``  the id of the kitchen's ingredient; empty where it is not known.
    ``name``        what the line calls it.
    ``offered``     ids that may be meant, the nearest first.
    ``why``         what has to be known about it: a sentence; empty where all is plain.
    """

    n: int
    text: str
    outcome: Outcome
    amount_g: Decimal | None = None
    amount: str = ""
    tolerance: str = ""
    ingredient: str = ""
    name: str = ""
    offered: tuple[str, ...] = ()
    why: str = ""


@dataclass(frozen=True, slots=True)
class Pasted:
    """A list taken apart. ``sum_g`` is what a line of the list gives as its sum, if one does."""

    lines: tuple[Line, ...]
    sum_g: Decimal | None = None

    @property
    def taken(self) -> tuple[Line, ...]:
        """The lines that can go into a formula as they are."""
        return tuple(one for one in self.lines if one.outcome is Outcome.TAKEN)

    @property
    def taken_g(self) -> Decimal:
        """The sum of those in grams."""
        return sum((one.amount_g or Decimal(0) for one in self.taken), Decimal(0))


_TO_TASTE = re.compile(
    r"\b(?:to taste|as needed|as you like|optional|a little|a bit|some)\b", re.IGNORECASE
)
_BULLET = re.compile(r"^\s*(?:[-*•·–—▪◦☐□✓]+\s+|\(?\d{1,3}[.)]\s+|\[[ xX]?\]\s*)+")
_FOR = re.compile(r"\b(?:for|makes|yields?|gives) (?:about )?$", re.IGNORECASE)
_SUM = re.compile(r"^(?:grand |batch )?(?:total|sum|yield|makes|batch(?: size)?)\b", re.IGNORECASE)
_GLUE = re.compile(r"^(?:of(?: the)?|the)\s+|\s+(?:of|=|:)$", re.IGNORECASE)


def read_pasted(
    text: str, known: Mapping[str, Ingredient], said: Mapping[str, str] | None = None
) -> Pasted:
    """Take a list apart.

    ``text``   the list, an ingredient to a line; empty lines say nothing.
    ``known``  the kitchen's ingredients by id.
    ``said``   the ids that somebody chose for names (``Line.name``).

    Raises ``ValueError`` for a text that is too long for any list.
    """
    rows = text.splitlines()
    if len(text) > LONGEST_TEXT or len(rows) > MOST_LINES:
        raise ValueError(
            f"a list has up to {MOST_LINES} lines and {LONGEST_TEXT} characters; this has "
            f"{len(rows)} and {len(text)}"
        )
    names = Names(known, said or {})
    lines: list[Line] = []
    total: Decimal | None = None
    for n, row in enumerate(rows, start=1):
        if not row.strip():
            continue
        line = _line(n, row.strip()[:400], names)
        if line.outcome is Outcome.LEFT_OUT and line.amount_g is not None:
            total = line.amount_g
        lines.append(line)
    return Pasted(tuple(lines), total)


def _line(n: int, shown: str, names: Names) -> Line:
    plain = _BULLET.sub("", as_plain(shown)).strip()
    line = Line(n, shown, Outcome.NOT_UNDERSTOOD)
    if not re.search(r"\w", plain):
        return replace(line, outcome=Outcome.LEFT_OUT, why="Nothing is written here.")
    try:
        tolerance, rest = tolerance_in(plain)
        found = amount_in(rest)
    except ValueError as error:
        said = str(error)
        return replace(line, why=f"{said[:1].upper()}{said[1:]}.")
    line = replace(line, tolerance=tolerance)
    if found is None:
        return _without_amount(line, plain, rest, names)
    name = _name(rest[: found.start] + " " + rest[found.end :])
    if _SUM.match(name) or (not name and _SUM.match(plain)) or _FOR.search(rest[: found.start]):
        why = "A sum, which is no ingredient."
        grams = found.grams if found.grams is not None and found.grams <= LARGEST_G else None
        return replace(line, outcome=Outcome.LEFT_OUT, amount_g=grams, why=why)
    if not name:
        return replace(line, why="An amount without an ingredient.")
    return _named(replace(line, name=name), found, names)


def _named(line: Line, found: Found, names: Names) -> Line:
    """The line with its ingredient looked up, and its amount in grams."""
    ingredient, offered, said = names.meant(line.name)
    why = [said] if said else []
    grams, amount = found.grams, found.text
    if found.millilitres is not None:
        density = ingredient.facts.density_g_ml if ingredient and ingredient.facts else None
        if ingredient is not None and density is None:
            why.append(
                f"A volume, and the density of {ingredient.name} is not known: weigh it once, and "
                "write its grams."
            )
        elif density is not None:
            grams = mass.rounded(EXACT.multiply(found.millilitres, density), FINEST).normalize()
            amount = f"{mass.text(grams)} g"
            why.append(f"{found.text} at {mass.text(density)} g/mL.")
        else:
            why.append("A volume: it can be reckoned in grams once the ingredient is known.")
    elif found.note:
        why.append(found.note)
    if grams is not None and not 0 < grams <= LARGEST_G:
        return replace(line, offered=offered, why="No amount that can be weighed.")
    taken = ingredient is not None and grams is not None
    return replace(
        line,
        outcome=Outcome.TAKEN if taken else Outcome.NOT_UNDERSTOOD,
        amount_g=grams,
        amount=amount if grams is not None else "",
        ingredient=ingredient.id if ingredient else "",
        offered=offered,
        why=" ".join(why),
    )


def _without_amount(line: Line, plain: str, rest: str, names: Names) -> Line:
    """A line in which no amount stands: a heading, spoons, or an ingredient by itself."""
    if spoons := SPOONS.search(rest):
        return replace(line, name=_name(rest), why=_vague(spoons["word"]))
    if re.search(r"\d\s*%", rest):
        return replace(
            line, name=_name(rest), why="A share, not an amount: write it in grams of a batch."
        )
    ingredient, offered, _ = names.meant(_name(rest))
    if ingredient is not None or _TO_TASTE.search(rest):
        return replace(
            line,
            name=_name(rest),
            ingredient=ingredient.id if ingredient else "",
            offered=offered,
            why="No amount stands beside it; what goes in to taste cannot be weighed again.",
        )
    if re.search(r"\d", rest):
        return replace(line, name=_name(rest), offered=offered, why="No amount in grams is seen.")
    if plain.endswith(":") or _SUM.match(plain) or len(plain.split()) <= 3:
        return replace(line, outcome=Outcome.LEFT_OUT, why="A heading.")
    return replace(line, outcome=Outcome.LEFT_OUT, why="A remark, without an amount.")


def _name(text: str) -> str:
    """What is left of a line without its amount: the name, less what stands around it."""
    text = re.sub(r"\s+", " ", text).strip(" ;,:.=|-")
    before = None
    while text != before:
        before, text = text, _GLUE.sub("", text).strip(" ;,:.=|-")
    return text[:120]


def _vague(word: str) -> str:
    return f'"{word}" does not repeat: weigh it once, and write its grams.'
