"""Going through a check: what is asked for next, and when a placement counts.

1. Only a firm level is looked at (:class:`~weighd.domain.settling_finding.Finding`): no reading
   decides anything by itself.
2. A weight that stands where it should is *taken* when it is taken off again: hands are wet, and
   somebody who removes a weight has seen what was shown. What counts is the last firm level
   before. So every placement has a firm level of the empty scale before it, and at the end the
   scale is empty.
3. A load that is far from what was asked for is never taken by itself: it may be another weight.
   Somebody says that it is the right one, or changes it.
4. A zero that jumps between the two levels of a placement makes both worthless: it is done again.

The transitions, by what is wanted (rows) and what a firm level shows of it (columns):

========  ==============  ======================  =================  ==================
wanted    empty           as asked                another load       zero moved
========  ==============  ======================  =================  ==================
empty     base, then put  (there is none)         odd                base, then put
put       base anew       remove                  odd                empty, done again
remove    taken, put      (level anew)            odd                empty, done again
========  ==============  ======================  =================  ==================
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import Any

from weighd.domain import mass
from weighd.domain.addition import Evidence
from weighd.domain.check import Placement, Plan, Terms
from weighd.domain.metrology import Level

#: A load this far from the weight asked for, as a share of it or in limits, may be another one.
OTHER = Decimal("0.05")
OTHER_LIMITS = 10
#: Shown by no more than this, in intervals or limits, the scale counts as empty.
EMPTY_D = 10
EMPTY_LIMITS = 2


class Wanted(StrEnum):
    """What is asked for."""

    EMPTY = "empty"
    PUT = "put"
    REMOVE = "remove"
    NOTHING = "nothing"


class Note(StrEnum):
    """Why what was done does not count."""

    NONE = ""
    ODD = "odd"  # a load that was not asked for
    ZERO_MOVED = "zero moved"


@dataclass(frozen=True, slots=True)
class Stood:
    """A firm level and the readings it rests on; ``shift_g`` is the jump of the zero by then."""

    level: Level
    evidence: Evidence
    shift_g: Decimal
    at: str

    def as_json(self) -> dict[str, Any]:
        """As a record keeps it."""
        return {
            "grams": mass.text(self.level.grams),
            "u_g": mass.text(self.level.u_g),
            "budget": self.level.budget.as_json(),
            "decoder": dict(self.evidence.decoder),
            "readings": list(self.evidence.readings),
        }


@dataclass(frozen=True, slots=True)
class Taken:
    """A placement that was done. ``sure``: somebody said that an odd load was the right one."""

    placement: Placement
    empty: Stood
    loaded: Stood | None
    sure: bool = False

    @property
    def at(self) -> str:
        """When what counts was read."""
        return (self.loaded or self.empty).at


@dataclass(frozen=True, slots=True)
class Going:
    """How far a check has come.

    ``base``    the scale empty, just before; ``None`` until it was seen.
    ``loaded``  the newest firm level of the weight asked for, while it stands there.
    ``odd``     the firm level that is not what was asked for, while it stands.
    """

    plan: Plan
    terms: Terms
    taken: tuple[Taken, ...] = ()
    base: Stood | None = None
    loaded: Stood | None = None
    odd: Stood | None = None
    sure: bool = False
    note: Note = Note.NONE
    #: What the scale showed when it was first seen empty: it is empty when it shows that again.
    origin_g: Decimal = Decimal(0)

    @property
    def current(self) -> Placement | None:
        """What is being done; ``None`` when all is done and the scale is empty again."""
        todo = self.plan.placements
        return todo[len(self.taken)] if len(self.taken) < len(todo) else None

    @property
    def wanted(self) -> Wanted:
        """What is asked for next."""
        if self.current is None:
            return Wanted.NOTHING
        if self.loaded is not None:
            return Wanted.REMOVE
        return Wanted.EMPTY if self.base is None else Wanted.PUT

    @property
    def room_g(self) -> Decimal:
        """How far from empty the scale may stand and still be empty; less than half of a weight."""
        d, limit = self.terms.scale.interval_g, self.terms.limit(Decimal(0))
        room = max(EMPTY_D * d, EMPTY_LIMITS * limit)
        weights = self.plan.weights
        return min(room, weights[0].nominal_g / 2) if weights else room

    def is_empty(self, grams: Decimal) -> bool:
        """Whether a level shows the empty scale."""
        return abs(grams - self.origin_g) <= self.room_g

    def is_asked(self, net_g: Decimal) -> bool:
        """Whether a load is about what was asked for."""
        weight = self.current.weight if self.current else None
        if weight is None:
            return False
        room = max(OTHER * weight.mass_g, OTHER_LIMITS * self.terms.limit(weight.nominal_g))
        # Nearer to this weight than to any other of the check, and than to nothing at all.
        others = {one.nominal_g for one in self.plan.weights} - {weight.nominal_g}
        nearest = min(abs(weight.nominal_g - one) for one in (Decimal(0), *others))
        return abs(net_g - weight.mass_g) <= min(room, nearest / 2)


def begin(plan: Plan, terms: Terms) -> Going:
    """A check that begins: whatever stands on the scale has to come off."""
    return Going(plan, terms)


def look(going: Going, stood: Stood | None) -> Going:
    """The check after a reading. ``stood``: the firm level, ``None`` while there is none."""
    if stood is None:
        return replace(going, odd=None) if going.odd else going
    if going.current is None:
        return going
    since = going.loaded or going.base
    if since is not None and since.shift_g != stood.shift_g and not _rezeroed(going, stood):
        return replace(going, base=None, loaded=None, odd=None, sure=False, note=Note.ZERO_MOVED)
    return _LOOKS[going.wanted](going, stood)


def _rezeroed(going: Going, stood: Stood) -> bool:
    """The zero of an empty scale may be set at any time before a weight comes on."""
    return going.loaded is None and going.is_empty(stood.level.grams)


def _empty(going: Going, stood: Stood) -> Going:
    if not going.is_empty(stood.level.grams):
        note = going.note if going.note is Note.ZERO_MOVED else Note.ODD
        return replace(going, odd=stood, note=note)
    return _emptied(going, stood)


def _emptied(going: Going, stood: Stood) -> Going:
    """The scale is empty: that is all that a zero asks for."""
    going = replace(going, base=stood, odd=None, note=Note.NONE)
    current = going.current
    if current is not None and current.weight is None:
        return replace(going, taken=(*going.taken, Taken(current, stood, None)))
    return going


def _put(going: Going, stood: Stood) -> Going:
    assert going.base is not None
    if going.is_empty(stood.level.grams):
        return replace(going, base=stood, odd=None, note=Note.NONE)
    if not going.is_asked(stood.level.grams - going.base.level.grams):
        return replace(going, odd=stood, note=Note.ODD)
    return replace(going, loaded=stood, odd=None, note=Note.NONE, sure=False)


def _remove(going: Going, stood: Stood) -> Going:
    assert going.base is not None
    assert going.loaded is not None
    assert going.current is not None
    if going.is_empty(stood.level.grams):
        taken = Taken(going.current, going.base, going.loaded, going.sure)
        done = replace(going, taken=(*going.taken, taken), loaded=None, sure=False, base=None)
        return _emptied(done, stood)
    net = stood.level.grams - going.base.level.grams
    if going.is_asked(net) or (going.sure and _near(going, stood)):
        return replace(going, loaded=stood, odd=None, note=Note.NONE)
    return replace(going, loaded=None, odd=stood, note=Note.ODD, sure=False)


def _near(going: Going, stood: Stood) -> bool:
    """Whether what somebody called right still stands there."""
    assert going.loaded is not None
    return abs(stood.level.grams - going.loaded.level.grams) <= going.room_g


_LOOKS: Mapping[Wanted, Callable[[Going, Stood], Going]] = {
    Wanted.EMPTY: _empty,
    Wanted.PUT: _put,
    Wanted.REMOVE: _remove,
}


def insist(going: Going) -> Going | None:
    """Somebody says that what stands there is right: an empty scale, or the weight asked for.

    ``None`` where nothing odd stands there, so that there is nothing to say.
    """
    if going.odd is None or going.current is None:
        return None
    if going.wanted is Wanted.EMPTY:
        return _emptied(replace(going, origin_g=going.odd.level.grams), going.odd)
    return replace(going, loaded=going.odd, odd=None, note=Note.NONE, sure=True)
