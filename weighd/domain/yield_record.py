"""``yield recorded``: an entry of a batch off the bench, made from what was entered and the batch.

It keeps what was typed as it was typed, the readings where a scale said a weight, and what follows:
of its own draw, and of all draws that stand with it. All of it can be made again from the entry and
the batch before it, which is how it is verified. Prices are not in it: they change.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.as_weighed import parts_of
from weighd.domain.batch import Batch, Scale, Status, scale_of
from weighd.domain.draws import Draw, Quantity, as_body, bad, entered, possible, read_draw
from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.metrology import Level, net_budget, root_sum, rounded_level
from weighd.domain.vessels import Vessel
from weighd.domain.yields import found_as_json, reckoned

_NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class Tub:
    """What a draw stands in on the scale: a known vessel, one whose mass was typed, or none, where
    the display was tared with the scale's own key."""

    grams: Decimal = _NOTHING
    u_g: Decimal = _NOTHING
    name: str = ""
    typed: str = ""

    def as_json(self) -> dict[str, str]:
        said = {"vessel": self.name, "typed": self.typed}
        return {
            **{key: value for key, value in said.items() if value},
            "g": mass.text(self.grams),
            "u_g": mass.text(self.u_g),
        }


def tub_of(body: Mapping[str, Any]) -> Tub:
    """The inverse of :meth:`Tub.as_json`. Raises ``KeyError`` or ``ValueError``."""
    return Tub(
        mass.parse(body["g"]),
        mass.parse(body["u_g"]),
        str(body.get("vessel", "")),
        str(body.get("typed", "")),
    )


def tub_typed(text: object) -> Tub:
    """A container whose empty mass somebody typed. Raises :class:`OperatorError`."""
    found = entered(text, "tare")
    return Tub(found.value, found.u, typed=found.typed)


def tub_known(vessel: Vessel) -> Tub:
    """A known vessel; what it may be wet by is taken to be anywhere in there (GUM 4.3.7)."""
    third = vessel.allow_g * vessel.allow_g / 3
    return Tub(vessel.mass_g, root_sum(vessel.u_g, third.sqrt()), vessel.name)


@dataclass(frozen=True, slots=True)
class Stands:
    """A draw on a scale: its level, from readings that are kept, and what it stands in.

    ``evidence``  ``decoder`` and ``readings`` as JSON values. The empty scale is taken to show
    zero, to its interval.
    """

    scale: Scale
    gross: Level
    tub: Tub
    evidence: Mapping[str, Any]

    def quantity(self) -> Quantity:
        """What it weighs. Raises :class:`OperatorError` where the scale shows no more than the
        container."""
        net = self.gross.grams - self.tub.grams
        if net <= 0:
            raise bad(
                "weight",
                f"The scale {self.scale.name} shows {mass.text(self.gross.grams)} g, which is no "
                "more than the empty container.",
                "Set the draw on it, and say what its container weighs.",
            )
        return Quantity(net, self._u())

    def _u(self) -> Decimal:
        budget = net_budget(self.gross, self._zero(), self.scale.accuracy)
        return root_sum(budget.u_g, self.tub.u_g)

    def _zero(self) -> Level:
        return rounded_level(_NOTHING, self.scale.interval_g)

    def as_json(self) -> dict[str, Any]:
        """The weight as the entry has it; its readings stand beside it, as in every entry."""
        budget = net_budget(self.gross, self._zero(), self.scale.accuracy)
        return {
            "scale": self.scale.name,
            "figures": self.scale.as_json(),
            "gross_g": mass.text(self.gross.grams),
            "tare": self.tub.as_json(),
            "budget": budget.as_json(),
            "g": mass.text(self.quantity().value),
            "u_g": mass.text(self._u()),
        }


