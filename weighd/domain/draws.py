"""Draws: what came out of the freezer, as somebody typed or weighed it.

1. A draw has a weight, a volume, or both; or the weight of one and the same cup, filled with mix
   and with product. Pieces put in after freezing, what is left over, a measured mix and portions
   may come with it or alone.
2. What is typed is kept as it was typed, with its unit. It is known to no more than its digits: a
   last digit of ``d`` is uncertain by ``d / sqrt(12)`` (GUM F.2.2.1, as a display is). That is the
   least; what the jug itself is worth is not known.
3. Nothing is edited. A draw that was wrong is replaced by another entry that names it, or taken
   back by one that says nothing else.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Context, Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.errors import OperatorError
from weighd.domain.mass import EXACT, Unit
from weighd.domain.overrun import HEAVIEST, LIGHTEST

_CONTEXT = Context(prec=28)
#: As uncertainties are written (``metrology``).
_U = Decimal("0.000001")
_ENTERED = re.compile(r"\s*([0-9]{1,9}(?:[.,][0-9]{1,6})?)\s*([A-Za-z]{1,3})\s*", re.ASCII)
_PLAIN = re.compile(r"\s*([0-9]{1,9}(?:[.,][0-9]{1,6})?)\s*", re.ASCII)
MASSES = {one.value: one.grams for one in (Unit.G, Unit.KG, Unit.OZ, Unit.LB)}
VOLUMES = {"ml": Decimal(1), "l": Decimal(1000)}
#: A tonne, and as many litres: more is a slip of the keyboard.
MOST = Decimal(1_000_000)
MOST_PORTIONS = 100_000
#: More draws than these of one batch nobody finds again.
MOST_DRAWS = 500

#: What may be typed of a draw, and whether it is a mass, a volume or a plain number.
FIELDS = {
    "weight": MASSES,
    "volume": VOLUMES,
    "fill": VOLUMES,
    "left": MASSES,
    "pieces": MASSES,
    "cup_mix": MASSES,
    "cup_product": MASSES,
    "sample_weight": MASSES,
    "sample_volume": VOLUMES,
    "tare": MASSES,
}


@dataclass(frozen=True, slots=True)
class Quantity:
    """A mass in grams or a volume in mL, its standard uncertainty, and how it was ``typed``."""

    value: Decimal
    u: Decimal
    typed: str = ""


@dataclass(frozen=True, slots=True)
class Draw:
    """One draw of a batch.

    ``n``           its number among the draws of the batch, from 1; what replaces it keeps it.
    ``hash, at``    of the entry that it stands in.
    ``volume``      of all of it; ``containers`` of ``fill`` each make it, where they are counted.
    ``pieces_g_ml`` density of the pieces; ``None`` where it is not known.
    ``left``        mix that was not drawn.
    ``cup``         mix and product in the same cup.
    ``sample``      mass and volume of some mix, which say its density.
    """

    n: int
    hash: str = ""
    at: str = ""
    by: str = ""
    weight: Quantity | None = None
    volume: Quantity | None = None
    containers: int | None = None
    fill: Quantity | None = None
    pieces: Quantity | None = None
    pieces_g_ml: Decimal | None = None
    left: Quantity | None = None
    cup: tuple[Quantity, Quantity] | None = None
    sample: tuple[Quantity, Quantity] | None = None
    portions: int | None = None

    @property
    def says_nothing(self) -> bool:
        """Whether nothing was entered."""
        return self == Draw(self.n, self.hash, self.at, self.by)

    @property
    def is_drawn(self) -> bool:
        """Whether something came out, and not only something was measured, counted or left."""
        return self.weight is not None or self.volume is not None


def bad(field: str, message: str, remedy: str = "") -> OperatorError:
    """A draw that cannot be; ``field`` names what is wrong in it."""
    return OperatorError("bad-draw", message, where=field, remedy=remedy)


def entered(text: object, field: str) -> Quantity:
    """A quantity as typed, with its unit, like ``1.25 kg`` or ``1,4 L``.

    Raises :class:`OperatorError`, ``bad-draw``, naming the field.
    """
    units = FIELDS[field]
    names = " or ".join(("g, kg, oz, lb",) if units is MASSES else ("mL, L",))
    example = "1250 g" if units is MASSES else "1.4 L"
    found = _ENTERED.fullmatch(text) if isinstance(text, str) else None
    if found is None:
        raise bad(
            field,
            f'"{str(text)[:40]}" is not {"a mass" if units is MASSES else "a volume"}.',
            f"Write a number above zero and its unit ({names}), like {example}.",
        )
    unit = units.get(found[2].lower())
    if unit is None:
        raise bad(field, f'"{found[2]}" is not a unit known here.', f"Use one of {names}.")
    number = Decimal(found[1].replace(",", "."))
    value = EXACT.multiply(number, unit)
    if not 0 < value <= MOST:
        raise bad(field, f'"{found[0].strip()}" cannot be.', f"Give it above zero, like {example}.")
    return Quantity(value, _u_of_digits(number, unit), found[0].strip())


def _u_of_digits(number: Decimal, unit: Decimal) -> Decimal:
    exponent = number.as_tuple().exponent
    assert isinstance(exponent, int)
    step = unit.scaleb(exponent) if exponent else unit
    return _CONTEXT.sqrt(step * step / 12).quantize(_U)


def density(text: object, field: str = "pieces_density") -> Decimal:
    """A density in g/mL. Raises :class:`OperatorError`, ``bad-draw``."""
    found = _PLAIN.fullmatch(text) if isinstance(text, str) else None
    value = Decimal(found[1].replace(",", ".")) if found else None
    if value is None or not LIGHTEST <= value <= HEAVIEST:
        raise bad(
            field,
            f'"{str(text)[:40]}" is not a density.',
            f"Give it in g/mL (kg/L) from {LIGHTEST} to {HEAVIEST}, like 0.748.",
        )
    return value


def counted(value: object, field: str) -> int:
    """A number of portions or containers. Raises :class:`OperatorError`, ``bad-draw``."""
    if isinstance(value, bool) or not isinstance(value, int) or not 0 < value <= MOST_PORTIONS:
        raise bad(
            field,
            f'"{str(value)[:40]}" is not a number of {field}.',
            f"Give a whole number from 1 to {MOST_PORTIONS}.",
        )
    return value


def read_draw(given: Mapping[str, Any], n: int, weighed: Quantity | None = None) -> Draw:
    """A draw as it was entered: texts by :data:`FIELDS`, ``pieces_density``, counts.

    ``weighed``  its weight, where a scale said it. Raises :class:`OperatorError`, ``bad-draw``,
    naming the field, for what cannot be or does not go together.
    """
    known = {*FIELDS, "pieces_density", "containers", "portions"} - {"tare"}
    for field in given:
        if field not in known:
            raise bad(str(field)[:40], "A draw has no such field.", f"It has: {_list(known)}.")
    typed = {field: entered(given[field], field) for field in FIELDS if field in given}
    if weighed is not None and "weight" in typed:
        raise bad("weight", "A weight is weighed or typed, not both.", "Leave one out.")
    containers = counted(given["containers"], "containers") if "containers" in given else None
    fill = typed.get("fill")
    if fill is not None and containers is None:
        raise bad("containers", "How many containers were filled is missing.", "Give the number.")
    volume = typed.get("volume")
    if fill is not None and containers is not None:
        if volume is not None:
            raise bad("volume", "The volume is given twice.", "Give it, or containers and fill.")
        if fill.value * containers > MOST:
            raise bad("containers", "So many containers hold more than any batch makes.")
        # Each is filled by the same mark: what that is off by, all are off by alike.
        volume = Quantity(fill.value * containers, fill.u * containers)
    pieces_g_ml = density(given["pieces_density"]) if "pieces_density" in given else None
    if pieces_g_ml is not None and "pieces" not in typed:
        raise bad("pieces", "How many grams of pieces went in is missing.", "Give their mass.")
    return Draw(
        n,
        weight=weighed or typed.get("weight"),
        volume=volume,
        containers=containers,
        fill=fill,
        pieces=typed.get("pieces"),
        pieces_g_ml=pieces_g_ml,
        left=typed.get("left"),
        cup=_pair(typed, "cup_mix", "cup_product"),
        sample=_pair(typed, "sample_weight", "sample_volume"),
        portions=counted(given["portions"], "portions") if "portions" in given else None,
    )


def _pair(typed: Mapping[str, Quantity], one: str, other: str) -> tuple[Quantity, Quantity] | None:
    if one not in typed and other not in typed:
        return None
    for field in (one, other):
        if field not in typed:
            raise bad(field, "Both are needed: one alone says nothing.", "Give it too.")
    return typed[one], typed[other]


def _list(names: set[str]) -> str:
    return ", ".join(sorted(names))


def possible(draw: Draw) -> None:
    """Whether what was entered can be together. Raises :class:`OperatorError`, ``bad-draw``."""
    if draw.pieces is not None:
        if draw.weight is not None and draw.pieces.value >= draw.weight.value:
            raise bad("pieces", "The pieces weigh as much as all of the draw, or more.")
        if draw.pieces_g_ml is not None and draw.volume is not None:
            filled = draw.pieces.value / draw.pieces_g_ml
            if filled >= draw.volume.value:
                raise bad("pieces", "The pieces alone fill the volume of the draw, or more.")
    if draw.sample is not None:
        found = draw.sample[0].value / draw.sample[1].value
        if not LIGHTEST <= found <= HEAVIEST:
            raise bad("sample_weight", f"A mix of {found:.3g} g/mL cannot be.")


# --- in the record ----------------------------------------------------------------------------


def as_body(draw: Draw) -> dict[str, Any]:
    """A draw as its entry has it, less its weight where a scale said it."""
    out: dict[str, Any] = {"draw": draw.n}
    if draw.weight is not None and draw.weight.typed:
        out["weight"] = _mass(draw.weight)
    if draw.volume is not None:
        out["volume"] = _volume(draw.volume)
    if draw.containers is not None:
        out["containers"] = draw.containers
    if draw.fill is not None:
        out["fill"] = _volume(draw.fill)
    if draw.pieces is not None:
        out["pieces"] = _mass(draw.pieces)
    if draw.pieces_g_ml is not None:
        out["pieces_density_g_ml"] = mass.text(draw.pieces_g_ml)
    if draw.left is not None:
        out["left"] = _mass(draw.left)
    if draw.cup is not None:
        out["cup"] = {"mix": _mass(draw.cup[0]), "product": _mass(draw.cup[1])}
    if draw.sample is not None:
        out["sample"] = {"weight": _mass(draw.sample[0]), "volume": _volume(draw.sample[1])}
    if draw.portions is not None:
        out["portions"] = draw.portions
    return out


def _mass(one: Quantity) -> dict[str, str]:
    return {"typed": one.typed, "g": mass.text(one.value), "u_g": mass.text(one.u)}


def _volume(one: Quantity) -> dict[str, str]:
    said = {"typed": one.typed} if one.typed else {}
    return {**said, "ml": mass.text(one.value), "u_ml": mass.text(one.u)}


def draw_of(body: Mapping[str, Any], *, hash_: str = "", at: str = "") -> Draw:
    """The inverse of :func:`as_body`. Raises ``KeyError``, ``TypeError`` or ``ValueError``."""

    def grams(one: Mapping[str, Any]) -> Quantity:
        return Quantity(mass.parse(one["g"]), mass.parse(one["u_g"]), str(one.get("typed", "")))

    def ml(one: Mapping[str, Any]) -> Quantity:
        return Quantity(mass.parse(one["ml"]), mass.parse(one["u_ml"]), str(one.get("typed", "")))

    def of(key: str, how: Any) -> Quantity | None:
        return how(body[key]) if key in body else None

    cup, sample = body.get("cup"), body.get("sample")
    return Draw(
        int(body["draw"]),
        hash_,
        at,
        str(body["by"]),
        of("weight", grams),
        of("volume", ml),
        body.get("containers"),
        of("fill", ml),
        of("pieces", grams),
        mass.parse(body["pieces_density_g_ml"]) if "pieces_density_g_ml" in body else None,
        of("left", grams),
        (grams(cup["mix"]), grams(cup["product"])) if cup else None,
        (grams(sample["weight"]), ml(sample["volume"])) if sample else None,
        body.get("portions"),
    )


@dataclass(frozen=True, slots=True)
class Draws:
    """The draws of a batch that stand, and how many were ever made: numbers are used once."""

    standing: tuple[Draw, ...] = ()
    made: int = 0

    def of(self, n: int) -> Draw | None:
        """One by its number; ``None`` where none stands under it."""
        return next((one for one in self.standing if one.n == n), None)

    def named(self, hash_: str, by: str) -> Draws:
        """The draws where somebody else made the one of that entry."""
        those = (replace(one, by=by) if one.hash == hash_ else one for one in self.standing)
        return Draws(tuple(those), self.made)

    def plus(self, new: Draw, corrects: str = "") -> Draws:
        """The draws after one more: added, or in place of the one it names by its hash.

        One that says nothing takes back what it names. Raises ``ValueError`` where it names none.
        """
        if not corrects:
            return Draws((*self.standing, new), self.made + 1)
        if corrects not in (one.hash for one in self.standing):
            raise ValueError(f"no draw stands in the entry {corrects[:12]}")
        after = (
            replace(new, n=one.n) if one.hash == corrects else one
            for one in self.standing
            if one.hash != corrects or not new.says_nothing
        )
        return Draws(tuple(after), self.made)
