"""A premix: a small amount diluted in a larger one, so that a coarse scale can weigh it.

``a`` grams of the ingredient and ``b`` grams of a carrier that the formula calls for anyway are
weighed and stirred until even; the share of the ingredient is then ``w = a / (a + b)``, and ``q``
grams of the premix hold ``q w`` of it and ``q (1 - w)`` of the carrier, of which so much less is
weighed later. Nothing need be met exactly: ``a`` and ``b`` are weighed as they come, and ``q`` is
reckoned from them (``shares``).

What it is uncertain by, to first order (GUM, JCGM 100:2008, 5.1.2; checked against the package
``uncertainties``)::

    u(w)   = (b u(a) + a u(b)) / (a + b)²       added in full: the carrier's tare is the gross of
                                                the ingredient, so the two errors go together
    u(q w)² = (w u(q))² + (q u(w))²

That the premix is even is taken for granted: nothing here can tell, and a lump is not in the sum.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from weighd.domain import fitness
from weighd.domain.batch import Scale
from weighd.domain.metrology import Rule, root_sum
from weighd.domain.plan import Premix, Vessels, Want

#: How many times its own mass the premix of an ingredient may be.
RATIOS = tuple(Decimal(one) for one in (2, 5, 10, 20, 50, 100))
#: Ingredient and carrier are poured roughly, so the plan keeps this much clear of what just works.
SAFE = Decimal("0.9")
_ROUGH = 1 + fitness.ROUGH
_LARGEST_G = Decimal(10_000)


def u_of_share(a_g: Decimal, u_a: Decimal, b_g: Decimal, u_b: Decimal) -> Decimal:
    """Standard uncertainty of ``a / (a + b)``; ``a_g + b_g`` above zero."""
    return (b_g * u_a + a_g * u_b) / (a_g + b_g) ** 2


def best_premix(
    number: int,
    one: Want,
    carrier: Want,
    scales: Sequence[Scale],
    rule: Rule,
    vessels: Vessels,
) -> Premix | None:
    """The smallest premix that makes an amount judgeable; ``None`` where none does."""
    alone = min(fitness.expected_u(it, one.target_g) for it in scales)
    found: tuple[Decimal, Decimal, Premix] | None = None
    for ratio in RATIOS:
        shared = one.target_g * (ratio - 1)
        if shared > carrier.low_g * SAFE:
            break
        for part in _parts(one.target_g / SAFE):
            if found is not None and part * ratio > found[0]:
                break
            if part * (ratio - 1) > carrier.target_g:
                break  # more would be left over than the whole batch calls for
            for prep in scales:
                made = Premix(
                    number,
                    one.n,
                    carrier.n,
                    prep.name,
                    part,
                    part * (ratio - 1),
                    one.target_g * ratio,
                    shared,
                    Decimal(0),
                    alone,
                )
                if not _can_be_made(made, prep, vessels):
                    continue
                tried = _weighed(made, one, carrier, prep, scales, rule, vessels)
                if tried is None or (found is not None and (made.mass_g, tried[0]) >= found[:2]):
                    continue
                found = (made.mass_g, *tried)
    return found[2] if found else None


def _parts(least_g: Decimal) -> Iterator[Decimal]:
    """Round amounts, 1, 2 or 5 times a power of ten, from the least up."""
    at = Decimal(1).scaleb(least_g.adjusted())
    while at <= _LARGEST_G:
        for times in (1, 2, 5):
            if at * times >= least_g:
                yield at * times
        at *= 10


def _can_be_made(made: Premix, scale: Scale, vessels: Vessels) -> bool:
    return (
        fitness.above_min(scale, made.part_g)
        and fitness.above_min(scale, made.carrier_g)
        and vessels.dish_takes(scale, made.mass_g * _ROUGH)
    )


def u_share_of(made: Premix, prep: Scale) -> Decimal:
    """Standard uncertainty of the share of the ingredient in a premix as planned."""
    u_a = fitness.expected_u(prep, made.part_g)
    u_b = fitness.expected_u(prep, made.carrier_g)
    return u_of_share(made.part_g, u_a, made.carrier_g, u_b)


def _weighed(
    made: Premix,
    one: Want,
    carrier: Want,
    prep: Scale,
    scales: Sequence[Scale],
    rule: Rule,
    vessels: Vessels,
) -> tuple[Decimal, Premix] | None:
    """How much of the tolerance is lost at best where it is taken from and the carrier's rest."""
    w = made.part_g / made.mass_g
    u_w = u_share_of(made, prep)
    carried = made.taken_g * u_w / w
    fit = [
        (fitness.share(it, rule, one.low_g / w, one.high_g / w, carried_u_g=carried), it)
        for it in scales
        if fitness.above_min(it, made.taken_g) and vessels.dish_takes(it, one.high_g / w)
    ]
    least, taken_on = min(fit, key=lambda it: it[0], default=(None, None))
    if least is None or taken_on is None or least > SAFE:
        return None
    u_q = fitness.expected_u(taken_on, made.taken_g)
    u_shared = root_sum((1 - w) * u_q, made.taken_g * u_w)
    slack = shared_slack(made, one)
    rest_low, rest_high = carrier.low_g - made.shared_g, carrier.high_g - made.shared_g
    rest = [
        fitness.share(it, rule, rest_low + slack, rest_high - slack, carried_u_g=u_shared)
        for it in scales
        if fitness.above_min(it, carrier.target_g - made.shared_g)
        and (vessels.dish_takes(it, rest_high) or vessels.bowl_takes(it, rest_high))
    ]
    if not rest or min(rest) > SAFE:
        return None
    return least, replace(made, u_g=root_sum(w * u_q, made.taken_g * u_w))


def shared_slack(made: Premix, one: Want) -> Decimal:
    """How far the carrier that comes along may be off where its rest is weighed first, in grams."""
    if made.carrier_of > made.of:
        return Decimal(0)
    off = max(one.target_g - one.low_g, one.high_g - one.target_g)
    return off * made.carrier_g / made.part_g
