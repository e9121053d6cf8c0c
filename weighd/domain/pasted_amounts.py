"""An amount as people write it in a line: found, read for certain, or refused with the reason."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal

from weighd.domain import mass
from weighd.domain.formula import read_tolerance
from weighd.domain.mass import EXACT, Unit

#: Fewer of something may be pieces; more grams of something are no batch in a kitchen.
FEW, A_LOT_G = 20, Decimal(100_000)

_MASSES = {
    "mg": Unit.MG,
    "milligram": Unit.MG,
    "milligrams": Unit.MG,
    "g": Unit.G,
    "gram": Unit.G,
    "grams": Unit.G,
    "gramme": Unit.G,
    "grammes": Unit.G,
    "gms": Unit.G,
    "kg": Unit.KG,
    "kgs": Unit.KG,
    "kilo": Unit.KG,
    "kilos": Unit.KG,
    "kilogram": Unit.KG,
    "kilograms": Unit.KG,
    "oz": Unit.OZ,
    "ounce": Unit.OZ,
    "ounces": Unit.OZ,
    "lb": Unit.LB,
    "lbs": Unit.LB,
    "pound": Unit.LB,
    "pounds": Unit.LB,
}
#: In a formula this is the grain, in a cook's list hardly ever.
_GRAM_OR_GRAIN = "gr"
#: Millilitres.
_VOLUMES = {
    "ml": Decimal(1),
    "millilitre": Decimal(1),
    "millilitres": Decimal(1),
    "milliliter": Decimal(1),
    "milliliters": Decimal(1),
    "cc": Decimal(1),
    "cl": Decimal(10),
    "dl": Decimal(100),
    "l": Decimal(1000),
    "litre": Decimal(1000),
    "litres": Decimal(1000),
    "liter": Decimal(1000),
    "liters": Decimal(1000),
}
_VAGUE = (
    "tablespoons?|teaspoons?|fluid ounces?|handfuls?|drizzles?|packets?|sprigs?|"
    "leaves|leaf|sheets?|cloves?|sticks?|pinch(?:es)?|dash(?:es)?|drops?|fl\\.? ?oz|"
    "cups?|tbsps?|tsps?|pints?|quarts?|gallons?|pieces?|pcs?|scoops?|splash(?:es)?|"
    "bunch(?:es)?|cans?|jars?|tins?|packs?"
)
_UNITS = "|".join(sorted([*_MASSES, _GRAM_OR_GRAIN, *_VOLUMES], key=len, reverse=True))
_NUMBER = r"\d[\d.,' ]*\d|\d"
_FRACTION = (
    r"(?:(?P<whole>\d+)\s+)?(?P<top>\d{1,3})\s*/\s*(?P<under>[1-9]\d{0,2})"
    rf"|(?P<number>{_NUMBER})"
)
_AMOUNT = rf"(?<![\w.])(?<!\d,)(?:{_FRACTION})\s*(?:[,;|]\s*)?(?P<unit>(?:{_UNITS})(?![^\W_])\.?)?"
_FIRST = re.compile(rf"{_AMOUNT}(?![\w/])(?!\s*%)", re.IGNORECASE)
_MINUS = re.compile(r"(?<![^\s;:=])-\s?$")
_RANGE = re.compile(rf"\d\s*(?:{_UNITS})?\s*(?:-|to|or)\s*\d", re.IGNORECASE)
_TOLERANCE = re.compile(
    r"(?:±|\+/-|\+-)\s*(\d+(?:[.,]\d+)?\s*(?:%|[a-z]+))|(\+\s*\d+(?:[.,]\d+)?\s*(?:%|[a-z]+)?\s*/\s*-\s*"
    r"\d+(?:[.,]\d+)?\s*(?:%|[a-z]+))",
    re.IGNORECASE,
)
SPOONS = re.compile(rf"\b(?P<word>{_VAGUE})\b", re.IGNORECASE)
_THIN = dict.fromkeys(map(ord, "\u00a0\u2007\u2009\u200a\u202f"), " ")
_NO_CHARACTERS = dict.fromkeys(map(ord, "\u200b\u200c\u200d\u2060\ufeff\u00ad"), None)


@dataclass(frozen=True, slots=True)
class Found:
    """An amount in a line: where it stands, and what it is: grams, or millilitres."""

    start: int
    end: int
    text: str
    grams: Decimal | None = None
    millilitres: Decimal | None = None
    note: str = ""


def amount_in(text: str) -> Found | None:
    """The first amount of a line, one with a unit before one without; ``None`` for none.

    Raises ``ValueError`` for one that can be read in two ways.
    """
    if _RANGE.search(text):
        raise ValueError("A range is no amount: choose one")
    every = list(_FIRST.finditer(text))
    found = next((one for one in every if one["unit"]), None)
    if found is None:
        if not every:
            return None
        if SPOONS.search(text):
            return None
        if len(every) > 1:
            raise ValueError("More than one number, and none has a unit")
        found = every[0]
        if _may_be_a_count(found, text[found.end() :].strip()):
            raise ValueError(f'"{found[0].strip()}" has no unit and may be a count: write grams')
    elif sum(1 for one in every if one["unit"]) > 1:
        raise ValueError("More than one amount: one line for each ingredient")
    if _MINUS.search(text[: found.start()]) and text[found.start() - 1] == "-":
        raise ValueError("A minus stands before the amount: an amount is above zero")
    unit = (found["unit"] or "").lower().rstrip(".")
    meant = _MASSES.get(unit, Unit.G)
    value = _value(found, meant)
    written = _written(value)
    if unit in _VOLUMES:
        millilitres = EXACT.multiply(value, _VOLUMES[unit])
        return Found(*found.span(), text=f"{written} {unit}", millilitres=millilitres)
    note = ""
    if not unit:
        note = "No unit: taken for grams."
    elif unit == _GRAM_OR_GRAIN:
        note = f'"{unit}" taken for grams.'
    return Found(*found.span(), f"{written} {meant}", mass.to_grams(value, meant), note=note)


def _may_be_a_count(found: re.Match[str], after: str) -> bool:
    """Whether a number without a unit may count pieces: a small whole one in front of a name."""
    said = found["number"]
    return bool(after[:1].isalpha()) and (said is None or (said.isdigit() and int(said) < FEW))


def _value(found: re.Match[str], unit: Unit) -> Decimal:
    if found["top"]:
        top, under = Decimal(found["top"]), Decimal(found["under"])
        part = mass.rounded(top / under, Decimal("0.0001")).normalize()
        return Decimal(found["whole"] or 0) + part
    text = re.sub(r"[' ]", "", found["number"])
    points, commas = text.count("."), text.count(",")
    if points and commas:
        decimal = max(text.rfind("."), text.rfind(","))
        sign = text[decimal]
        other = "," if sign == "." else "."
        head, tail = text[:decimal].replace(other, ""), text[decimal + 1 :]
        if sign in head or not tail.isdigit() or not _grouped(text[:decimal], other):
            raise ValueError(f'"{found["number"]}" is no number that can be read for certain')
        return Decimal(f"{head}.{tail}")
    sign = "." if points else ","
    if points + commas > 1:
        if not _grouped(text, sign):
            raise ValueError(f'"{found["number"]}" is no number that can be read for certain')
        return Decimal(text.replace(sign, ""))
    if _grouped(text, sign) and not text.startswith("0"):
        head, tail = text.split(sign)
        if mass.to_grams(Decimal(head + tail), unit) <= A_LOT_G:
            raise ValueError(
                f'"{found["number"]}" may be {head}{tail} or {head} and a fraction: write it '
                f'without the "{sign}"'
            )
    return Decimal(text.replace(",", "."))


def _grouped(text: str, sign: str) -> bool:
    """Whether digits stand in groups of three behind ``sign``."""
    return re.fullmatch(rf"\d{{1,3}}(?:{re.escape(sign)}\d{{3}})+", text) is not None


def _written(value: Decimal) -> str:
    return mass.text(value.normalize() if value == value.to_integral_value() else value)


def tolerance_in(text: str) -> tuple[str, str]:
    """A tolerance that stands in a line, and the line without it. Raises ``ValueError``."""
    found = _TOLERANCE.search(text)
    if found is None:
        return "", text
    said = (found[1] or found[2]).strip()
    read_tolerance(said)
    return said, text[: found.start()] + " " + text[found.end() :]


def plain(text: str) -> str:
    """The line in plain characters: fractions and full-width digits as digits, one kind of dash."""
    text = (
        text.translate(_NO_CHARACTERS).translate(_THIN).replace("\u2044", "/").replace("\t", " ; ")
    )
    out = []
    for one in text:
        if unicodedata.decomposition(one).startswith("<fraction>"):
            out.append(" " + unicodedata.normalize("NFKC", one).replace("\u2044", "/"))
        else:
            out.append(unicodedata.normalize("NFKC", one))
    joined = re.sub(r"[\u2010-\u2015\u2212]", "-", "".join(out))
    return re.sub(r"\.{2,}|_{2,}", " ; ", joined)
