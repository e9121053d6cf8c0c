"""What each scale can judge of a formula, told when it is loaded and not at the bowl."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.batch import Planned, Scale
from weighd.domain.formula import FINEST, LARGEST_G, read_tolerance
from weighd.domain.headroom import Full, fills
from weighd.domain.metrology import Rule
from weighd.domain.vessels import Vessel
from weighd.domain.weighable import finest_tolerance, judgeable, least_net


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a scale can do for one addition; masses in grams.

    ``least_g``   from which amount up it can judge the tolerance; ``None`` for no amount.
    ``finest_g``  the finest tolerance, the same on both sides, it can judge at the target.
    """

    judgeable: bool
    least_g: Decimal | None
    finest_g: Decimal

    def as_json(self) -> dict[str, Any]:
        return {
            "judgeable": self.judgeable,
            "least_g": None if self.least_g is None else mass.text(self.least_g),
            "finest_g": mass.text(self.finest_g),
        }


#: A display wavers if its standard deviation is more than so many intervals.
UNSTEADY_D = 0.5
#: Where nothing is known of the scale yet.
NOT_KNOWN: Mapping[str, Any] = {"judgeable": None, "least_g": None, "finest_g": None}


def outlook(one: Planned, scale: Scale, rule: Rule) -> Outlook:
    """What a scale can do for a planned addition."""
    d, stated = scale.interval_g, scale.accuracy
    return Outlook(
        judged_by(one, scale, rule),
        least_net(read_tolerance(one.tolerance), d, rule, stated, scale.max_g),
        finest_tolerance(one.target_g, d, rule, stated),
    )


def as_it_shows(scale: Scale, noise_g: float) -> Scale:
    """The scale with the wavering of its display counted in, where that is more than a digit.

    ``noise_g``  standard deviation of the display at rest, as learned, in grams. A dozen readings
    of a wavering display are worth about two, so a net of two levels wavers by as much as the
    display itself; for what to expect, that is one more part of repeatability.
    """
    if noise_g <= UNSTEADY_D * float(scale.interval_g):
        return scale
    stated = scale.accuracy
    both = math.hypot(float(stated.repeatability_g), noise_g)
    repeats = Decimal(str(both)).quantize(scale.interval_g / 100)
    return replace(scale, accuracy=replace(stated, repeatability_g=repeats))


def judged_by(one: Planned, scale: Scale, rule: Rule) -> bool:
    """Whether a scale can show that an addition is on target."""
    return judgeable(one.low_g, one.high_g, scale.interval_g, rule, scale.accuracy)


def weighed_by(one: Planned, scale: Scale, rule: Rule) -> bool:
    """Whether a scale can also hold what it can judge."""
    holds = scale.max_g is None or one.target_g <= scale.max_g
    return holds and judged_by(one, scale, rule)


def warnings(
    additions: Sequence[Planned],
    scale: Scale,
    rule: Rule,
    others: Sequence[Scale] = (),
    noise_g: float = 0.0,
    vessel: Vessel | None = None,
    vessels: Sequence[Vessel] = (),
) -> list[dict[str, Any]]:
    """What a cook should know before pouring: what this scale cannot judge, or cannot hold.

    ``others``   the other scales that could be used instead.
    ``noise_g``  standard deviation of the display at rest, as learned, in grams.
    ``vessel``   the one to weigh into, where it is known, and ``vessels``, all that are.
    """
    out: list[dict[str, Any]] = []
    steady, scale = scale, as_it_shows(scale, noise_g)
    if scale is not steady:
        out.append(_unsteady(scale, noise_g))
    total = sum((one.target_g for one in additions), Decimal(0))
    for one in additions:
        if not judged_by(one, scale, rule):
            out.append(_too_fine(one, scale, rule, total, others))
        if scale.min_g is not None and one.target_g < scale.min_g:
            out.append(_below_min(one, scale))
    total = sum((one.target_g for one in additions if not one.by_difference), Decimal(0))
    full = fills(additions, scale, vessel.mass_g) if vessel else None
    if full is not None and vessel is not None:
        out.append(_overflows(full, additions, scale, vessel, others, vessels))
    elif scale.max_g is not None and total > scale.max_g:
        out.append(
            {
                "addition": None,
                "code": "over-capacity",
                "text": f"The whole batch is {mass.text(total)} g without its vessel; the scale "
                f"{scale.name} can weigh {mass.text(scale.max_g)} g.",
            }
        )
    return out


