"""A check as the journal keeps it: an entry of its own, of no batch, that follows from readings.

``scale checked`` stands in the station's chain like any entry. It is written when the check is
done, whole or not at all: a check that is broken off leaves nothing. Every placement keeps the
readings of both its levels, so that each error, each verdict and the outcome can be derived again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.accuracy import from_json
from weighd.domain.batch import Scale
from weighd.domain.check import (
    Found,
    Part,
    Place,
    Placement,
    Terms,
    deviation_g,
    range_found,
    together,
    weight_found,
    zero_found,
)
from weighd.domain.check_standing import Outcome
from weighd.domain.check_steps import Going
from weighd.domain.metrology import Level, Rule
from weighd.domain.record import Entry
from weighd.domain.weights import Weight, weight_of

#: The kind of entry; it names no batch.
CHECKED = "scale checked"


def is_check(entry: Entry) -> bool:
    """Whether an entry is a check: it belongs to no batch."""
    return entry.kind == CHECKED and "batch" not in entry.body


@dataclass(frozen=True, slots=True)
class Read:
    """A placement and the levels read of it."""

    placement: Placement
    empty: Level
    loaded: Level | None

    @property
    def net_g(self) -> Decimal:
        """What the weight weighed, or what the empty scale showed."""
        if self.loaded is None:
            return self.empty.grams
        return self.loaded.grams - self.empty.grams


@dataclass(frozen=True, slots=True)
class Concluded:
    """What follows from what was read: for each placement, of the parts, and of it all."""

    each: tuple[Found, ...]
    repeatability: Mapping[str, Any] | None
    corners: Mapping[str, Any] | None
    outcome: Outcome


def found(read: Read, terms: Terms) -> Found:
    """What one placement shows."""
    weight = read.placement.weight
    if weight is None or read.loaded is None:
        return zero_found(read.empty, terms)
    return weight_found(read.empty, read.loaded, weight, terms)


def conclude(reads: Sequence[Read], terms: Terms) -> Concluded:
    """What follows from everything that was read."""
    each = [found(one, terms) for one in reads]
    outcomes = [one.outcome for one in each]
    repeated, corners = _of(Part.REPEAT, reads, each), _of(Part.CORNER, reads, each)
    repeatability = None
    if len(repeated) > 1:
        weight = repeated[0][0].placement.weight
        assert weight is not None
        nets = [read.net_g for read, _ in repeated]
        spread = range_found(nets, [one.budget for _, one in repeated], weight, terms)
        outcomes.append(spread.outcome)
        repeatability = {
            "n": len(nets),
            "s_g": mass.text(deviation_g(nets)),
            **spread.as_json("range_g"),
        }
    return Concluded(tuple(each), repeatability, _corners(corners), together(outcomes))


def _of(part: Part, reads: Sequence[Read], each: Sequence[Found]) -> list[tuple[Read, Found]]:
    pairs = zip(reads, each, strict=True)
    return [(read, one) for read, one in pairs if read.placement.part is part]


def _corners(pairs: Sequence[tuple[Read, Found]]) -> dict[str, str] | None:
    """How far the corners are from the middle: told, not judged; each is judged by itself."""
    centre = next((one.off_g for read, one in pairs if read.placement.place is Place.CENTRE), None)
    if centre is None or len(pairs) < 2:
        return None
    return {"most_from_centre_g": mass.text(max((abs(one.off_g - centre) for _, one in pairs)))}


def reads_of(going: Going) -> list[Read]:
    """What a check has read so far."""
    return [
        Read(one.placement, one.empty.level, one.loaded.level if one.loaded else None)
        for one in going.taken
    ]


def body_of(going: Going, *, by: str, began: str, version: str) -> dict[str, Any]:
    """The body of the entry of a check that is done, but for what the journal adds."""
    terms = going.terms
    reads = reads_of(going)
    concluded = conclude(reads, terms)
    steps = []
    for taken, read, one in zip(going.taken, reads, concluded.each, strict=True):
        weight = taken.placement.weight
        steps.append(
            {
                "n": taken.placement.n,
                "part": str(taken.placement.part),
                "place": str(taken.placement.place),
                "weight": weight.as_json() if weight else None,
                "net_g": mass.text(read.net_g),
                **one.as_json("error_g"),
                "sure": taken.sure,
                "at": taken.at,
                "empty": taken.empty.as_json(),
                "loaded": taken.loaded.as_json() if taken.loaded else None,
            }
        )
    return {
        "scale": terms.scale.name,
        "by": by,
        "began": began,
        "weighd": version,
        "stated": terms.scale.as_json(),
        "limit_g": None if terms.limit_g is None else mass.text(terms.limit_g),
        "rule": {"name": terms.rule.name, "k": mass.text(terms.rule.k)},
        "steps": steps,
        "repeatability": concluded.repeatability,
        "corners": concluded.corners,
        "outcome": str(concluded.outcome),
    }


def terms_of(body: Mapping[str, Any]) -> Terms:
    """What a check was held to. Raises ``KeyError``, ``TypeError`` or ``ValueError``."""
    stated = body["stated"]
    scale = Scale(
        body["scale"],
        stated["driver"],
        mass.parse(stated["interval_g"]),
        None if stated["max_g"] is None else mass.parse(stated["max_g"]),
        from_json(stated),
        None if stated["min_g"] is None else mass.parse(stated["min_g"]),
    )
    limit = None if body["limit_g"] is None else mass.parse(body["limit_g"])
    return Terms(scale, Rule(body["rule"]["name"], mass.parse(body["rule"]["k"])), limit)


def placement_of(step: Mapping[str, Any]) -> Placement:
    """What was asked for in a step. Raises ``KeyError``, ``TypeError`` or ``ValueError``."""
    weight: Weight | None = None if step["weight"] is None else weight_of(step["weight"])
    return Placement(step["n"], Part(step["part"]), weight, Place(step["place"]))