def stands_of(body: Mapping[str, Any], gross: Level) -> Stands | None:
    """What stood on a scale, of an entry; ``None`` where its weight was typed, or there is none.

    ``gross``  as its readings give it. Raises ``KeyError`` or ``ValueError``.
    """
    weight = body.get("weight")
    if not isinstance(weight, Mapping) or "scale" not in weight:
        return None
    return Stands(
        scale_of(str(weight["scale"]), weight["figures"]),
        gross,
        tub_of(weight["tare"]),
        body["evidence"],
    )


def yield_body(
    batch: Batch,
    given: Mapping[str, Any],
    by: str,
    *,
    stands: Stands | None = None,
    corrects: int | None = None,
    reason: str = "",
) -> dict[str, Any]:
    """The body of the entry, less what binds it to its batch.

    ``given``     as :func:`weighd.domain.draws.read_draw` takes it; empty takes a draw back.
    ``corrects``  the number of the draw that this one stands in the place of, with a reason.

    Raises :class:`OperatorError`: ``bad-draw`` naming the field, ``unknown-draw``,
    ``needs-reason``, ``nothing-entered``, ``batch-abandoned``, ``nothing-weighed``,
    ``no-formula-kept``.
    """
    if batch.status is Status.ABANDONED:
        raise OperatorError(
            "batch-abandoned",
            f"Batch {batch.id} was abandoned; nothing is recorded of its yield.",
        )
    old = _named(batch, corrects, reason)
    n = old.n if old else batch.draws.made + 1
    draw = read_draw(given, n, stands.quantity() if stands else None)
    possible(draw)
    if draw.says_nothing and old is None:
        raise OperatorError(
            "nothing-entered",
            "Nothing was entered of this draw.",
            remedy="Give its weight, its volume, or both; what is left over; or the portions.",
        )
    try:
        parts = parts_of(batch)
    except FormulaError as error:
        raise OperatorError("no-formula-kept", error.message) from error
    if sum((one.in_g for one in parts), _NOTHING) <= 0:
        raise OperatorError("nothing-weighed", f"Nothing was weighed in batch {batch.id}.")
    after = batch.draws.plus(draw, old.hash if old else "")
    body: dict[str, Any] = {"by": by, **as_body(draw)}
    if stands is not None:
        body |= {"weight": stands.as_json(), "evidence": dict(stands.evidence)}
    if old is not None:
        body |= {"corrects": {"draw": old.n, "hash": old.hash}, "reason": reason}
    return {**body, "found": found_as_json(reckoned(parts, after.standing), draw)}


def _named(batch: Batch, corrects: int | None, reason: str) -> Draw | None:
    if corrects is None:
        return None
    old = batch.draws.of(corrects)
    if old is None:
        numbers = ", ".join(str(one.n) for one in batch.draws.standing)
        raise OperatorError(
            "unknown-draw",
            f"Batch {batch.id} has no draw {corrects}.",
            where="corrects",
            remedy=f"It has: {numbers}." if numbers else "Nothing is recorded of its yield yet.",
        )
    if not reason:
        raise OperatorError(
            "needs-reason",
            f"Draw {corrects} is to be put right; say why.",
            where="reason",
            remedy="Give a reason: it stays in the record.",
        )
    return old


def given_of(body: Mapping[str, Any]) -> dict[str, Any]:
    """What was entered, of an entry: the inverse of what :func:`yield_body` keeps of it.

    Raises ``KeyError`` or ``TypeError``.
    """
    out: dict[str, Any] = {}
    for field in ("weight", "fill", "pieces", "left"):
        if field in body and "typed" in body[field]:
            out[field] = body[field]["typed"]
    if "volume" in body and "fill" not in body:
        out["volume"] = body["volume"]["typed"]
    if "cup" in body:
        out |= {f"cup_{side}": body["cup"][side]["typed"] for side in ("mix", "product")}
    if "sample" in body:
        out |= {f"sample_{it}": body["sample"][it]["typed"] for it in ("weight", "volume")}
    if "pieces_density_g_ml" in body:
        out["pieces_density"] = body["pieces_density_g_ml"]
    return out | {key: body[key] for key in ("containers", "portions") if key in body}
