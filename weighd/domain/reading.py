"""What a driver hands up: one report of a scale, in exact grams, with the bytes it came from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any, NamedTuple

from weighd.domain.mass import Unit, parse, text, to_grams


class Reading(NamedTuple):
    """One report of a scale. Immutable; a tuple, because that is what is cheapest to make.

    ``t``       seconds from the session's start at which the report's last byte came.
    ``grams``   what the scale displayed, in grams, exact; ``None`` when it gave no usable number
                (over or under capacity, a fault).
    ``unit``    the unit it was displayed in; ``None`` when there was no number.
    ``stable``  the scale's own flag; ``None`` when the shape carries none.
    ``over``    the load is above capacity (``grams`` is then ``None``).
    ``fault``   empty, or why there is no number: ``"under"``, ``"fault"``, ``"zero error"``, ...
    ``shown``   the displayed number in ``unit``, with the decimals the scale printed.
    ``raw``     the bytes of the whole report: evidence, decodable again on their own.
    """

    t: float
    grams: Decimal | None
    unit: Unit | None = None
    stable: bool | None = None
    over: bool = False
    fault: str = ""
    shown: Decimal | None = None
    raw: bytes = b""

    def as_evidence(self, interval_g: Decimal | None = None) -> dict[str, Any]:
        """As the record keeps it: session time, the bytes in hex, grams as decoded, and what the
        display stepped in where that is coarser than the scale's interval."""
        kept: dict[str, Any] = {
            "t": round(self.t, 3),
            "raw": self.raw.hex(),
            "grams": None if self.grams is None else text(self.grams),
        }
        if self.is_coarser(interval_g):
            assert self.step_g is not None
            kept["step_g"] = text(self.step_g)
        return kept

    def is_coarser(self, interval_g: Decimal | None) -> bool:
        """Whether the display steps in more than the scale's interval: in another unit."""
        step = self.step_g
        return interval_g is not None and step is not None and step > interval_g

    @property
    def step_g(self) -> Decimal | None:
        """What one in the last digit displayed is worth, in grams; ``None`` without a number."""
        if self.shown is None or self.unit is None:
            return None
        exponent = self.shown.as_tuple().exponent
        if not isinstance(exponent, int):
            return None
        return to_grams(Decimal(1).scaleb(exponent), self.unit)


def steps_of(interval_g: Decimal, evidence: Iterable[Mapping[str, Any]]) -> Decimal:
    """What the display of these readings stepped in, as evidence has them: the coarsest."""
    return max([interval_g, *(parse(one["step_g"]) for one in evidence if "step_g" in one)])
