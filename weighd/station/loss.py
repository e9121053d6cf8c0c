"""A load that wastes away on a scale, as JSON values: its rate, and what to weigh out for later.

Grams are decimal strings to the scale's interval, rates and uncertainties to a tenth of it;
``loses`` is ``None`` while it cannot be told, else whether the load loses mass beyond doubt.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.errors import OperatorError
from weighd.domain.facts_text import number
from weighd.domain.sublimation import SHORTEST_S, Waste, weigh_out

_LARGEST_G, _LONGEST_S = Decimal(1_000_000), Decimal(86_400)


@dataclass(frozen=True, slots=True)
class ForLater:
    """What is wanted at the moment of use, and when that is; ``tare_g`` is the empty vessel."""

    want_g: Decimal | None = None
    wait_s: Decimal = Decimal(0)
    tare_g: Decimal = Decimal(0)


def read_for_later(want_g: str, wait_s: str, tare_g: str) -> ForLater:
    """From text, empty for left out. Raises :class:`OperatorError`, ``bad-number``, naming the
    field."""
    want = _number("want_g", want_g, "the dry ice wanted, in grams", _LARGEST_G)
    if want is not None and want == 0:
        raise _bad("want_g", want_g, "the dry ice wanted, in grams", _LARGEST_G)
    wait = _number("wait_s", wait_s, "the seconds until it is used", _LONGEST_S)
    tare = _number("tare_g", tare_g, "the mass of the empty vessel, in grams", _LARGEST_G)
    return ForLater(want, wait or Decimal(0), tare or Decimal(0))


def _number(field: str, text: str, what: str, most: Decimal) -> Decimal | None:
    if not text.strip():
        return None
    try:
        value = number(text)
    except ValueError as error:
        raise _bad(field, text, what, most) from error
    if not 0 <= value <= most:
        raise _bad(field, text, what, most)
    return value


def _bad(field: str, text: str, what: str, most: Decimal) -> OperatorError:
    return OperatorError(
        "bad-number",
        f'"{text[:40]}" is not {what}.',
        where=field,
        remedy=f"Give a number above 0, up to {most}.",
    )


def draw_loss(
    seen: Waste | None, interval_g: Decimal, asked: ForLater, shown_g: Decimal | None
) -> dict[str, Any]:
    """The loss seen, and for later; ``shown_g`` is the present display."""
    net = None if shown_g is None else shown_g - asked.tare_g
    out: dict[str, Any] = {
        "grams": None if net is None else mass.text(net),
        "loses": None,
        "rate_g_min": None,
        "u_rate_g_min": None,
        "watched_s": None if seen is None else round(seen.seconds, 1),
        "want_g": None if asked.want_g is None else mass.text(asked.want_g),
        "wait_s": mass.text(asked.wait_s),
        "weigh_out_g": None,
        "lost_g": None,
        "at_use_g": None,
        "u_at_use_g": None,
        "why": "",
    }
    if seen is None:
        out["why"] = f"It has to stand untouched for {SHORTEST_S:.0f} seconds and a little more."
        return out
    step = interval_g / 10
    told = {"rate_g_min": seen.rate_g_min, "u_rate_g_min": seen.u_rate_g_min}
    out |= {key: _text(value, step) for key, value in told.items()}
    out["loses"] = seen.seen
    if not seen.seen:
        out["why"] = "No loss can be told from how well the display is known."
    on_pan = Waste(
        seen.t,
        seen.grams - float(asked.tare_g),
        seen.u_grams,
        seen.rate_g_min,
        seen.u_rate_g_min,
        seen.seconds,
    )
    if on_pan.seen:
        grams, u = on_pan.at(seen.t + float(asked.wait_s))
        out |= {"at_use_g": _text(max(grams, 0.0), interval_g), "u_at_use_g": _text(u, step)}
    if asked.want_g is None or not seen.seen:
        return out
    found = weigh_out(on_pan, float(asked.want_g), float(asked.wait_s))
    if found is None:
        out["why"] = (
            "So long ahead a straight line is not to be trusted: weigh it out nearer to its use."
        )
        return out
    out |= {
        "weigh_out_g": _text(found.grams, interval_g),
        "lost_g": _text(found.lost_g, interval_g),
        "u_at_use_g": _text(found.u_g, step),
    }
    return out


def _text(value: float, step: Decimal) -> str | None:
    if not math.isfinite(value):
        return None
    return mass.text(mass.rounded(Decimal(str(value)), step))
