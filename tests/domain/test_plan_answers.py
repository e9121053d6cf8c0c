"""Whole plans, for one kitchen after the other.

``fixtures/tables/plans.txt`` has them; that a plan is the best one is checked in ``test_plan``.
A line that changes is a change to how a batch is weighed:
``python -m tests.domain.test_plan_answers`` writes the file anew, to be read.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from tests.domain.answering import answer, shown
from tests.domain.kept import Kept
from tests.domain.test_plan import BENCH, BOWL, DISH, FINE, RULE, D, scale, want
from weighd.domain.batch import Scale
from weighd.domain.metrology import Rule
from weighd.domain.plan import Plan, Vessels, Want
from weighd.domain.plan_search import best_plan

KEPT = Kept("plans.txt")
BOTH = Vessels(BOWL, DISH)
SMALL = Vessels(BOWL, DISH, D(200))
PARCEL = scale("parcel", "5", "30000", "100")
STATED = scale("stated", "0.1", "3000", "0.5", "0.3")
ICE = [want(1, "820", "10"), want(2, "300", "6"), want(3, "3.2", "0.1"), want(4, "1.5", "0.1")]
Case = tuple[str, list[Want], list[Scale], Rule, Vessels | None]


def cases() -> Iterator[Case]:
    simple = Rule("simple")
    yield "one scale", ICE[:2], [BENCH], RULE, None
    yield "two scales", ICE, [BENCH, FINE], RULE, BOTH
    yield "no fine one", ICE, [BENCH], RULE, BOTH
    yield "no guard", ICE, [BENCH], simple, BOTH
    yield "more than a scale holds", [want(1, "8200", "100")], [BENCH], RULE, BOTH
    yield "in three parts", [want(1, "14000", "150"), *ICE[1:]], [BENCH, FINE], RULE, BOTH
    yield "a small dish", [*ICE[2:], want(5, "350", "2")], [FINE, BENCH], RULE, SMALL
    yield "a bowl too heavy", ICE[:2], [FINE, PARCEL], RULE, BOTH
    yield "below the least", [want(1, "90", "10")], [PARCEL], RULE, None
    spice = want(3, "0.02", "0.0004", "i1")
    yield "a premix", [*ICE[:2], spice], [BENCH, FINE], RULE, BOTH
    yield "a premix nobody named", [*ICE[:2], replace(spice, carrier="")], [BENCH, FINE], RULE, BOTH
    drawn = replace(want(2, "300", "6"), by_difference=True)
    yield "by difference", [ICE[0], drawn, ICE[2]], [BENCH, FINE], RULE, BOTH
    yield "by difference alone", [drawn], [FINE], RULE, None
    more = [replace(BENCH, name=one) for one in ("a", "b", "c")]
    yield "three alike", ICE, [*more, FINE], RULE, BOTH
    yield "what is stated counts", [*ICE, want(5, "40", "1")], [STATED, FINE], RULE, BOTH
    yield "held by none", [replace(want(1, "700", "5"), by_difference=True)], [FINE], RULE, BOTH
    yield "nothing", [], [BENCH], RULE, None


def plan(one: Plan) -> str:
    told = [shown(one.cost), f"plain {one.plain} on {' '.join(one.scales)}"]
    told += [json.dumps(it.as_json()) for it in (*one.premixes, *one.shortfalls)]
    return "; ".join([*told, *(shown(it) for it in one.weighings)])


def lines() -> list[str]:
    return [f"{name} | {answer(partial(best_plan, *given), plan)}" for name, *given in cases()]


def test_each_kitchen_weighs_as_it_did() -> None:
    assert KEPT.beside(lines()) == ([], [])


if __name__ == "__main__":
    KEPT.write(lines())
