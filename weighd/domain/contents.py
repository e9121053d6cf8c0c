"""What a gram of an ingredient holds, as a row of numbers: a mix is the sum of grams times rows.

Everything here is linear in the mass, so that a composition is a plain weighted sum, and so that a
solver can use the same rows as coefficients. What is not linear (shares of water, freezing) is
made of the sums afterwards.

A missing value is a range: at least nothing, at most what is left of the 100 g once the stated
parts are taken off. So every sum has a lower and an upper end, and both are true.

Sources of the figures, beside those of :mod:`weighd.domain.sugars`:

- lactose of milk solids-not-fat 54.5 %, of whey solids 76.5 %; 2.37 for the salts of both:
  Goff & Hartel, *Ice Cream*, 7th ed. (2013), ch. 6 (2.37 is 0.244 × 87.11 / 8.99 of A. Leighton,
  J. Dairy Sci. 10 (1927) 300);
- added salt: 2 ions × 1.858 × osmotic coefficient 0.935, from -0.400 °C at 6.731 g in 1000 g water
  (GB 5413.38-2016, 3.3.1); molar masses from memory;
- alcohol and glycerol: 1.858 °C kg/mol, one particle each;
- volume: 1.075 mL per g of fat, 0.63 of other solids, 1 of water (Goff, *Overrun calculations*,
  Univ. of Guelph); alcohol 1.267 (0.789 g/mL at 20 °C, from memory);
- energy: Regulation (EU) 1169/2011, Annex XIV. Protein and carbohydrate count alike, so all solids
  but fat, salt and ash count 4 kcal or 17 kJ; fibre, which would count 2, is not told apart, and
  then the energy is somewhat too high.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from weighd.domain.facts import HOSTS, OF_WHICH, PARTS, SUGARS, Facts
from weighd.domain.sugars import KINDS, Span

NONE, ONE = Decimal(0), Decimal(1)
UNKNOWN = Decimal("Infinity")
#: °C kg/mol of water, and a gram in 100 g water as mol/kg times that.
CRYOSCOPIC = Decimal("1.858")
LACTOSE_OF_MSNF, LACTOSE_OF_WHEY = Decimal("0.545"), Decimal("0.765")
MILK_SALTS = Decimal("2.37")
#: Rounded, so that grams times them end and sums of them are exact.
_PLACES = Decimal("0.0001")
SALT = (2 * CRYOSCOPIC * Decimal("0.935") * 1000 / Decimal("58.44")).quantize(_PLACES)
ALCOHOL = (CRYOSCOPIC * 1000 / Decimal("46.07")).quantize(_PLACES)
_SUGAR = f"{SUGARS}."

#: Every sum that a composition has. All are grams but ``*_c`` (°C × g of water: by the grams of
#: water they are °C), ``kcal``, ``kj``, ``volume_ml``, and ``cost`` in the user's own currency.
KEYS = (
    *PARTS,
    *(f"{_SUGAR}{kind}" for kind in KINDS),
    *OF_WHICH,
    SUGARS,
    "total_solids",
    "sweetness",
    "sucrose_equivalent",
    "milk_salts_c",
    "salt_c",
    "alcohol_c",
    "volume_ml",
    "kcal",
    "kj",
    "cost",
)


@dataclass(frozen=True, slots=True)
class Row:
    """What a gram holds of each of :data:`KEYS`; a key that is in neither list is none at all.

    ``low``     the lower end;
    ``spread``  how far the upper end is above it, where something is missing;
    ``missing`` for such keys, the facts that would settle them.
    """

    low: tuple[tuple[str, Decimal], ...]
    spread: tuple[tuple[str, Decimal], ...]
    missing: tuple[tuple[str, tuple[str, ...]], ...]


_Weight = Callable[[str], Span]


def _only(*parts: str) -> _Weight:
    return lambda part: Span(ONE, ONE) if part in parts else Span(NONE, NONE)


def _table(weights: Mapping[str, Decimal]) -> _Weight:
    return lambda part: Span(weights.get(part, NONE), weights.get(part, NONE))


def _kind(part: str) -> str:
    return part[len(_SUGAR) :] if part.startswith(_SUGAR) else ""


def _total_solids(part: str) -> Span:
    weight = NONE if part in ("water", "alcohol") else ONE
    return Span(weight, weight)


def _sugars(part: str) -> Span:
    weight = ONE if _kind(part) else NONE
    return Span(weight, weight)


def _sucrose_equivalent(part: str) -> Span:
    kind = _kind(part)
    return KINDS[kind].freezing if kind else _milk_lactose(part)


def _sweetness(part: str) -> Span:
    kind = _kind(part)
    if kind:
        return KINDS[kind].sweetness
    weight = _milk_lactose(part).low * KINDS["lactose"].sweetness.low
    return Span(weight, weight)


def _lactose(part: str) -> Span:
    return Span(ONE, ONE) if _kind(part) == "lactose" else _milk_lactose(part)


def _alcohol_c(part: str) -> Span:
    kind = _kind(part)
    weight = ALCOHOL if part == "alcohol" else NONE
    if kind and KINDS[kind].molar_mass:
        weight = (CRYOSCOPIC * 1000 / KINDS[kind].molar_mass).quantize(_PLACES)
    return Span(weight, weight)


def _volume(part: str) -> Span:
    own = {"water": ONE, "fat": Decimal("1.075"), "alcohol": Decimal("1.267")}
    weight = own.get(part, Decimal("0.63"))
    return Span(weight, weight)


def _energy(unit: str, fat: int, alcohol: int, rest: int) -> _Weight:
    fixed = {"water": 0, "salt": 0, "fat": fat, "alcohol": alcohol}

    def weight(part: str) -> Span:
        kind = _kind(part)
        each = getattr(KINDS[kind], unit) if kind else Decimal(fixed.get(part, rest))
        return Span(each, each)

    return weight


_milk_lactose = _table({"msnf": LACTOSE_OF_MSNF, "whey_solids": LACTOSE_OF_WHEY})
_BASIC = (*PARTS, *(f"{_SUGAR}{kind}" for kind in KINDS))
_WEIGHTS: dict[str, _Weight] = {
    **{part: _only(part) for part in _BASIC},
    SUGARS: _sugars,
    "total_solids": _total_solids,
    "lactose": _lactose,
    "sweetness": _sweetness,
    "sucrose_equivalent": _sucrose_equivalent,
    "milk_salts_c": _table({"msnf": MILK_SALTS, "whey_solids": MILK_SALTS}),
    "salt_c": _table({"salt": SALT}),
    "alcohol_c": _alcohol_c,
    "volume_ml": _volume,
    "kcal": _energy("kcal", 9, 7, 4),
    "kj": _energy("kj", 37, 29, 17),
}
#: Once and for all: the weight of every basic part in every sum.
_GRID = {key: {part: weight(part) for part in _BASIC} for key, weight in _WEIGHTS.items()}
#: How a gram of milk's own lactose counts, and a gram of ash.
_OF_LACTOSE = {"lactose": ONE, "sucrose_equivalent": ONE, "sweetness": Decimal("0.15")}
_OF_ASH = {"kcal": Decimal(-4), "kj": Decimal(-17)}


@lru_cache(maxsize=1024)
def row_of(facts: Facts | None) -> Row:
    """What a gram of an ingredient with these facts holds."""
    known = facts or Facts()
    stated = dict(known.stated)
    basic = {part: stated[part] for part in PARTS if part in stated}
    basic |= {f"{_SUGAR}{kind}": value for kind, value in known.sugars or ()}
    ends: dict[str, Span] = {}
    missing: dict[str, tuple[str, ...]] = {}
    for key, weights in _GRID.items():
        own_lactose = key in _OF_LACTOSE and "lactose" in stated
        skipped = ("msnf", "whey_solids") if own_lactose else ()
        low = high = stated["lactose"] * _OF_LACTOSE[key] if own_lactose else NONE
        for part, value in basic.items():
            if part not in skipped:
                low += value * weights[part].low
                high += value * weights[part].high
        fields, left = _left(known, weights, skipped)
        if key in _OF_ASH:
            ash = _inside(known, "ash")
            low, high = low + ash.high * _OF_ASH[key], high + ash.low * _OF_ASH[key]
            fields += () if ash.low == ash.high else ("ash",)
        ends[key] = Span(max(low + left.low, NONE), max(high + left.high, NONE))
        missing[key] = fields
    for key in ("milk_fat", "protein", "ash"):
        ends[key] = _inside(known, key)
        missing[key] = (key,)
    price = known.cost_per_kg
    ends["cost"] = Span(price / 10, price / 10) if price is not None else Span(NONE, UNKNOWN)
    missing["cost"] = ("cost_per_kg",)
    if not known.stated and known.sugars is None:
        missing |= {key: ("composition",) for key in missing if key != "cost"}
    low_of = {key: span.low.scaleb(-2) for key, span in ends.items()}
    spread = {
        key: span.high - span.low if span.high == UNKNOWN else (span.high - span.low).scaleb(-2)
        for key, span in ends.items()
        if span.high > span.low
    }
    return Row(
        tuple((key, value) for key, value in low_of.items() if value),
        tuple(spread.items()),
        tuple((key, missing[key] or ("kind of sugar",)) for key in spread),
    )


def _left(
    known: Facts, weights: Mapping[str, Span], skipped: tuple[str, ...]
) -> tuple[tuple[str, ...], Span]:
    """What the part of the 100 g that is not stated may add, and the facts it hangs on."""
    spans: dict[str, Span] = {}
    for part in known.missing:
        if part == SUGARS:
            kinds = [weights[f"{_SUGAR}{kind}"] for kind in KINDS]
            spans[part] = Span(min(one.low for one in kinds), max(one.high for one in kinds))
        else:
            spans[part] = Span(NONE, NONE) if part in skipped else weights[part]
    if not spans:
        return (), Span(NONE, NONE)
    low = known.left_g * min(span.low for span in spans.values())
    high = known.left_g * max(span.high for span in spans.values())
    named = tuple(part for part, span in spans.items() if span.high * known.left_g > low)
    return named if high > low else (), Span(low, high)


def _inside(known: Facts, key: str) -> Span:
    """A value inside parts: as stated, else from nothing to all of what it can be in."""
    stated = dict(known.stated)
    if key in stated:
        return Span(stated[key], stated[key])
    hosts = HOSTS[key]
    room = sum((stated.get(host, NONE) for host in hosts), NONE)
    if set(hosts) & set(known.missing):
        room += known.left_g
    return Span(NONE, room)
