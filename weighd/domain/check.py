"""Checking a scale with weights: what a check consists of, and how each part of it is judged.

An empty scale is read, then weights are put on and taken off. Each is judged by the *error of
indication*: what the scale shows with the weight on, less what it showed empty just before, less
the mass of the weight. So an offset of the zero drops out of it (as ``Ec = E - E0`` in OIML
R 76-1:2006, A.4.4.3: second-hand), and the zero is judged by itself.

zero            the empty scale shows no more than the limit for no load.
masses          each weight shows its mass, within the limit for that load.
corners         a weight of about Max/3 shows its mass in the middle and over each corner (3.6.2).
repeatability   one weight put on n times: the largest less the smallest result is within the
                limit for that load (3.6.1). Their standard deviation is told.

The limit is what the configuration states, or what is stated of the scale: of a verified one the
errors permitted in service, twice those of Table 6 (3.5.2). Clauses are second-hand or from memory;
so are those of :mod:`~weighd.domain.accuracy`, which has the table.

The uncertainty of an error is put together from the two levels, the weight, and the repeatability
stated of the scale; that of a range is that of a difference of two results, in which the weight
drops out. What may be said is decided as for additions (:mod:`~weighd.domain.metrology`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Context, Decimal
from enum import StrEnum
from typing import Any

from weighd.domain import mass
from weighd.domain.accuracy import Accuracy
from weighd.domain.batch import Scale
from weighd.domain.check_standing import Outcome
from weighd.domain.metrology import Level, Rule, Verdict, judge, net_budget
from weighd.domain.repeatability import Repeatability
from weighd.domain.weights import Weight

_CONTEXT = Context(prec=28)
_FINEST = Decimal("0.000001")
_NOTHING = Decimal(0)
#: Corners are loaded with about this share of Max.
CORNER_SHARE = 3


class Part(StrEnum):
    """The parts of a check."""

    ZERO = "zero"
    MASS = "mass"
    CORNER = "corner"
    REPEAT = "repeatability"


class Place(StrEnum):
    """Where on the pan a weight stands."""

    CENTRE = "centre"
    FRONT_LEFT = "front left"
    BACK_LEFT = "back left"
    BACK_RIGHT = "back right"
    FRONT_RIGHT = "front right"


@dataclass(frozen=True, slots=True)
class Placement:
    """One thing to do: nothing on the scale (no ``weight``), or a weight at a place."""

    n: int
    part: Part
    weight: Weight | None = None
    place: Place = Place.CENTRE


@dataclass(frozen=True, slots=True)
class Plan:
    """What a check of one scale consists of.

    ``corners``, ``repeat``  the weights for those parts; ``None`` leaves the part out.
    ``repeat_n``             how often the weight is put on, two at least.
    ``limit_g``              the largest error allowed, where it is stated for the check.
    ``rule``                 its decision rule; the station's where it is ``None``.
    """

    zero: bool = True
    masses: tuple[Weight, ...] = ()
    corners: Weight | None = None
    repeat: Weight | None = None
    repeat_n: int = 0
    limit_g: Decimal | None = None
    rule: Rule | None = None

    @property
    def placements(self) -> tuple[Placement, ...]:
        """Everything to do, in order."""
        todo: list[tuple[Part, Weight | None, Place]] = []
        if self.zero:
            todo.append((Part.ZERO, None, Place.CENTRE))
        todo += [(Part.MASS, one, Place.CENTRE) for one in self.masses]
        if self.corners is not None:
            todo += [(Part.CORNER, self.corners, place) for place in Place]
        if self.repeat is not None:
            todo += [(Part.REPEAT, self.repeat, Place.CENTRE)] * self.repeat_n
        return tuple(Placement(n, *one) for n, one in enumerate(todo, start=1))

    @property
    def weights(self) -> tuple[Weight, ...]:
        """Every weight it takes, each once, lightest first."""
        used = {one.weight.name: one.weight for one in self.placements if one.weight}
        return tuple(sorted(used.values(), key=lambda one: one.nominal_g))


@dataclass(frozen=True, slots=True)
class Terms:
    """What an error is held to: the scale as stated, the limit of the check, the rule."""

    scale: Scale
    rule: Rule
    limit_g: Decimal | None = None

    def limit(self, load_g: Decimal) -> Decimal:
        """Largest error allowed at a load, in grams; zero where nothing is stated."""
        return self.scale.accuracy.error_g(load_g) if self.limit_g is None else self.limit_g


@dataclass(frozen=True, slots=True)
class Found:
    """What one placement shows, or all of a part together; grams.

    ``off_g``    the error of indication, or a range.
    ``budget``   the components of ``u_g``, by name.
    """

    off_g: Decimal
    u_g: Decimal
    budget: Mapping[str, str]
    limit_g: Decimal
    guard_g: Decimal
    outcome: Outcome

    def as_json(self, name: str) -> dict[str, Any]:
        """As a record keeps it; ``name`` says what ``off_g`` is."""
        return {
            name: mass.text(self.off_g),
            "u_g": mass.text(self.u_g),
            "budget": dict(self.budget),
            "limit_g": mass.text(self.limit_g),
            "guard_g": mass.text(self.guard_g),
            "outcome": str(self.outcome),
        }


def judged(off_g: Decimal, budget: Mapping[str, Decimal], limit_g: Decimal, rule: Rule) -> Found:
    """What may be said of an error: beyond its limit on either side it fails."""
    u = _root(budget.values())
    verdict = judge(off_g, u, -limit_g, limit_g, rule)
    outcome = {Verdict.ON_TARGET: Outcome.PASS, Verdict.TOO_CLOSE: Outcome.TOO_CLOSE}
    told = {name: mass.text(one) for name, one in budget.items()}
    return Found(off_g, u, told, limit_g, rule.guard(u), outcome.get(verdict, Outcome.FAIL))


def zero_found(empty: Level, terms: Terms) -> Found:
    """Of an empty scale: what it shows is its error."""
    parts = {"rounding": empty.rounding_g, "spread": empty.spread_g}
    return judged(empty.grams, parts, terms.limit(_NOTHING), terms.rule)


def weight_found(empty: Level, loaded: Level, weight: Weight, terms: Terms) -> Found:
    """Of a weight put on an empty scale."""
    parts = {**_net_parts(empty, loaded, terms), "weight": weight.u_g}
    error = loaded.grams - empty.grams - weight.mass_g
    return judged(error, parts, terms.limit(weight.nominal_g), terms.rule)


def range_found(
    nets: Sequence[Decimal], budgets: Sequence[Mapping[str, str]], weight: Weight, terms: Terms
) -> Found:
    """Of one weight put on again and again: by how much the results differ.

    ``nets``     results in grams, two at least; ``budgets`` what each is uncertain by. The
                 range is as uncertain as a difference of the two that are known worst.
    """
    u = [
        _root(mass.parse(part) for name, part in one.items() if name != "weight") for one in budgets
    ]
    worst = sorted(u)[-2:]
    parts = {"largest": worst[-1], "smallest": worst[0]}
    off = max(nets) - min(nets)
    return judged(off, parts, terms.limit(weight.nominal_g), terms.rule)


def deviation_g(nets: Sequence[Decimal]) -> Decimal:
    """Standard deviation of the results, in grams to a microgram (GUM, 4.2.2)."""
    s = Repeatability(tuple(nets)).s_g
    return _NOTHING if s is None else s.quantize(_FINEST)


def together(outcomes: Iterable[Outcome]) -> Outcome:
    """Of a whole check: failed if anything failed, passed only if everything passed."""
    found = set(outcomes)
    for one in (Outcome.FAIL, Outcome.TOO_CLOSE):
        if one in found:
            return one
    return Outcome.PASS


def doubts(plan: Plan, terms: Terms) -> list[str]:
    """What is not right about a check before anybody has made it, a sentence each.

    Weights that are not known well enough for the limit, and limits so near to the interval that
    the scale could be one interval off and nobody could say that it is within them.
    """
    out = []
    d = terms.scale.interval_g
    for one in plan.weights:
        limit = terms.limit(one.nominal_g)
        if not one.good_enough(limit):
            out.append(
                f"The weight {one.name} may itself be off by {mass.text(one.most_off_g)} g; to "
                f"show an error of {mass.text(limit)} g it should be known to a third of that. "
                "Take one of a finer class."
            )
    exact = Level(_NOTHING, *(_rounding(d),) * 2)
    fine = []
    for placed in plan.placements:
        if placed.weight is None or placed.part is Part.REPEAT:
            continue
        loaded = Level(placed.weight.mass_g + d, *(_rounding(d),) * 2)
        if weight_found(exact, loaded, placed.weight, terms).outcome is not Outcome.PASS:
            fine.append(placed.weight)
    if plan.repeat is not None:
        parts = {"rounding": mass.text(_root([_rounding(d)] * 2))}
        found = range_found([_NOTHING, d], [parts] * 2, plan.repeat, terms)
        if found.outcome is not Outcome.PASS:
            fine.append(plan.repeat)
    out += [
        f"With the weight {one.name} the scale passes only if it shows no difference at all: the "
        f"limit of {mass.text(terms.limit(one.nominal_g))} g is too near to its interval of "
        f'{mass.text(d)} g. Allow more, or judge without a guard band (rule = "simple").'
        for one in {weight.name: weight for weight in fine}.values()
    ]
    return out


def nearest_to_a_third(masses: Sequence[Weight], max_g: Decimal | None) -> Weight:
    """The weight for corners: nearest to Max/3, the heaviest where Max is not known."""
    if max_g is None:
        return max(masses, key=lambda one: one.nominal_g)
    return min(masses, key=lambda one: abs(one.nominal_g - max_g / CORNER_SHARE))


def _net_parts(empty: Level, loaded: Level, terms: Terms) -> dict[str, Decimal]:
    stated = Accuracy(repeatability_g=terms.scale.accuracy.repeatability_g)
    budget = net_budget(loaded, empty, stated)
    parts = {"rounding": budget.rounding_g, "spread": budget.spread_g}
    if budget.repeatability_g:
        parts["repeatability"] = budget.repeatability_g
    return parts


def _rounding(d: Decimal) -> Decimal:
    return _CONTEXT.sqrt(d**2 / 12).quantize(_FINEST)


def _root(parts: Iterable[Decimal]) -> Decimal:
    """Root sum of squares."""
    return _CONTEXT.sqrt(sum((one**2 for one in parts), _NOTHING)).quantize(_FINEST)
