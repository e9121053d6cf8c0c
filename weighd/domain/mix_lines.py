"""What a mix shall be, as lines over the grams of what goes in.

Every quantity of :mod:`weighd.domain.limits` is a quotient of two sums over the ingredients'
rows, and "the quotient is at least 34" is "over less 34 times under is at least nothing": linear,
whatever the batch weighs. Where facts are missing a line is drawn so that it holds in any case:
the upper end with the most that may be in it, the lower end with the least.

The freezing point is no quotient, but on each straight piece of the table it is one
(:mod:`weighd.domain.mix_search` goes through them): with *c* = 100 SE / W between *g* and *h*,
``f(c) = d + (e - d) (c - g) / (h - g)``, and ``f(c) + C / W <= D`` is linear in W, SE and C.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from weighd.domain.contents import UNKNOWN, Row
from weighd.domain.errors import OperatorError
from weighd.domain.freezing import LAST_G, MOST_ALCOHOL_C, MOST_SALT_C, Piece, Solution
from weighd.domain.limits import Limit
from weighd.domain.problem import Line, total

_NOTHING, _ONE, _HUNDRED = Decimal(0), Decimal(1), Decimal(100)
FREEZING = "freezing_point"
#: A mix that is to freeze holds some water: at least this share of its mass.
_SOME_WATER = Decimal("0.001")
_FINE_C = Decimal("1e-9")
#: How near to the ends of the method a mix is let: amounts are rounded afterwards.
_SHORT_OF = Decimal("0.999")
Weights = Mapping[str, Decimal]
#: What is in a gram of each unknown; an unknown that is not here is no ingredient.
Rows = Mapping[str, Row]


def lower(rows: Rows, key: str) -> dict[str, Decimal]:
    """The least of a sum in a gram of each."""
    return {name: value for name, row in rows.items() if (value := _of(row.low, key))}


def upper(rows: Rows, key: str) -> dict[str, Decimal]:
    """The most of a sum in a gram of each.

    Raises :class:`OperatorError`, ``facts-missing``, where nothing limits it.
    """
    out = {}
    for name, row in rows.items():
        spread = _of(row.spread, key)
        if spread == UNKNOWN:
            facts = next((facts for one, facts in row.missing if one == key), (key,))
            raise OperatorError(
                "facts-missing",
                f"Nothing is known of {key.replace('_', ' ')} of {name}, so it cannot be reckoned "
                "with.",
                where=name,
                remedy=f"State its {', '.join(facts)}.",
            )
        if value := _of(row.low, key) + spread:
            out[name] = value
    return out


def _of(pairs: Iterable[tuple[str, Decimal]], key: str) -> Decimal:
    return next((value for one, value in pairs if one == key), _NOTHING)


def mass_of(rows: Rows) -> dict[str, Decimal]:
    """A gram of each is a gram."""
    return dict.fromkeys(rows, _ONE)


@dataclass(frozen=True, slots=True)
class Quotient:
    """``over / under``, each with its two ends."""

    over_low: Weights
    over_high: Weights
    under_low: Weights
    under_high: Weights

    @property
    def known(self) -> bool:
        """Whether no missing fact touches it."""
        return self.over_low == self.over_high and self.under_low == self.under_high

    def at(self, values: Mapping[str, Decimal]) -> tuple[Decimal, Decimal] | None:
        """Its lower and upper end; ``None`` where what it is divided by may be nothing."""
        low, high = total(self.under_low, values), total(self.under_high, values)
        if low <= 0:
            return None
        return total(self.over_low, values) / high, total(self.over_high, values) / low


def quotient_of(of: Sequence[str], rows: Rows, overrun_percent: Decimal | None = None) -> Quotient:
    """A quantity of :mod:`weighd.domain.limits`, but for the freezing point.

    Raises :class:`OperatorError`: ``needs-overrun``, ``facts-missing``.
    """
    first = of[0]
    if first == "lactose_in_water":
        low, high = (_times(one(rows, "lactose"), _HUNDRED) for one in (lower, upper))
        return Quotient(low, high, lower(rows, "water"), upper(rows, "water"))
    if first == "msnf_in_serum":
        low, high = lower(rows, "msnf"), upper(rows, "msnf")
        serum = _plus(lower(rows, "water"), low), _plus(upper(rows, "water"), high)
        return Quotient(_times(low, _HUNDRED), _times(high, _HUNDRED), *serum)
    if first in ("density", "solids_per_litre"):
        if overrun_percent is None:
            raise OperatorError(
                "needs-overrun",
                f"The {first.replace('_', ' ')} depends on the air in it.",
                where=first,
                remedy="Give the overrun.",
            )
        air = _ONE + overrun_percent / _HUNDRED
        volume = _times(lower(rows, "volume_ml"), air), _times(upper(rows, "volume_ml"), air)
        if first == "density":
            return Quotient(mass_of(rows), mass_of(rows), *volume)
        return Quotient(lower(rows, "total_solids"), upper(rows, "total_solids"), *volume)
    low, high = lower(rows, first), upper(rows, first)
    for key in of[1:]:
        low, high = _plus(low, lower(rows, key)), _plus(high, upper(rows, key))
    mass = mass_of(rows)
    return Quotient(_times(low, _HUNDRED), _times(high, _HUNDRED), mass, mass)


def named(of: Sequence[str]) -> str:
    """A quantity's name: ``fat``, or ``fat + msnf`` for a sum."""
    return " + ".join(of)


LEAST, MOST = " at least", " at most"


