"""Vessels whose empty mass is known: whether it is this one that was set down, and which it may be.

The mass was weighed once, or is stated, with a standard uncertainty. What the scale shows of the
vessel now is a net of two readings, the vessel and the empty pan; the two masses were found on
different days, perhaps on different scales, so nothing drops out between them, and the
difference is uncertain by

    u = sqrt(u_gross^2 + u_stored^2 + u_contents^2)        (GUM, JCGM 100:2008, 5.1.2)

``u_gross`` from the budget of a net on this scale (``metrology.net_budget``), ``u_contents`` from
what was weighed into it before. A vessel is taken for another one when it differs by more than
``2 u`` and an allowance that is stated for it: a bowl that was rinsed is a little heavier than one
that was dried.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.accuracy import Accuracy
from weighd.domain.metrology import Level, net_budget, root_sum, rounded_level

#: Standard uncertainties within which two masses are taken to be the same.
K = Decimal(2)
#: No vessel is heavier than this, in grams; what says so is a slip of the keyboard.
LARGEST_G = Decimal(1_000_000)
LONGEST_NAME = 40
#: What is in an empty vessel.
NOTHING = Level(Decimal(0), Decimal(0))


@dataclass(frozen=True, slots=True)
class Vessel:
    """A vessel: its empty mass, the standard uncertainty of that, and what it may be wet by."""

    name: str
    mass_g: Decimal
    u_g: Decimal = Decimal(0)
    allow_g: Decimal = Decimal(0)

    def as_json(self) -> dict[str, str]:
        return {
            "name": self.name,
            "mass_g": mass.text(self.mass_g),
            "u_g": mass.text(self.u_g),
            "allow_g": mass.text(self.allow_g),
        }


def vessel_of(body: Mapping[str, Any]) -> Vessel:
    """The inverse of :meth:`Vessel.as_json`. Raises ``ValueError`` for what is no vessel."""
    try:
        name = body["name"].strip()
        found = Vessel(name, *(mass.parse(body[key]) for key in ("mass_g", "u_g", "allow_g")))
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"this is no vessel ({error!r})") from error
    wrong = why_none(found)
    if wrong:
        raise ValueError(wrong)
    return found


def why_none(vessel: Vessel) -> str:
    """What is wrong with a vessel, in words; empty where nothing is."""
    name = vessel.name
    if not name.strip() or name != name.strip():
        return "a vessel needs a name"
    if len(name) > LONGEST_NAME or not name.isprintable():
        return f"a vessel's name is longer than {LONGEST_NAME} characters or cannot be shown"
    if not 0 < vessel.mass_g <= LARGEST_G:
        return f"{vessel.mass_g} g is no mass of a vessel"
    if not 0 <= vessel.u_g < vessel.mass_g:
        return f"a mass of {vessel.mass_g} g is not known to {vessel.u_g} g"
    if not 0 <= vessel.allow_g < vessel.mass_g:
        return f"a vessel of {vessel.mass_g} g cannot be {vessel.allow_g} g heavier or lighter"
    return ""


@dataclass(frozen=True, slots=True)
class Fit:
    """A vessel beside what stands on the scale; grams.

    ``differs_g``  by how much that is heavier than the vessel with what is known to be in it.
    ``limit_g``    how much that may be for it still to be this vessel.
    """

    vessel: Vessel
    differs_g: Decimal
    limit_g: Decimal

    @property
    def fits(self) -> bool:
        """Whether it may be this vessel."""
        return abs(self.differs_g) <= self.limit_g

    @property
    def too_light(self) -> bool:
        """Whether what stands there is too light to be this vessel, whatever is in it."""
        return self.differs_g < -self.limit_g


def gross(shown: Level, interval_g: Decimal, accuracy: Accuracy) -> Level:
    """What stands on the empty pan, where a scale shows ``shown`` on its zero."""
    u = net_budget(shown, rounded_level(Decimal(0), interval_g), accuracy).u_g
    return Level(shown.grams, u, spread_g=u)


def beside(vessel: Vessel, stands: Level, contents: Level | None = None) -> Fit:
    """A vessel beside what stands there (:func:`gross`); ``contents`` is known to be in it."""
    inside = contents or NOTHING
    u = root_sum(stands.u_g, vessel.u_g, inside.u_g)
    differs = stands.grams - inside.grams - vessel.mass_g
    return Fit(vessel, differs, K * u + vessel.allow_g)


def far_off(vessel: Vessel, stands: Level, contents: Level) -> bool:
    """Whether it cannot be that vessel, seen without a square root: ``u`` is no more than the sum
    of its parts."""
    differs = stands.grams - contents.grams - vessel.mass_g
    return abs(differs) > K * (stands.u_g + vessel.u_g + contents.u_g) + vessel.allow_g


def which(vessels: Iterable[Vessel], stands: Level) -> tuple[Fit, ...]:
    """The empty vessels that may stand there, the nearest first."""
    fits = [beside(one, stands) for one in vessels]
    return tuple(sorted((one for one in fits if one.fits), key=lambda one: abs(one.differs_g)))
