"""How a scale is checked with weights: its keys, and what they come to."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import BeforeValidator, Field, StringConstraints

from weighd.config.values import Grams, Section, as_tuple
from weighd.domain.check import Plan, nearest_to_a_third
from weighd.domain.check_routine import Routine
from weighd.domain.check_standing import Duty, Then
from weighd.domain.metrology import Rule
from weighd.domain.weights import Weight, WeightClass

if TYPE_CHECKING:
    from weighd.config.sections import ScaleSection

#: A check that holds for longer than a year is none.
_LONGEST_H = 366 * 24


def time_of_day(value: object) -> object:
    """A time of day in UTC, like ``03:00``. Raises ``ValueError``."""
    if not isinstance(value, str) or not re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", value, re.ASCII):
        raise ValueError('must be a time of day in UTC, like "03:00"')
    return value


WeightName = Annotated[str, StringConstraints(min_length=1, max_length=40, strip_whitespace=True)]


class MassSection(Section):
    name: WeightName = Field(description="What stands on the weight: a number or a mark.")
    nominal_g: Grams = Field(description="Its nominal mass in grams.")
    r111_class: Literal["E1", "E2", "F1", "F2", "M1", "M2", "M3"] | None = Field(
        default=None, description="Its class (OIML R 111); or error_g, or u_g."
    )
    error_g: Grams | None = Field(
        default=None, description="The most that it may be off by, in grams."
    )
    mass_g: Grams | None = Field(
        default=None, description="Its mass by its certificate; nominal_g where not given."
    )
    u_g: Grams | None = Field(
        default=None, description="Standard uncertainty of mass_g by its certificate, in grams."
    )

    def as_weight(self) -> Weight:
        """The weight of the domain."""
        return Weight(
            self.name,
            self.nominal_g,
            self.nominal_g if self.mass_g is None else self.mass_g,
            None if self.r111_class is None else WeightClass(self.r111_class),
            self.error_g,
            self.u_g,
        )


class CheckSection(Section):
    every_h: Grams | None = Field(
        default=None, description="Hours that a check holds; 24 where new_day_utc is not given."
    )
    new_day_utc: Annotated[str, BeforeValidator(time_of_day)] | None = Field(
        default=None,
        description="Instead: a check holds until this time of day in UTC, like 03:00.",
    )
    then: Literal["bars", "flags"] = Field(
        default="flags",
        description="What a failed, overdue or missing check does: bars acceptance, or flags each "
        "record.",
    )
    zero: bool = Field(default=True, description="Judge what the empty scale shows.")
    corners: bool = Field(
        default=False, description="Try the middle and the four corners with one weight."
    )
    corner_mass: str | None = Field(
        default=None, description="Name of that weight; the one nearest to a third of max_g."
    )
    repeatability: Annotated[int, Field(ge=0, le=30)] = Field(
        default=0, description="Put one weight on so many times, 2 at least; 0 leaves it out."
    )
    repeatability_mass: str | None = Field(
        default=None, description="Name of that weight; the heaviest."
    )
    limit_g: Grams | None = Field(
        default=None,
        description="Largest error allowed, in grams; what is stated of the scale (accuracy_class "
        "in service, or max_error_g) where not given.",
    )
    rule: Literal["guarded", "simple"] | None = Field(
        default=None, description="Decision rule of the check; that of judging where not given."
    )
    masses: Annotated[tuple[MassSection, ...], BeforeValidator(as_tuple)] = Field(
        default=(), description="The weights, each a table."
    )

    def as_routine(self, max_g: Decimal | None, k: Decimal) -> Routine:
        """The routine of the domain; call it only where :func:`quarrels` has none."""
        weights = {one.name: one.as_weight() for one in self.masses}
        ordered = tuple(weights.values())
        corners = repeat = None
        if self.corners:
            corners = weights.get(self.corner_mass or "") or nearest_to_a_third(ordered, max_g)
        if self.repeatability:
            named = weights.get(self.repeatability_mass or "")
            repeat = named or max(ordered, key=lambda one: one.nominal_g)
        rule = None if self.rule is None else Rule(self.rule, k)
        every = None if self.new_day_utc else self.every_h or Decimal(24)
        return Routine(
            Plan(self.zero, ordered, corners, repeat, self.repeatability, self.limit_g, rule),
            Duty(Then(self.then), every, self.new_day_utc),
        )


#: The tables below a scale's, by the key they stand under.
TABLES: dict[str, type[Section]] = {"check": CheckSection, "masses": MassSection}


def quarrels(scale: ScaleSection) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """What of a scale's check does not go together: where, below the scale, and why."""
    check = scale.check
    if check is None:
        return
    for key, why in _of_the_check(check, scale):
        yield ("check", key), why
    seen: set[str] = set()
    for n, one in enumerate(check.masses):
        if one.name in seen:
            yield ("check", "masses", n, "name"), f'there are two weights called "{one.name}"'
        seen.add(one.name)
        for key, why in _of_a_mass(one, scale):
            yield ("check", "masses", n, key), why


