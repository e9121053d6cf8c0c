"""What is left to weigh, what it brings along, and what went in: by hand, in any order.

A plan weighs the rest of a carrier before what is taken from its premix; a record may have them
the other way about, or a premix that was never finished.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from tests.domain.bench_world import LATER, D, batch, planned
from weighd.domain.batch import Accepted, Planned
from weighd.domain.metrology import Budget, Level, Verdict
from weighd.domain.plan_words import Into, Role
from weighd.domain.shares import as_weighed, carried, inside_g, retargeted
from weighd.domain.steps import Step
from weighd.domain.tipping import expected
from weighd.domain.vessel_record import contents_of

#: Grams of the whole amounts, and their limits.
GUM, SUGAR, MILK = ("1.2", "1.12", "1.28"), ("300", "295", "305"), ("900", "886.5", "913.5")


def weighing(
    n: int, of: int, role: Role, whole: tuple[str, str, str], into: Into = Into.BOWL, **more: Any
) -> Planned:
    """A weighing of a plan on one scale; its limits are the whole's until something is in."""
    target, low, high = (D(one) for one in whole)
    given: dict[str, Any] = {"part": 1, "parts": 1, "premix": 0, "vessel": 0, **more}
    step = Step(of, into, role=role, whole_g=target, low_g=low, high_g=high, **given)
    return planned(n, whole[0], str(high - target), step=step)


def weighed(n: int, net: str, u: str = "0.04", vessel: str = "") -> Accepted:
    budget = Budget(D(0), D(u))
    net_g, on = D(net), Verdict.ON_TARGET
    return Accepted(n, net_g, D(0), on, "", "", n, LATER, budget, vessel)


IN: dict[str, Any] = {"into": Into.PREMIX, "premix": 1, "vessel": 1}
PART, CARRIER = weighing(1, 2, Role.PREMIX, GUM, **IN), weighing(2, 1, Role.CARRIER, SUGAR, **IN)
TAKEN = weighing(3, 2, Role.FROM_PREMIX, GUM, premix=1)
REST = weighing(4, 1, Role.REST, SUGAR, premix=1)
WHOLE = weighing(5, 3, Role.WHOLE, MILK)
#: 12 g of gum in 120 g: a tenth, known to (108 * 0.04 + 12 * 0.05) / 120², which is 0.00034167.
STIRRED = (weighed(1, "12"), weighed(2, "108", "0.05"))
U_W = Decimal("0.0003416667")


def to_weigh(one: Planned) -> tuple[Decimal, Decimal, Decimal]:
    return one.target_g, one.low_g, one.high_g


# --- what is left to weigh ------------------------------------------------------------------------


def test_of_a_premix_as_it_was_weighed_ten_times_as_much_is_taken() -> None:
    *_, taken, rest, whole = retargeted((PART, CARRIER, TAKEN, REST, WHOLE), STIRRED)
    assert to_weigh(taken) == (D(12), D("11.2"), D("12.8"))
    # 10.8 g come with the premix, and 0.72 g more or less.
    assert to_weigh(rest) == (D("289.2"), D("284.92"), D("293.48"))
    assert whole is WHOLE


def test_what_was_taken_of_a_premix_says_what_came_with_it() -> None:
    """Of 13 g, 11.7 g are sugar; nothing of that is open any more."""
    *_, rest = retargeted((PART, CARRIER, TAKEN, REST), (*STIRRED, weighed(3, "13", "0.03")))
    assert to_weigh(rest) == (D("288.3"), D("283.3"), D("293.3"))


def test_until_a_premix_is_mixed_nothing_is_known_of_it() -> None:
    coming = (CARRIER, TAKEN, REST)
    assert retargeted((PART, *coming), STIRRED[:1])[1:] == coming


def test_what_has_no_place_in_a_plan_stays_as_it_is() -> None:
    """Put right, a batch may have both: an amount in parts, and one that was never planned."""
    first, last = (
        weighing(n, 1, Role.PART, SUGAR, part=n, parts=2, into=Into.DISH) for n in (1, 2)
    )
    plain = planned(3, "20")
    _, after, beside = retargeted((first, last, plain), (weighed(1, "160.5"),))
    assert to_weigh(after) == (D("139.5"), D("134.5"), D("144.5"))
    assert beside is plain
    assert inside_g(last, (first, last, plain), (weighed(1, "160.5"),)) == D("160.5")
    assert inside_g(plain, (first, last, plain), (weighed(1, "160.5"),)) == 0


