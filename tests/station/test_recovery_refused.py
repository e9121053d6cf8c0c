"""Ways that do not go, and changes that do not follow, each told apart."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from tests.station.test_recovery_answers import cooked
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.recovery import Change, State, Trouble, Way, change_of, ingredient_of, state_of
from weighd.domain.recovery_coming import coming
from weighd.domain.recovery_record import stands
from weighd.domain.recovery_ways import Barred, as_it_is, check, enlarged, shrunk

D = Decimal
ORDER = ("milk", "sucrose", "water")


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