def lines_of(
    limit: Limit,
    rows: Rows,
    overrun_percent: Decimal | None = None,
    *,
    short: str = "",
    past: str = "",
) -> list[Line]:
    """A limit as a line for each of its ends, called after it.

    ``short``, ``past``  unknowns that take up what is missed of the lower end, and of the upper:
    in the quantity's own unit times what it is divided by.
    Raises :class:`OperatorError`: ``needs-overrun``, ``facts-missing``.
    """
    one, name, out = quotient_of(limit.of, rows, overrun_percent), named(limit.of), []
    if limit.least is not None:
        weights = _plus(one.over_low, _times(one.under_high, -limit.least))
        out.append(Line(name + LEAST, {**weights, **_slack(short, _ONE)}, _NOTHING, None))
    if limit.most is not None:
        weights = _plus(one.over_high, _times(one.under_low, -limit.most))
        out.append(Line(name + MOST, {**weights, **_slack(past, -_ONE)}, None, _NOTHING))
    return out


@dataclass(frozen=True, slots=True)
class Thawing:
    """One end of what is dissolved: water, sucrose equivalents, and the terms that are straight.

    ``at_most``, ``at_least``  °C below zero that it freezes at, ``None`` for no such end;
    ``past``, ``short``        unknowns that take up what is missed, in °C times grams of water.
    """

    water: Weights
    sucrose: Weights
    straight: Weights
    at_most: Decimal | None
    at_least: Decimal | None
    past: str = ""
    short: str = ""

    def depression(self, values: Mapping[str, Decimal]) -> Decimal | None:
        """°C below zero, ``None`` where there is no water or the table ends."""
        water = total(self.water, values)
        if water <= 0:
            return None
        sugars = max(total(self.sucrose, values), _NOTHING) * _HUNDRED / water
        return Solution(sugars, max(total(self.straight, values), _NOTHING) / water).depression()

    def lines(self, piece: Piece) -> list[Line]:
        """That it lies on this piece of the table, and between its ends."""
        place = [
            Line("piece from", self._above(piece.from_g), _NOTHING, None),
            Line("piece to", self._above(min(piece.to_g, LAST_G * _SHORT_OF)), None, _NOTHING),
        ]
        # Times the width of the piece, so that nothing is divided.
        width, rise = piece.to_g - piece.from_g, piece.to_c - piece.from_c
        flat = piece.from_c * width - rise * piece.from_g
        whole = _plus(_times(self.water, flat), _times(self.sucrose, rise * _HUNDRED))
        whole = _plus(whole, _times(self.straight, width))
        if self.at_most is not None:
            weights = _plus(whole, _times(self.water, -self.at_most * width))
            weights = {**weights, **_slack(self.past, -width)}
            place.append(Line(FREEZING + LEAST, weights, None, _NOTHING))
        if self.at_least is not None:
            weights = _plus(whole, _times(self.water, -self.at_least * width))
            weights = {**weights, **_slack(self.short, width)}
            place.append(Line(FREEZING + MOST, weights, _NOTHING, None))
        return place

    def _above(self, grams: Decimal) -> dict[str, Decimal]:
        return _plus(_times(self.sucrose, _HUNDRED), _times(self.water, -grams))


def thawings(
    limit: Limit, rows: Rows, *, short: str = "", past: str = ""
) -> tuple[tuple[Thawing, ...], list[Line]]:
    """A limit of the freezing point: its one or two ends, and the lines that hold on any piece:
    there is water, and no more salt and alcohol than the method knows.

    The least that the freezing point may be is the most that it is lowered. Where facts are missing
    the lower end is held with the most dissolved in the least water, the upper end the other way.
    """
    keys = ("milk_salts_c", "salt_c", "alcohol_c")
    straight = [_plus(*(one(rows, key) for key in keys)) for one in (lower, upper)]
    at_most = None if limit.least is None else -limit.least
    at_least = None if limit.most is None else -limit.most
    thin = upper(rows, "water"), lower(rows, "sucrose_equivalent"), straight[0]
    thick = lower(rows, "water"), upper(rows, "sucrose_equivalent"), straight[1]
    if thin == thick:
        ends: tuple[Thawing, ...] = (Thawing(*thick, at_most, at_least, short, past),)
    else:
        both = (Thawing(*thick, at_most, None, short), Thawing(*thin, None, at_least, "", past))
        ends = tuple(one for one in both if (one.at_most, one.at_least) != (None, None))
    water = thick[0]
    lines = [
        Line("some water", _plus(water, _times(mass_of(rows), -_SOME_WATER)), _NOTHING, None),
        *(
            Line(
                f"{key} that the method knows",
                _plus(weights, _times(water, -end * _SHORT_OF)),
                None,
                _NOTHING,
            )
            for key, end in (("salt_c", MOST_SALT_C), ("alcohol_c", MOST_ALCOHOL_C))
            if (weights := upper(rows, key))
        ),
    ]
    return ends, lines


def holds(ends: Sequence[Thawing], values: Mapping[str, Decimal]) -> bool:
    """Whether the freezing point lies between its ends, give or take nothing that could be told."""
    for one in ends:
        got = one.depression(values)
        if got is None:
            return False
        high = total({one.past: _ONE}, values) if one.past else _NOTHING
        low = total({one.short: _ONE}, values) if one.short else _NOTHING
        water = total(one.water, values)
        if one.at_most is not None and got > one.at_most + high / water + _FINE_C:
            return False
        if one.at_least is not None and got < one.at_least - low / water - _FINE_C:
            return False
    return True


def _plus(*those: Weights) -> dict[str, Decimal]:
    out: dict[str, Decimal] = {}
    for one in those:
        for name, weight in one.items():
            out[name] = out.get(name, _NOTHING) + weight
    return out


def _times(weights: Weights, factor: Decimal) -> dict[str, Decimal]:
    return {name: weight * factor for name, weight in weights.items()}


def _slack(name: str, weight: Decimal) -> dict[str, Decimal]:
    return {name: weight} if name else {}