# --- what it brings along -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("coming", "done", "due"),
    [
        (TAKEN, STIRRED, 13 * U_W / D("0.1")),
        (REST, STIRRED, 12 * U_W),
        # (0.9 * 0.03)² + (13 u)², of what was taken.
        (REST, (*STIRRED, weighed(3, "13", "0.03")), D("0.0273629")),
        (REST, STIRRED[:1], D(0)),
        (REST, (STIRRED[0], weighed(2, "0")), D(0)),
        # No plan has such a thing: what goes in whole, and is said to be of a premix.
        (weighing(3, 3, Role.WHOLE, MILK, premix=1), STIRRED, D(0)),
    ],
)
def test_what_a_premix_brings_along(
    coming: Planned, done: tuple[Accepted, ...], due: Decimal
) -> None:
    additions = (PART, CARRIER, TAKEN, REST)
    found = carried(coming, additions, done, D(13), Budget(D(0), D("0.03")))
    assert float(found) == pytest.approx(float(due), abs=1e-6)


# --- what went in ---------------------------------------------------------------------------------


def test_what_is_in_a_premix_is_not_in_the_batch() -> None:
    additions = (PART, CARRIER, TAKEN, REST)
    assert as_weighed(additions, STIRRED[:1]) == {}
    assert as_weighed(additions, STIRRED) == {}
    found = as_weighed(additions, (*STIRRED, weighed(3, "13", "0.03")))
    assert {of: one.net_g for of, one in found.items()} == {2: D("1.3"), 1: D("11.7")}
    # (0.1 * 0.03)² + (13 u)², and (0.9 * 0.03)² + (13 u)²
    assert float(found[2].u_g) == pytest.approx(0.0053596, abs=1e-6)
    assert float(found[1].u_g) == pytest.approx(0.0273629, abs=1e-6)


def test_what_was_taken_of_no_premix_is_in_nothing() -> None:
    assert as_weighed((PART, TAKEN, CARRIER), (weighed(1, "12"), weighed(2, "13"))) == {}


# --- the bowl, back on its scale ------------------------------------------------------------------

STOOD = Level(D(900), D("0.3"))


def due(*additions: Planned, nets: tuple[str, ...], **more: Any) -> Any:
    done = tuple(weighed(n, net) for n, net in enumerate(nets, start=1))
    given: dict[str, Any] = {"accepted": done, "bowls": {"bench": STOOD}, **more}
    return expected(batch(*additions, tare=None, **given))


def test_what_was_tipped_into_the_bowl_is_due_there() -> None:
    dish = weighing(2, 2, Role.WHOLE, GUM, Into.DISH, vessel=1)
    other = weighing(3, 3, Role.WHOLE, MILK, Into.DISH, vessel=2)
    found = due(WHOLE, dish, other, REST, nets=("880", "1.2", "30"))
    assert (found.level.grams, found.tipped_g) == (D("931.2"), D("31.2"))
    assert float(found.level.u_g) == pytest.approx((0.3**2 + 2 * 0.04**2) ** 0.5, abs=1e-5)
    assert [one.n for one, _ in found.tipped] == [2, 3]
    # What was in before it last stood there is in its weight.
    assert due(other, WHOLE, dish, REST, nets=("30", "880", "1.2")).level.grams == D("901.2")
    # The bowl was empty when it was last on the scale, as far as is known: all counts.
    assert due(dish, other, REST, nets=("1.2", "30")).level.grams == D("931.2")
    # Known no further back than to a weighing with no place in the plan.
    assert due(WHOLE, dish, planned(3, "30"), REST, nets=("880", "1.2", "30")) is None


def test_what_is_in_a_premix_is_not_due_in_the_bowl() -> None:
    assert due(WHOLE, PART, CARRIER, REST, nets=("880", "12", "108")) is None
    dish = weighing(4, 2, Role.WHOLE, GUM, Into.DISH, vessel=1)
    found = due(WHOLE, PART, CARRIER, dish, REST, nets=("880", "12", "108", "1.2"))
    assert [one for one, _ in found.tipped] == [dish]


def test_a_dish_holds_nothing_of_what_was_weighed_before_it() -> None:
    """What went into no vessel that was named may be in the bowl, and in nothing else."""
    dish = weighing(2, 2, Role.WHOLE, GUM, Into.DISH, vessel=1)
    first = weighed(1, "880")
    assert contents_of(batch(WHOLE, dish, accepted=(first,)), "steel").grams == 0
    into_bowl = batch(WHOLE, weighing(2, 1, Role.WHOLE, SUGAR), accepted=(first,))
    assert contents_of(into_bowl, "steel").grams == 880
    assert contents_of(batch(WHOLE, accepted=(first,)), "steel").grams == 0  # nothing to come
    named = weighed(1, "880", vessel="steel")
    assert contents_of(batch(WHOLE, dish, accepted=(named,)), "steel").grams == 880
