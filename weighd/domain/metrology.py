"""How well an addition is known, and what may be said of it.

Uncertainty is a standard uncertainty in grams, put together from its components by root sum of
squares (GUM, JCGM 100:2008, 5.1.2); a net is a difference, so each counts once. The components:

rounding            a display is known to half an interval: ``d / sqrt(12)`` for each of the two
                    readings that a net takes (F.2.2.1), 0.41 d for both.
spread              what the settled readings of each level scatter by (:func:`level`).
repeatability       as stated of the scale (:mod:`~weighd.domain.accuracy`), once for a net: it is
                    measured on nets. What a level scatters by is partly in it; counting both errs
                    to the safe side.
permissible error   ``a / sqrt(3)`` (4.3.7): the net may be off by ``a`` either way, nothing else
                    is known. What is stated of the scale says how large ``a`` is.
creep               ``c / sqrt(3)``: between tare and verdict the display may have moved by ``c`` of
                    itself. ``c`` is stated for half an hour (as in R 76-1, 3.9.4.1, from memory)
                    and counts in full from the start, since a load cell creeps most at first;
                    every further half hour begun adds as much again.

The decision rules follow JCGM 106:2012. ``simple`` (simple acceptance, 8.2) accepts anything
inside the limits. ``guarded`` (guarded acceptance, 8.3) keeps a guard band ``w = k u`` inside each
limit: the acceptance limits stand that far in. On the far side of a limit it keeps the same
distance before it rejects, and says ``too close to call`` between (the non-binary rule of
ILAC-G8:09/2019, 4.2.3). Clause numbers from memory.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Context, Decimal
from enum import StrEnum
from itertools import pairwise

from weighd.domain import mass
from weighd.domain.accuracy import Accuracy

_CONTEXT = Context(prec=28)
_NOTHING = Decimal(0)
#: Uncertainties are written to this many grams: two digits and more on any scale known here.
_FINEST = Decimal("0.000001")
#: The time, in seconds, for which creep is stated.
CREEP_S = 1800


class Verdict(StrEnum):
    """What is said of a weighed addition."""

    SHORT = "short"
    ON_TARGET = "on target"
    OVER = "over"
    TOO_CLOSE = "too close to call"


@dataclass(frozen=True, slots=True)
class Rule:
    """A decision rule: ``simple``, or ``guarded`` by ``k`` standard uncertainties (``k`` > 0)."""

    name: str = "guarded"
    k: Decimal = Decimal(2)

    def __post_init__(self) -> None:
        if self.name not in ("simple", "guarded"):
            raise ValueError(f'"{self.name}" is not a decision rule; use "simple" or "guarded"')
        if self.name == "guarded" and not 0 < self.k <= 5:
            raise ValueError(f"a guard band of {self.k} standard uncertainties makes no sense")

    def guard(self, u_g: Decimal) -> Decimal:
        """Width of the guard band in grams."""
        return _NOTHING if self.name == "simple" else self.k * u_g


@dataclass(frozen=True, slots=True)
class Level:
    """A settled display: ``grams`` as displayed and its standard uncertainty in grams.

    ``rounding_g`` and ``spread_g`` are what ``u_g`` is made of.
    """

    grams: Decimal
    u_g: Decimal
    rounding_g: Decimal = _NOTHING
    spread_g: Decimal = _NOTHING

    @property
    def budget(self) -> Budget:
        """What its uncertainty is made of."""
        return Budget(self.rounding_g, self.spread_g)


@dataclass(frozen=True, slots=True)
class Budget:
    """The components of an uncertainty, each a standard uncertainty in grams."""

    rounding_g: Decimal
    spread_g: Decimal
    repeatability_g: Decimal = _NOTHING
    permissible_error_g: Decimal = _NOTHING
    creep_g: Decimal = _NOTHING

    @property
    def u_g(self) -> Decimal:
        """Combined standard uncertainty in grams."""
        return root_sum(
            self.rounding_g,
            self.spread_g,
            self.repeatability_g,
            self.permissible_error_g,
            self.creep_g,
        )

    def as_json(self) -> dict[str, str]:
        """The components that went in, by name; what nothing is stated about is left out."""
        stated = {
            "repeatability": self.repeatability_g,
            "permissible_error": self.permissible_error_g,
            "creep": self.creep_g,
        }
        return {
            "rounding": mass.text(self.rounding_g),
            "spread": mass.text(self.spread_g),
            **{name: mass.text(one) for name, one in stated.items() if one},
        }


def budget_of(body: Mapping[str, str]) -> Budget:
    """The inverse of :meth:`Budget.as_json`. Raises ``ValueError`` or ``KeyError``."""
    named = ("rounding", "spread", "repeatability", "permissible_error", "creep")
    return Budget(*(mass.parse(body[name]) if name in body else _NOTHING for name in named))


def level_of(grams: Decimal, u_g: Decimal, budget: Mapping[str, str] | None) -> Level:
    """A level as a record has it; before budgets were kept, all of ``u_g`` counts as spread.

    Raises ``ValueError`` or ``KeyError`` for a budget that is none.
    """
    if budget is None:
        return Level(grams, u_g, spread_g=u_g)
    return Level(grams, u_g, mass.parse(budget["rounding"]), mass.parse(budget["spread"]))


def level(displayed: Sequence[Decimal], interval_g: Decimal) -> Level:
    """The level that a run of settled readings shows.

    ``displayed``   grams, at least one, all of one settled stretch, oldest first.
    ``interval_g``  the scale interval d, above zero.

    The level is the (lower) median, so it is always a value that stood on the display and one
    misread value cannot move it. Rounding is ``d / sqrt(12)``; spread is ``s / sqrt(m)``, where
    ``m`` says how many independent readings the ``n`` are worth (:func:`_worth`): neighbours on a
    filtered display are alike, and ``s / sqrt(n)`` would claim too much (GUM 4.2.7, from memory).
    Raises ``ValueError`` when empty.
    """
    if not displayed:
        raise ValueError("a level needs at least one reading")
    n = len(displayed)
    middle = sorted(displayed)[(n - 1) // 2]
    rounding = _rounded(_CONTEXT.sqrt(interval_g**2 / 12))
    spread = _rounded(_NOTHING)
    if min(displayed) != max(displayed):
        mean = sum(displayed, _NOTHING) / n
        offsets = [one - mean for one in displayed]
        squares = sum((one**2 for one in offsets), _NOTHING)
        spread = _rounded(_CONTEXT.sqrt(squares / (n - 1) / _worth(offsets, squares)))
    return Level(middle, root_sum(rounding, spread), rounding, spread)


def _worth(offsets: Sequence[Decimal], squares: Decimal) -> Decimal:
    """How many independent readings these are worth, one at least.

    ``n (1 - r) / (1 + r)`` for readings whose neighbours correlate by ``r`` (an autoregressive
    display of first order). ``r`` as found in so few readings comes out too small by about
    ``(1 + 4 r) / n`` and is known to ``1 / sqrt(n)`` (Kendall 1954 and Bartlett 1946, from memory);
    both are added, so that chance seldom makes the readings worth more than they are.
    """
    n = len(offsets)
    products = sum((one * next_ for one, next_ in pairwise(offsets)), _NOTHING)
    r = max(products / squares, _NOTHING)
    r = min(r + (1 + 4 * r) / n + 1 / _CONTEXT.sqrt(Decimal(n)), Decimal(1))
    return max(n * (1 - r) / (1 + r), Decimal(1))


def net_budget(
    gross: Level,
    tare: Level,
    accuracy: Accuracy | None = None,
    half_hours: int = 1,
) -> Budget:
    """What ``gross - tare``, two readings of one scale, is uncertain by.

    ``half_hours``  half hours begun since the tare, at least one.
    """
    stated = accuracy or Accuracy()
    return _stated(
        root_sum(gross.rounding_g, tare.rounding_g),
        root_sum(gross.spread_g, tare.spread_g),
        stated,
        gross.grams - tare.grams,
        half_hours,
    )


def combined(grams: Decimal, *levels: Level) -> Level:
    """``grams`` put together from independent levels: what each is uncertain by counts once."""
    rounding = root_sum(*(one.rounding_g for one in levels))
    spread = root_sum(*(one.spread_g for one in levels))
    return Level(grams, root_sum(rounding, spread), rounding, spread)


def whole_budget(parts: Sequence[Budget]) -> Budget:
    """What the sum of several nets is uncertain by; at least one.

    Rounding, spread and repeatability are new with each weighing and add as root sum of squares.
    What the scale errs by and how it creeps is the same each time and adds up in full (GUM 5.2.2,
    fully correlated; clause from memory). Parts weighed on different scales are thereby taken as
    worse than they are.
    """
    return Budget(
        root_sum(*(one.rounding_g for one in parts)),
        root_sum(*(one.spread_g for one in parts)),
        root_sum(*(one.repeatability_g for one in parts)),
        sum((one.permissible_error_g for one in parts), _NOTHING),
        sum((one.creep_g for one in parts), _NOTHING),
    )


def rounded_level(grams: Decimal, interval_g: Decimal) -> Level:
    """A level known to no more than its interval."""
    rounding = _rounded(_CONTEXT.sqrt(interval_g**2 / 12))
    return Level(grams, rounding, rounding)


def on_steps(settled: Level, step_g: Decimal) -> Level:
    """The same level on a display that steps in ``step_g``: another unit, a coarse range."""
    rounding, spread = rounded_level(settled.grams, step_g).rounding_g, settled.spread_g
    return Level(settled.grams, root_sum(rounding, spread), rounding, spread)


def moving_level(displayed: Sequence[Decimal], interval_g: Decimal) -> Level:
    """The last value of a display that was moving, known as badly as it moved.

    ``displayed``  its last readings in grams, oldest first, at least one; all within their range
                   ``R`` of the last is taken to be alike, so spread is ``R / sqrt(3)`` (GUM
                   4.3.7). Raises ``ValueError`` when empty.
    """
    if not displayed:
        raise ValueError("a level needs at least one reading")
    rounding = rounded_level(displayed[-1], interval_g).rounding_g
    spread = _rounded((max(displayed) - min(displayed)) / _CONTEXT.sqrt(Decimal(3)))
    return Level(displayed[-1], root_sum(rounding, spread), rounding, spread)


def net_uncertainty(gross: Level, tare: Level) -> Decimal:
    """Standard uncertainty in grams of ``gross - tare`` from the two readings alone."""
    return root_sum(gross.u_g, tare.u_g)


def half_hours(seconds: int) -> int:
    """Half hours begun in so many seconds; one where a clock was set back."""
    return max(seconds, 0) // CREEP_S + 1


def expected_budget(
    interval_g: Decimal, accuracy: Accuracy | None = None, net_g: Decimal = _NOTHING
) -> Budget:
    """The least a net can be uncertain by on this scale: a display that stands still."""
    rounding = _rounded(_CONTEXT.sqrt(interval_g**2 / 12))
    return _stated(root_sum(rounding, rounding), _NOTHING, accuracy or Accuracy(), net_g, 1)


def _stated(
    rounding_g: Decimal, spread_g: Decimal, stated: Accuracy, net_g: Decimal, periods: int
) -> Budget:
    root = _CONTEXT.sqrt(Decimal(3))
    return Budget(
        rounding_g,
        spread_g,
        _rounded(stated.repeatability_g),
        _rounded(stated.error_g(net_g) / root),
        _rounded(stated.creep_g * periods / root),
    )


def acceptance(low_g: Decimal, high_g: Decimal, guard_g: Decimal) -> tuple[Decimal, Decimal]:
    """The acceptance limits: the limits, a guard band further in (JCGM 106:2012, 8.3)."""
    return low_g + guard_g, high_g - guard_g


def judge(net_g: Decimal, u_g: Decimal, low_g: Decimal, high_g: Decimal, rule: Rule) -> Verdict:
    """The verdict on a net mass; all in grams, ``low_g`` <= ``high_g``. Limits count as inside."""
    guard = rule.guard(u_g)
    accept_low, accept_high = acceptance(low_g, high_g, guard)
    if accept_low <= net_g <= accept_high:
        return Verdict.ON_TARGET
    if net_g < low_g - guard:
        return Verdict.SHORT
    if net_g > high_g + guard:
        return Verdict.OVER
    return Verdict.TOO_CLOSE


def root_sum(*parts: Decimal) -> Decimal:
    """Root sum of squares: independent standard uncertainties, combined."""
    return _rounded(_CONTEXT.sqrt(sum((one**2 for one in parts), _NOTHING)))


def _rounded(u_g: Decimal) -> Decimal:
    return u_g.quantize(_FINEST)
