"""The premix that is planned is the best of all that there are, each tried and nothing left out.

The search stops early where it cannot get better; here every round amount, ratio and scale is
weighed out by the laws at the head of ``weighd/domain/premix.py``, and the least mass taken, then
the one that leaves most of the tolerance.
"""

from __future__ import annotations

import itertools
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from tests.domain.test_plan import BENCH, FINE, RULE, D, scale, want
from weighd.domain import fitness
from weighd.domain.batch import Scale
from weighd.domain.metrology import Rule, root_sum
from weighd.domain.plan import Premix, Vessels, Want, most_g
from weighd.domain.premix import best_premix

FLOOR = replace(scale("floor", "0.5", "30000"), min_g=D(4))
ROUND = [Decimal(one).scaleb(ten) for ten in range(-4, 5) for one in (1, 2, 5)]
RATIOS = (2, 5, 10, 20, 50, 100)
VESSELS = (
    Vessels(),
    Vessels(dish_holds_g=D(25)),
    Vessels(bowl_g=D(450), dish_g=D(61)),
    Vessels(bowl_g=D(5990), dish_g=D("5700")),
)


def takes(vessels: Vessels, it: Scale, grams: Decimal) -> bool:
    """A dish with so much in it, on a scale."""
    held = vessels.dish_holds_g is None or grams <= vessels.dish_holds_g
    return held and vessels.dish_g + grams <= most_g(it)


def tried(
    one: Want, carrier: Want, scales: list[Scale], rule: Rule, vessels: Vessels
) -> dict[str, Any] | None:
    """The best of all by brute force."""
    best: tuple[tuple[Decimal, Decimal], dict[str, Any]] | None = None
    for ratio, part, prep in itertools.product(RATIOS, ROUND, scales):
        other, taken = part * (ratio - 1), one.target_g * ratio
        shared = one.target_g * (ratio - 1)
        if part < one.target_g / D("0.9") or other > carrier.target_g:
            continue
        if shared > carrier.low_g * D("0.9"):
            continue
        if not takes(vessels, prep, (part + other) * D("1.1")):
            continue
        if prep.min_g is not None and min(part, other) < prep.min_g:
            continue
        w = part / (part + other)
        u_a, u_b = fitness.expected_u(prep, part), fitness.expected_u(prep, other)
        u_w = (other * u_a + part * u_b) / (part + other) ** 2
        left = []
        for it in scales:
            if (it.min_g is not None and taken < it.min_g) or not takes(
                vessels, it, one.high_g / w
            ):
                continue
            lost = fitness.share(
                it, rule, one.low_g / w, one.high_g / w, carried_u_g=taken * u_w / w
            )
            left.append((lost, it))
        if not left:
            continue
        lost, on = min(left, key=lambda it: it[0])
        u_q = fitness.expected_u(on, taken)
        off = D(0)
        if carrier.n < one.n:
            off = max(one.target_g - one.low_g, one.high_g - one.target_g) * other / part
        low, high = carrier.low_g - shared + off, carrier.high_g - shared - off
        rests = []
        for it in scales:
            if it.min_g is not None and carrier.target_g - shared < it.min_g:
                continue
            rest = carrier.high_g - shared
            bowl = vessels.bowl_g + rest <= most_g(it)
            if bowl or takes(vessels, it, rest):
                u = root_sum((1 - w) * u_q, taken * u_w)
                rests.append(fitness.share(it, rule, low, high, carried_u_g=u))
        if lost > D("0.9") or not rests or min(rests) > D("0.9"):
            continue
        rank = (part + other, lost)
        if best is None or rank < best[0]:
            told = {"scale": prep.name, "part_g": part, "carrier_g": other, "taken_g": taken}
            best = rank, {**told, "shared_g": shared, "u_g": root_sum(w * u_q, taken * u_w)}
    return best[1] if best else None


def told_of(made: Premix | None) -> dict[str, Any] | None:
    if made is None:
        return None
    keys = ("scale", "part_g", "carrier_g", "taken_g", "shared_g", "u_g")
    return {key: getattr(made, key) for key in keys}


@pytest.mark.parametrize("vessels", VESSELS, ids=lambda it: f"{it.dish_holds_g} {it.dish_g}")
@pytest.mark.parametrize(
    "scales",
    [[BENCH], [BENCH, FINE], [FLOOR, BENCH], [FLOOR]],
    ids=lambda those: " ".join(one.name for one in those),
)
def test_no_other_premix_is_better(scales: list[Scale], vessels: Vessels) -> None:
    found = 0
    for target, percent, much in itertools.product(
        ("0.05", "1.2", "4.86", "20"), ("1", "12"), ("30", "300", "2400")
    ):
        for n, of in ((1, 2), (2, 1)):
            one = want(n, target, str(D(target) * D(percent) / 100))
            carrier = want(of, much, str(D(much) / 100))
            made = best_premix(3, one, carrier, scales, RULE, vessels)
            assert told_of(made) == tried(one, carrier, scales, RULE, vessels), (one, carrier)
            if made is None:
                continue
            found += 1
            assert (made.n, made.of, made.carrier_of) == (3, n, of)
            alone = min(fitness.expected_u(it, one.target_g) for it in scales)
            assert made.alone_g == alone
    assert found > 10 or FINE not in scales or vessels.dish_g
