"""Which lots an addition was taken from: one, or several where one ran out in the middle of it.

An addition's ``lot`` is the one named last. Where another had run out before, ``lot named`` says at
which net amount it changed (``from_g``), and the acceptance has ``lots``: each with its share of
the net, in the order in which they went in. What was taken out again came out of the last.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from weighd.domain import mass

#: Lots that ran out before, each with the net amount in grams at which it had.
Splits = Sequence[tuple[str, Decimal]]
_NOTHING = Decimal(0)


def shares(splits: Splits, last: str, net_g: Decimal) -> list[tuple[str, Decimal]]:
    """The lots of an addition with grams of each, adding up to the net; one for no split."""
    out, low = list[tuple[str, Decimal]](), _NOTHING
    for lot, upto in splits:
        high = min(upto, net_g)
        if high > low:
            out.append((lot, high - low))
            low = high
    if net_g > low or not out:
        out.append((last, net_g - low))
    return out


def as_fields(splits: Splits, last: str, net_g: Decimal) -> dict[str, Any]:
    """``lot``, and ``lots`` where there are several, as an acceptance has them."""
    found = shares(splits, last, net_g)
    if len(found) == 1:
        return {"lot": found[0][0]}
    told = [{"lot": lot, "g": mass.text(grams)} for lot, grams in found]
    return {"lot": found[-1][0], "lots": told}


def uses_of(body: Mapping[str, Any]) -> Iterable[tuple[str, Decimal]]:
    """The lots of an accepted addition with grams of each, by its body.

    Raises ``KeyError``, ``TypeError`` or ``ValueError``.
    """
    if "lots" in body:
        return [(str(one["lot"]), mass.parse(one["g"])) for one in body["lots"]]
    return [(str(body["lot"]), mass.parse(body["net_g"]))]