def _overflows(
    full: Full,
    additions: Sequence[Planned],
    scale: Scale,
    vessel: Vessel,
    others: Sequence[Scale],
    vessels: Sequence[Vessel],
) -> dict[str, Any]:
    """With this vessel the scale is full before the batch is: what to do about it."""
    one = additions[full.n - 1]
    lighter = [it for it in vessels if fills(additions, scale, it.mass_g) is None]
    lightest = max(lighter, key=lambda it: it.mass_g, default=None)
    larger = next((it.name for it in others if _holds(it, additions, vessel)), None)
    ways = []
    if lightest is not None:
        ways.append(f"weigh into {lightest.name}")
    if larger is not None:
        ways.append(f"use the scale {larger}")
    if full.n > 1:
        ways.append(f"set down a second vessel before the {one.name}")
    ways.append("make a smaller batch")
    remedy = ", ".join(ways[:-1]) + (" or " if len(ways) > 1 else "") + ways[-1]
    return {
        "addition": full.n,
        "code": "vessel-overflows",
        "text": f"With {vessel.name} ({mass.text(vessel.mass_g)} g) the scale {scale.name} comes "
        f"to {mass.text(full.ends_g)} g at the {one.name}; it is planned with up to "
        f"{mass.text(full.most_g)} g of its {mass.text(full.max_g)} g. "
        f"{remedy[0].upper()}{remedy[1:]}.",
        "scale": scale.name,
        "vessel": vessel.name,
        "ends_g": mass.text(full.ends_g),
        "other_vessel": None if lightest is None else lightest.name,
        "other_scale": larger,
    }


def _holds(scale: Scale, additions: Sequence[Planned], vessel: Vessel) -> bool:
    """Whether all of it would fit on another scale."""
    moved = [replace(one, scale=scale.name) for one in additions]
    return scale.max_g is not None and fills(moved, scale, vessel.mass_g) is None


def not_heard(name: str) -> dict[str, Any]:
    """The warning that nothing can be said of a scale yet."""
    return {
        "addition": None,
        "code": "interval-unknown",
        "text": f"What the scale {name} can judge is not known yet: it has not been heard, and "
        "its interval_g is not configured.",
    }


def _too_fine(
    one: Planned, scale: Scale, rule: Rule, batch_g: Decimal, others: Sequence[Scale]
) -> dict[str, Any]:
    found = outlook(one, scale, rule)
    least = None if found.least_g is None else rounded_up(found.least_g)
    # A larger batch helps where it brings this amount up to the least, and can still be weighed.
    larger = None if least is None else rounded_up(batch_g * least / one.target_g)
    if larger is not None and larger > min(scale.max_g or LARGEST_G, LARGEST_G):
        larger = None
    finer = next((it.name for it in others if weighed_by(one, it, rule)), None)
    ways = [f"use the scale {finer}" if finer else "use a finer scale"]
    ways.append(f"a tolerance of {mass.text(found.finest_g)} g or wider")
    if larger is not None:
        ways.append(f"a batch from {mass.text(larger)} g up")
    told = f"{one.name}, {mass.text(one.target_g)} g within {one.tolerance}: the scale {scale.name}"
    can = (
        f"{told} cannot judge such a tolerance at any amount."
        if least is None
        else f"{told} can judge such a tolerance from {mass.text(least)} g up."
    )
    remedy = ", ".join(ways[:-1]) + " or " + ways[-1]
    return {
        "addition": one.n,
        "code": "too-fine",
        "text": f"{can} {remedy[0].upper()}{remedy[1:]}.",
        "scale": scale.name,
        "least_g": None if least is None else mass.text(least),
        "finest_g": mass.text(found.finest_g),
        "least_batch_g": None if larger is None else mass.text(larger),
        "other_scale": finer,
    }


def _unsteady(scale: Scale, noise_g: float) -> dict[str, Any]:
    """Two standard deviations: within that a display stands nearly always."""
    by = mass.text(rounded_up(Decimal(str(2 * noise_g))))
    return {
        "addition": None,
        "code": "unsteady",
        "text": f"The display of the scale {scale.name} wavers by {by} g; what it can judge is "
        "reckoned with that. Still it: shut out a draught, switch off what shakes the bench.",
        "scale": scale.name,
        "wavers_g": by,
    }


def _below_min(one: Planned, scale: Scale) -> dict[str, Any]:
    assert scale.min_g is not None
    return {
        "addition": one.n,
        "code": "below-min",
        "text": f"{one.name}, {mass.text(one.target_g)} g: less than the scale {scale.name} should "
        f"be used for (Min {mass.text(scale.min_g)} g).",
        "scale": scale.name,
        "min_g": mass.text(scale.min_g),
    }


def rounded_up(grams: Decimal, digits: int = 3, finest: Decimal = FINEST) -> Decimal:
    """Rounded up to so many digits, and to ``finest`` at the finest: to be read, and to be safe."""
    step = max(Decimal(1).scaleb(grams.adjusted() + 1 - digits), finest)
    up = (grams / step).to_integral_value(rounding=ROUND_CEILING) * step
    return up.quantize(min(step, Decimal(1)))