def _of_the_check(check: CheckSection, scale: ScaleSection) -> Iterator[tuple[str, str]]:
    if check.every_h is not None:
        if check.new_day_utc is not None:
            yield "new_day_utc", "cannot stand beside every_h; leave one"
        if not 0 < check.every_h <= _LONGEST_H:
            yield "every_h", f"must be above 0 and up to {_LONGEST_H} hours"
    if not check.masses:
        yield "masses", "names no weight; write [[scales.NAME.check.masses]]"
        return
    if check.repeatability == 1:
        yield "repeatability", "takes 2 placements at least; 0 leaves it out"
    for key in ("corner_mass", "repeatability_mass"):
        named = getattr(check, key)
        if named is None:
            continue
        if not getattr(check, key.removesuffix("_mass").replace("corner", "corners")):
            yield key, "belongs to a part that is left out"
        if named not in {one.name for one in check.masses}:
            known = ", ".join(one.name for one in check.masses)
            yield key, f'there is no weight called "{named}"; there is: {known}'
    if check.limit_g == 0:
        yield "limit_g", "must be above zero"
    stated = scale.accuracy.by_class is not None or scale.max_error_g
    if check.limit_g is None and not stated:
        yield (
            "limit_g",
            (
                "is missing: nothing is stated of this scale that its errors could be held to; "
                "give limit_g, or the scale's accuracy_class or max_error_g"
            ),
        )


def _of_a_mass(one: MassSection, scale: ScaleSection) -> Iterator[tuple[str, str]]:
    if not one.name.isprintable() or re.search("[\u202a-\u202e\u2066-\u2069]", one.name):
        yield "name", "holds characters that cannot be shown"
    if one.nominal_g == 0:
        yield "nominal_g", "must be above zero"
        return
    if scale.max_g is not None and one.nominal_g > scale.max_g:
        yield "nominal_g", f"is more than the scale can weigh ({scale.max_g} g)"
    given = [key for key in ("r111_class", "error_g", "u_g") if getattr(one, key) is not None]
    if len(given) != 1:
        yield (
            given[1] if given else "name",
            "how well the weight is known must be said in one way: r111_class, error_g or u_g",
        )
    if one.r111_class and WeightClass(one.r111_class).error_g(one.nominal_g) is None:
        yield (
            "nominal_g",
            (
                f"R 111 has no weight of {one.nominal_g} g in class {one.r111_class}; "
                "give error_g, or each weight by itself"
            ),
        )
    if one.mass_g is not None:
        if one.u_g is None and one.error_g is None:
            yield "mass_g", "comes from a certificate; give its u_g too"
        if abs(one.mass_g - one.nominal_g) > one.nominal_g / 100:
            yield "mass_g", "is not about nominal_g"
