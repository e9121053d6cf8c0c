"""Ways that do not go, and changes that do not follow, each told apart."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from tests.domain.bench_world import bench, order
from tests.station.putting_right import Cook, own_mix
from tests.station.test_recovery_answers import cooked
from weighd.domain.addition import Do, Now, Phase
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.formula import Ingredient
from weighd.domain.recovery import Change, State, Trouble, Way, change_of, ingredient_of, state_of
from weighd.domain.recovery_coming import coming
from weighd.domain.recovery_options import Asked, options
from weighd.domain.recovery_order import put_right
from weighd.domain.recovery_record import stands
from weighd.domain.recovery_ways import Barred, as_it_is, check, enlarged, shrunk
from weighd.solver.highs import Highs

D = Decimal
ORDER = ("milk", "sucrose", "water")
COCOA = Ingredient("cocoa", "Cocoa")


@pytest.fixture(scope="module")
def over() -> State:
    return cooked(ORDER, "sucrose", "352").trouble(Trouble.OVER)


@pytest.fixture(scope="module")
def out() -> State:
    return cooked(ORDER, "sucrose", "111").trouble(Trouble.RAN_OUT)


def barred(found: Change | Barred) -> str:
    assert isinstance(found, Barred)
    assert len(found.text) > 15
    return found.code


def test_ways_that_do_not_go_say_why(over: State, out: State) -> None:
    assert barred(shrunk(over)) == "did-not-run-out"
    assert barred(enlarged(out)) == "ran-out"
    hand = replace(out.stuffs[out.hand], hand_g=D(0))
    none = replace(out, stuffs={**out.stuffs, out.hand: hand})
    assert barred(shrunk(none)) == "none-in"
    for way in (Way.ANOTHER_LOT, Way.LATER):
        assert barred(as_it_is(over, way)) == "did-not-run-out"
        assert isinstance(as_it_is(out, way), Change)
    assert barred(as_it_is(over, Way.START_AGAIN)) == "not-wrong"
    last = cooked(("milk", "sucrose"), "sucrose", "111").trouble(Trouble.RAN_OUT)
    assert barred(as_it_is(last, Way.LATER)) == "nothing-else-to-come"


def test_of_nothing_no_batch_is_left() -> None:
    """The last one ran out before any of it was poured: all that is left is to keep what is in."""
    cook = Cook()
    cook.begin(own_mix(("milk", "water")))
    cook.weigh(until="water")
    state = cook.trouble(Trouble.RAN_OUT)
    assert barred(as_it_is(state, Way.KEEP)) == "nothing-else-to-come"
    without = Change(Trouble.RAN_OUT, Way.REBALANCE, D(0), {1: D(1560), 2: D(0)})
    check(state, without)
    with pytest.raises(OperatorError) as caught:
        cook.choose(without)
    assert (caught.value.code, caught.value.where) == ("nothing-to-come", "addition 2")
    assert "abandon" in caught.value.remedy


def test_with_something_else_in_no_smaller_batch_makes_it_right() -> None:
    cook = Cook()
    cook.begin(own_mix(("milk", "sucrose", "water")))
    cook.add("1560")
    cook.choose(as_it_is(cook.trouble(Trouble.WRONG, COCOA), Way.KEEP))
    cook.settle()
    cook.do("accept")
    cook.add("800")
    found = shrunk(cook.trouble(Trouble.RAN_OUT))
    assert barred(found) == "not-of-the-formula"
    assert "Cocoa is in" in str(found)


def by_difference() -> State:
    """400 g of something wrong left its container, into a bowl that is on no scale."""
    cook = Cook()
    cook.start(own_mix(("milk", "sucrose", "powder")), method="by difference")
    cook.lift("2000")
    cook.do("tare")
    cook.source("400", 3)
    return cook.trouble(Trouble.WRONG, COCOA)


def test_out_of_a_bowl_on_no_scale_nothing_is_taken() -> None:
    state = by_difference()
    assert state.stuffs[state.hand].there_g == 1600
    assert barred(as_it_is(state, Way.START_AGAIN)) == "not-in-this-vessel"
    told = options(state, Asked(), {}, Highs())
    assert (told.dry_asked, told.dry_said) == (
        False,
        (False, "it is in a bowl that is on no scale"),
    )
    [back] = [one for one in told.ways if one.way is Way.START_AGAIN]
    assert barred(back.barred) == "not-in-this-vessel"  # type: ignore[arg-type]
    assert (back.change, back.additions, back.take_g) == (None, (), None)


def test_what_was_weighed_already_may_be_what_went_in_wrongly() -> None:
    cook = cooked(ORDER, "sucrose", "300")
    milk = cook.trouble(Trouble.OVER).stuffs[1].ingredient
    state = cook.trouble(Trouble.WRONG, milk)
    assert (state.hand, state.hand_g, state.stuffs[1].in_g) == (1, D(300), D(1560))
    water = state.stuffs[3].ingredient  # still to come
    assert cook.trouble(Trouble.WRONG, water).hand == 3
    assert cook.trouble(Trouble.WRONG, COCOA).hand == 4
    again = own_mix(ORDER) + '\n[[additions]]\ningredient = "milk"\ntarget = "9 g"\n'
    twice = cooked(ORDER, "sucrose", "300", again + 'tolerance = "1 g"')
    assert twice.trouble(Trouble.WRONG, milk).hand == 4  # that of the two which is to come


def test_a_change_that_does_not_follow_is_refused(over: State, out: State) -> None:
    wholes = {of: max(one.there_g, one.goal_g) for of, one in over.stuffs.items()}
    fine = Change(Trouble.OVER, Way.REBALANCE, D(352), wholes)
    check(over, fine)
    water = over.stuffs[3].ingredient
    salt = replace(water, id="salt", name="Salt")
    more = {**wholes, 3: D(0)}
    for state, changed in (
        (over, replace(fine, wholes={1: D(5)})),
        (over, replace(fine, wholes={**wholes, 7: D(1)}, others={7: salt})),
        (over, replace(fine, others={3: salt})),
        (over, replace(fine, wholes={**wholes, 1: D(5)})),
        (over, replace(fine, wholes={**more, 4: D(0)}, others={4: salt})),
        (over, replace(fine, way=Way.TAKE_OUT)),
        (over, replace(fine, way=Way.SHRINK)),
        (over, replace(fine, way=Way.KEEP)),
    ):
        with pytest.raises(RecordError) as caught:
            check(state, changed)
        assert (caught.value.code, caught.value.where) == ("does-not-follow", "")
    keeps = {"of": ["sugars"], "min": None, "max": "50", "source": "ours"}
    check(over, replace(fine, keeps=(keeps,)))
    with pytest.raises(RecordError, match="does not keep its limit of sugars and fat"):
        check(over, replace(fine, keeps=(keeps, {**keeps, "of": ["sugars", "fat"], "max": "5"})))
    asks = {of: one.goal_g for of, one in out.stuffs.items()}
    with pytest.raises(RecordError, match="ran out"):
        check(out, Change(Trouble.RAN_OUT, Way.REBALANCE, D(111), asks))
    with pytest.raises(ValueError, match="amounts"):
        coming(over, replace(fine, wholes={1: D(5)}))


def test_a_state_is_of_an_open_batch_and_of_something_known(over: State) -> None:
    closed = replace(over.batch, additions=over.batch.additions[:1])
    with pytest.raises(OperatorError) as caught:
        state_of(closed, Trouble.OVER, D(1))
    assert caught.value.code == "no-open-batch"
    with pytest.raises(OperatorError) as caught:
        state_of(over.batch, Trouble.WRONG, D(1))
    assert (caught.value.code, caught.value.where) == ("not-said-what", "was")


@pytest.mark.parametrize("of", [True, "1", 0, 1.0])
def test_a_change_out_of_a_record_numbers_its_amounts(over: State, of: Any) -> None:
    fine = Change(Trouble.OVER, Way.KEEP, D(352), over.goals).as_json()
    assert change_of(fine).as_json() == fine
    with pytest.raises(ValueError, match="number of an amount"):
        change_of({**fine, "wholes": [{"of": of, "target_g": "5"}]})
    for allergens in ("milk", [3]):
        row = {"ingredient": "x", "name": "X", "caution": "", "allergens": allergens}
        with pytest.raises(TypeError, match="texts"):
            ingredient_of(row)


def test_a_vessel_stands_for_what_is_poured_from_it_alone(over: State) -> None:
    was = over.current
    bottle = replace(was, by_difference=True)
    assert stands(over.batch, was, was)
    assert stands(over.batch, bottle, bottle)
    assert not stands(over.batch, bottle, was)
    assert not stands(over.batch, bottle, replace(bottle, ingredient="rum"))


# --- pressed at a bad moment ----------------------------------------------------------------------


def test_what_wavers_is_not_put_right() -> None:
    cook = cooked(ORDER, "sucrose", "352")
    change = enlarged(cook.trouble(Trouble.OVER))
    stood = cook.display
    cook.raw(b"%s\n" % str(stood + D("0.4")).encode())  # a draught, in the moment of the press
    entries = len(cook.journal)
    with pytest.raises(OperatorError) as caught:
        cook.choose(change)
    assert (caught.value.code, caught.value.where) == ("not-settled", "addition 2")
    assert len(cook.journal) == entries
    cook.show(stood)
    cook.choose(change)


def test_less_than_nothing_is_no_pour() -> None:
    cook = Cook()
    cook.begin(own_mix(ORDER))
    cook.show("399.4", 3)
    assert (cook.phase, cook.net_g) == ("judged", D("-0.6"))
    with pytest.raises(OperatorError) as caught:
        cook.choose(Change(Trouble.OVER, Way.KEEP, D("-0.6"), {}))
    assert caught.value.code == "nothing-poured"


@pytest.mark.parametrize(
    ("now", "code"),
    [
        (Now(Phase.READY, sum_g=D(60)), "not-now"),
        (Now(Phase.READY, unsure=True), "not-settled"),
        (Now(Phase.JUDGED), "not-settled"),
    ],
)
def test_what_was_in_and_is_not_seen_is_not_put_right(now: Now, code: str) -> None:
    change = Change(Trouble.RAN_OUT, Way.LATER, D(0), {})
    with pytest.raises(OperatorError) as caught:
        put_right(bench(now=now), order(Do.PUT_RIGHT, change=change, reason="empty"))
    assert (caught.value.code, caught.value.where) == (code, "addition 1")
