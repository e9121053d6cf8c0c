"""How large a batch is made: by mass, by volume, by servings, or by what is on hand.

============================================  ======================================================
``3 kg``, ``2400``                            that mass; a bare number is grams
``5 L at 30 %``                               that volume of product with so much overrun; without
                                              it, of mix
``40 servings of 80 g``                       also ``40 x 80 g``
``40 servings of 100 mL at 30 %``             with the air in it
``cream=0.9 kg, hazelnut-paste=250 g``        what these on hand allow; the scarcest counts
============================================  ======================================================

Volumes are turned into masses by the density of the mix (:mod:`weighd.domain.contents` has its
source). Where facts are missing it is a range; then the denser end counts, so that the product is
at least what was asked for, or where the range is wide a volume is refused.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from enum import StrEnum

from weighd.domain import mass
from weighd.domain.composition import Composition, of_formula
from weighd.domain.errors import OperatorError
from weighd.domain.formula import FINEST, LARGEST_G, Formula
from weighd.domain.mass import EXACT, Unit

LONGEST = 300
MOST_OVERRUN = Decimal(1000)
#: A mix whose volume may be more than so many times the least it can be has no density to go by.
MOST_SPREAD = Decimal("1.05")
_HUNDRED, _NOTHING = Decimal(100), Decimal(0)
_NUMBER = r"([0-9]{1,9}(?:[.,][0-9]{1,6})?)"
_MASS = re.compile(rf"{_NUMBER}\s*(mg|g|kg|oz|lb)?", re.IGNORECASE)
_AIR = rf"(?:\s+(?:at|with)\s+{_NUMBER}\s*%(?:\s+overrun)?)?"
_VOLUME = re.compile(rf"{_NUMBER}\s*(ml|cl|dl|l){_AIR}", re.IGNORECASE)
_SERVINGS = re.compile(
    rf"([0-9]{{1,6}})\s*(?:servings?\s+of|portions?\s+of|x|×)\s*{_NUMBER}\s*(mg|g|kg|oz|lb|ml|cl|dl|l){_AIR}",
    re.IGNORECASE,
)
_ON_HAND = re.compile(rf"\s*([a-z0-9-]+)\s*[=:]\s*{_NUMBER}\s*(mg|g|kg|oz|lb)\s*", re.IGNORECASE)
_ML = {"ml": Decimal(1), "cl": Decimal(10), "dl": Decimal(100), "l": Decimal(1000)}


class By(StrEnum):
    """What a size was chosen by."""

    MASS = "mass"
    VOLUME = "volume"
    SERVINGS = "servings"
    ON_HAND = "on hand"


@dataclass(frozen=True, slots=True)
class Size:
    """A size and how it came about.

    ``asked``     as it was written; ``words`` what was reckoned, in a sentence;
    ``scarcest``  the ingredient that ran out first, by id, where it is by what is on hand;
    ``overrun_percent``  the air that was reckoned with, ``None`` for none said.
    """

    by: By
    batch_g: Decimal
    asked: str
    words: str
    scarcest: str = ""
    overrun_percent: Decimal | None = None

    def as_json(self) -> dict[str, str]:
        """As a record keeps it."""
        return {
            "by": str(self.by),
            "asked": self.asked,
            "batch_g": mass.text(self.batch_g),
            "words": self.words,
            **({"scarcest": self.scarcest} if self.scarcest else {}),
            **(
                {}
                if self.overrun_percent is None
                else {"overrun_percent": mass.text(self.overrun_percent)}
            ),
        }


def read_size(text: str, formula: Formula) -> Size:
    """The size of a batch of this formula.

    Raises :class:`OperatorError`: ``bad-size`` for what is none, ``facts-missing`` where a volume
    needs a density that is not known, ``unknown-ingredient`` for what the formula has not got.
    """
    asked = text.strip()
    if len(asked) > LONGEST:
        raise _wrong("it is longer than a size can be")
    if found := _MASS.fullmatch(asked):
        grams = _grams(found[1], found[2] or "g")
        return _size(By.MASS, grams, asked, f"{_told(grams)} g, as asked")
    if found := _VOLUME.fullmatch(asked):
        volume = _number(found[1]) * _ML[found[2].lower()]
        return _by_volume(By.VOLUME, formula, asked, (volume, _air(found[3])), "")
    if found := _SERVINGS.fullmatch(asked):
        count, unit = Decimal(found[1]), found[3].lower()
        each = f"{found[1]} servings of {_told(_number(found[2]))} {found[3]}: "
        if unit in _ML:
            volume = count * _number(found[2]) * _ML[unit]
            return _by_volume(By.SERVINGS, formula, asked, (volume, _air(found[4])), each)
        if found[4]:
            raise _wrong("a serving by mass has no use for an overrun")
        grams = count * _grams(found[2], unit)
        return _size(By.SERVINGS, grams, asked, f"{each}{_told(grams)} g")
    return by_hand(_on_hand(asked), formula, asked)


def by_mass(grams: Decimal) -> Size:
    """A size that was given as a mass."""
    return Size(By.MASS, grams, f"{_told(grams)} g", f"{_told(grams)} g, as asked")


def _on_hand(text: str) -> dict[str, Decimal]:
    out: dict[str, Decimal] = {}
    # A comma parts ingredients, where no digit follows it.
    for part in re.split(r"[;\n]|,(?!\d)", text):
        found = _ON_HAND.fullmatch(part)
        if found is None:
            raise _wrong(f'"{part.strip()[:60]}" is no size')
        if found[1] in out:
            raise _wrong(f"{found[1]} is on hand twice")
        out[found[1]] = _grams(found[2], found[3])
    return out


def _by_volume(
    by: By, formula: Formula, asked: str, volume: tuple[Decimal, Decimal | None], ahead: str
) -> Size:
    product, air = volume
    mix = of_formula(formula)
    least = mix.of("volume_ml").low
    if not least or mix.of("volume_ml").high > least * MOST_SPREAD:
        raise _unknown(mix)
    litres = product / 1000
    of_mix = litres / (1 + (air or _NOTHING) / _HUNDRED)
    density = mix.mass_g / least
    grams = of_mix * 1000 * density
    known = mix.of("volume_ml").known
    kind = "mix" if air is None else f"product at {_told(air)} % overrun"
    words = f"{ahead}{_told(litres)} L of {kind}"
    if air is not None:
        words += f", {_told(mass.short(of_mix, Decimal('0.001')))} L of mix"
    words += f" of {_told(mass.short(density, Decimal('0.0001')))} g/mL"
    if not known:
        words += "; at least, since facts are missing: " + ", ".join(
            f"{name} ({', '.join(facts)})" for name, facts in mix.missing.items()
        )
    return _size(by, grams, asked, words, up=True, air=air)


def by_hand(on_hand: Mapping[str, Decimal], formula: Formula, asked: str = "") -> Size:
    """The largest batch for which so many grams of each of these do.

    Raises :class:`OperatorError`, ``bad-size`` or ``unknown-ingredient``.
    """
    needs: dict[str, Decimal] = {}
    names: dict[str, str] = {}
    for one in formula.additions:
        needs[one.ingredient.id] = needs.get(one.ingredient.id, _NOTHING) + one.target_g
        names[one.ingredient.id] = one.ingredient.name
    for name in on_hand:
        if name not in needs:
            raise OperatorError(
                "unknown-ingredient",
                f'The formula has no "{name}".',
                where="size",
                remedy=f"It has: {', '.join(needs)}.",
            )
    allows = {
        name: EXACT.divide(EXACT.multiply(grams, formula.batch_g), needs[name])
        for name, grams in on_hand.items()
    }
    scarcest = min(allows, key=lambda name: allows[name])
    size = allows[scarcest].quantize(FINEST, rounding=ROUND_FLOOR)
    size = _within(formula, on_hand, size)
    words = (
        f"{_told(on_hand[scarcest])} g of {names[scarcest]} on hand, of which "
        f"{_told(mass.short(needs[scarcest] * 1000 / formula.batch_g, FINEST))} g go into a kilo"
    )
    if len(on_hand) > 1:
        others = ", ".join(
            f"{names[name]} would do for {_told(mass.short(allows[name], Decimal(1)))} g"
            for name in on_hand
            if name != scarcest
        )
        words += f"; it is the scarcest ({others})"
    return _size(By.ON_HAND, size, asked, words, scarcest=scarcest)


def _within(formula: Formula, on_hand: Mapping[str, Decimal], size: Decimal) -> Decimal:
    """The size, less as much as keeps every amount, rounded as it will be, within what is there."""
    # Amounts are whole hundredths: so fine steps as are on hand beyond them would never get there.
    usable = {name: g.quantize(FINEST, rounding=ROUND_FLOOR) for name, g in on_hand.items()}
    while 0 < size <= LARGEST_G:
        totals: dict[str, Decimal] = {}
        for one in formula.scaled(size).additions:
            totals[one.ingredient.id] = totals.get(one.ingredient.id, _NOTHING) + one.target_g
        over = [(totals[name], usable[name]) for name, g in on_hand.items() if totals[name] > g]
        if not over:
            return size
        worst = max((total - there) / total for total, there in over)
        size -= (size * worst).quantize(FINEST, rounding=ROUND_CEILING)
    return size


def _size(
    by: By,
    grams: Decimal,
    asked: str,
    words: str,
    *,
    up: bool = False,
    scarcest: str = "",
    air: Decimal | None = None,
) -> Size:
    rounding = ROUND_CEILING if up else ROUND_FLOOR
    batch = grams.quantize(FINEST, rounding=rounding).normalize()
    batch = batch.quantize(Decimal(1)) if batch == batch.to_integral_value() else batch
    if not 0 < batch <= LARGEST_G:
        raise _wrong(f"a batch of {_told(batch)} g cannot be made")
    return Size(by, batch, asked, words, scarcest, air)


def _air(text: str | None) -> Decimal | None:
    if text is None:
        return None
    air = _number(text)
    if air > MOST_OVERRUN:
        raise _wrong(f"an overrun of {text} % is above {MOST_OVERRUN} %")
    return air


def _unknown(mix: Composition) -> OperatorError:
    facts = "; ".join(f"{name}: {', '.join(each)}" for name, each in mix.missing.items())
    return OperatorError(
        "facts-missing",
        "A volume needs the density of the mix, and that is not known.",
        where="size",
        remedy=f"State what is missing ({facts[:200]}), or give a mass." if facts else "",
    )


def _grams(number: str, unit: str) -> Decimal:
    return mass.to_grams(_number(number), Unit(unit.lower()))


def _number(text: str) -> Decimal:
    return Decimal(text.replace(",", "."))


def _told(value: Decimal) -> str:
    return mass.text(value.normalize())


def _wrong(message: str) -> OperatorError:
    return OperatorError(
        "bad-size",
        f"{message[:1].upper()}{message[1:]}.",
        where="size",
        remedy="Write it like 3 kg, 5 L at 30 %, 40 servings of 80 g, or cream=900 g.",
    )
