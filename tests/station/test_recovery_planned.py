"""Pours put right in a batch that was planned on two scales: where the rest of it is weighed."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.station.planned_kitchen import ICE, SPLIT, TWO, Kitchen
from weighd.domain.batch import Planned
from weighd.domain.errors import OperatorError
from weighd.domain.formula import Ingredient
from weighd.domain.recovery import Change, State, Trouble, Way, state_of
from weighd.domain.recovery_coming import coming
from weighd.domain.recovery_ways import Barred, as_it_is, enlarged

D = Decimal
HEAD, *ADDITIONS = ICE.split("[[additions]]")
MILK, SALT, GUM, SUGAR = range(4)


def formula(*order: int) -> str:
    return "[[additions]]".join([HEAD, *(ADDITIONS[n] for n in order)])


def weighed(kitchen: Kitchen, times: int) -> Kitchen:
    """So many additions done, and the next one tared."""
    for _ in range(times):
        kitchen.handle(kitchen.batch.current.n)
        kitchen.weigh()
    kitchen.handle(kitchen.batch.current.n)
    if kitchen.batch.tare is None:
        kitchen.hand.do("tare")
    return kitchen


def poured(kitchen: Kitchen, grams: str) -> State:
    kitchen.pour(D(grams))
    return stood(kitchen, Trouble.OVER)


def stood(kitchen: Kitchen, trouble: Trouble) -> State:
    claim = kitchen.hand.station.now.claim
    return state_of(kitchen.batch, trouble, claim.net_g if claim else D(0))


def chosen(kitchen: Kitchen, change: Change | Barred) -> None:
    assert isinstance(change, Change), change
    kitchen.hand.do("put right", change=change.as_json(), reason="a test")


def finished(kitchen: Kitchen) -> None:
    """The rest poured as the display asks for it. What is truly in the bowl in the end is within
    the limits of each whole amount."""
    additions = kitchen.batch.additions
    while (current := kitchen.batch.current) is not None:
        kitchen.handle(current.n)
        if kitchen.batch.tare is None:
            kitchen.hand.do("tare")
        shown = kitchen.shown(current.scale) - kitchen.batch.tare.level.grams
        kitchen.pour(current.target_g - shown)
        kitchen.hand.do("accept", addition=current.n)
    kitchen.handle(len(additions) + 1)
    for one in {it.ingredient: it for it in additions}.values():
        assert one.step.low_g <= kitchen.inside["bowl"][one.ingredient] <= one.step.high_g, one
    kitchen.verified()


def place(one: Planned) -> tuple[str, str, int]:
    assert one.step is not None
    return one.scale, str(one.step.into), one.step.vessel


def test_what_is_still_to_come_grows_where_it_was_planned() -> None:
    kitchen = weighed(Kitchen(ICE, TWO), 0)
    before = [place(one) for one in kitchen.batch.additions]
    chosen(kitchen, enlarged(poured(kitchen, "1000")))
    now = kitchen.batch.additions
    assert [place(one) for one in now] == before
    assert [one.target_g for one in now] == [D(1000), D("2.22"), D("3.78"), D("711.11")]
    # the limits that a scale is chosen by are those of the whole amount
    salt = now[1].step
    assert (salt.whole_g, salt.low_g, salt.high_g) == (D("2.22"), D("2.12"), D("2.32"))
    assert (now[1].low_g, now[1].high_g) == (salt.low_g, salt.high_g)
    kitchen.hand.show(kitchen.hand.display)
    kitchen.hand.do("accept", addition=1)
    finished(kitchen)


def test_what_is_topped_up_goes_into_a_dish_of_its_own() -> None:
    """The first dish was tipped in; what it lacked is weighed in the next one, in one more dish."""
    kitchen = weighed(Kitchen(ICE, TWO), 3)
    chosen(kitchen, enlarged(poured(kitchen, "700")))
    assert [(one.amount, *place(one)) for one in kitchen.batch.additions[3:]] == [
        (4, "bench", "bowl", 0),
        (1, "bench", "bowl", 0),
        (2, "fine", "dish", 2),
        (3, "fine", "dish", 2),
    ]
    milk, salt, _ = kitchen.batch.additions[4:]
    assert (milk.target_g, milk.step.whole_g, salt.step.whole_g) == (
        D("984.38") - kitchen.batch.accepted[0].net_g,
        D("984.38"),  # 900 × 700/640
        D("2.19"),
    )
    # the limits of the whole, to choose a scale by, and of what is left of it to weigh
    assert (milk.step.low_g, milk.step.high_g) == (D("969.6143"), D("999.1457"))
    there = kitchen.batch.accepted[0].net_g
    assert (milk.low_g, milk.high_g) == (D("969.6143") - there, D("999.1457") - there)
    kitchen.hand.show(kitchen.hand.display)
    kitchen.hand.do("accept", addition=4)
    finished(kitchen)


def test_into_the_dish_that_stands_there_it_goes_on() -> None:
    """Too much gum on the salt: what it is judged anew in is that dish, with its tare."""
    kitchen = weighed(Kitchen(ICE, TWO), 2)
    tare = kitchen.batch.tare
    chosen(kitchen, enlarged(poured(kitchen, "4")))
    assert [(one.ingredient, *place(one)) for one in kitchen.batch.additions[2:]] == [
        ("gum", "fine", "dish", 1),
        ("sugar", "bench", "bowl", 0),
        ("milk", "bench", "bowl", 0),
        ("salt", "fine", "dish", 2),
    ]
    assert kitchen.batch.tare == tare
    kitchen.hand.show(kitchen.hand.display)
    kitchen.hand.do("accept", addition=3)
    finished(kitchen)


def put_in(state: State) -> Change:
    """Something besides that the formula does not call for, and all else as it is."""
    wholes = {of: max(one.goal_g, one.there_g) for of, one in state.stuffs.items()}
    new = max(wholes) + 1
    rum = Ingredient("rum", "Rum")
    return Change(
        Trouble.OVER, Way.REBALANCE, state.hand_g, {**wholes, new: D(30)}, None, {new: rum}
    )


def test_what_was_never_planned_goes_straight_into_the_bowl() -> None:
    """As the last amount that does, though others are weighed in a dish after it."""
    kitchen = weighed(Kitchen(formula(MILK, SUGAR, SALT, GUM), TWO), 1)
    change = put_in(poured(kitchen, "700"))
    *_, rum = coming(stood(kitchen, Trouble.OVER), change)
    assert (rum.ingredient, rum.target_g, rum.by_difference) == ("rum", D(30), False)
    assert place(rum) == ("bench", "bowl", 0)
    assert rum.step is not None
    assert (rum.n, rum.of, rum.step.of, rum.step.whole_g) == (5, None, 5, D(30))
    chosen(kitchen, change)
    kitchen.hand.show(kitchen.hand.display)
    kitchen.hand.do("accept", addition=2)
    finished(kitchen)
    assert abs(kitchen.inside["bowl"]["rum"] - 30) < 1


def test_where_all_goes_into_dishes_so_does_what_was_never_planned() -> None:
    kitchen = weighed(Kitchen(formula(SALT, GUM), {"bench": ("0.01", "500")}), 0)
    change = put_in(poured(kitchen, "3"))
    assert [place(one) for one in coming(stood(kitchen, Trouble.OVER), change)] == [
        ("bench", "dish", 1),
        ("bench", "dish", 1),
        ("bench", "dish", 1),
    ]


# --- where the vessel stands ----------------------------------------------------------------------


def later(kitchen: Kitchen) -> None:
    """Nothing of the current one is in, and it is weighed once all else is."""
    chosen(kitchen, as_it_is(stood(kitchen, Trouble.RAN_OUT), Way.LATER))


def test_another_vessel_is_awaited_where_another_scale_comes_first() -> None:
    kitchen = weighed(Kitchen(ICE, TWO), 0)
    assert set(kitchen.batch.tares) == {"bench"}
    later(kitchen)
    assert [one.ingredient for one in kitchen.batch.additions] == ["salt", "gum", "sugar", "milk"]
    assert (kitchen.hand.phase, kitchen.batch.tares) == ("awaiting vessel", {})
    finished(kitchen)


def test_the_dish_that_stands_there_is_poured_into_by_the_next_one_too() -> None:
    kitchen = weighed(Kitchen(ICE, TWO), 1)
    tare = kitchen.batch.tare
    later(kitchen)
    assert [one.ingredient for one in kitchen.batch.additions[1:]] == ["gum", "sugar", "salt"]
    assert (kitchen.hand.phase, kitchen.batch.tare) == ("ready", tare)
    finished(kitchen)


def test_a_dish_that_was_emptied_is_not_taken_for_the_one_that_was_tared() -> None:
    """Gum was in it, then it was tipped in; the salt that comes back has a dish of its own."""
    kitchen = weighed(Kitchen(ICE, TWO), 1)
    later(kitchen)
    assert [place(one) for one in kitchen.batch.additions[1:]] == [
        ("fine", "dish", 1),
        ("bench", "bowl", 0),
        ("fine", "dish", 2),
    ]
    # and topped up, with the milk between them
    kitchen = weighed(Kitchen(formula(SALT, MILK, GUM, SUGAR), TWO), 3)
    assert [place(one) for one in kitchen.batch.additions] == [
        ("fine", "dish", 1),
        ("bench", "bowl", 0),
        ("fine", "dish", 2),
        ("bench", "bowl", 0),
    ]
    chosen(kitchen, enlarged(poured(kitchen, "700")))
    kitchen.hand.show(kitchen.hand.display)
    kitchen.hand.do("accept", addition=4)
    assert [(one.ingredient, *place(one)) for one in kitchen.batch.additions[4:]] == [
        ("salt", "fine", "dish", 3),
        ("milk", "bench", "bowl", 0),
        ("gum", "fine", "dish", 4),
    ]
    finished(kitchen)


def test_each_dish_that_comes_back_is_another_one() -> None:
    head = HEAD + 'acid = { name = "Acid" }\nwater = { name = "Water" }\n'
    more = [ADDITIONS[GUM].replace("gum", "acid"), ADDITIONS[MILK].replace("milk", "water")]
    salt, milk, gum = (ADDITIONS[n] for n in (SALT, MILK, GUM))
    text = "[[additions]]".join([head, salt, milk, gum, more[1], more[0], ADDITIONS[SUGAR]])
    kitchen = weighed(Kitchen(text, TWO), 5)
    chosen(kitchen, enlarged(poured(kitchen, "700")))
    assert [place(one) for one in kitchen.batch.additions[6:]] == [
        ("fine", "dish", 4),
        ("bench", "bowl", 0),
        ("fine", "dish", 5),
        ("bench", "bowl", 0),
        ("fine", "dish", 6),
    ]
    kitchen.hand.show(kitchen.hand.display)
    kitchen.hand.do("accept", addition=6)
    finished(kitchen)


# --- in parts -------------------------------------------------------------------------------------


@pytest.mark.parametrize("pour", ["", "400", "5000"])
def test_what_is_weighed_in_parts_is_not_put_right_and_why_is_told(pour: str) -> None:
    kitchen = weighed(Kitchen(SPLIT, TWO), 0)
    if pour:
        kitchen.pour(D(pour))
    with pytest.raises(OperatorError) as caught:
        stood(kitchen, Trouble.OVER)
    assert (caught.value.code, caught.value.where) == ("weighed-in-parts", "addition 1")
    assert "keep it with a reason" in caught.value.remedy
    assert "put right" not in kitchen.hand.station.can()
    change = {"cause": "over", "way": "keep", "rests_on_g": pour or "0", "wholes": []}
    with pytest.raises(OperatorError) as pressed:
        kitchen.hand.do("put right", change=change, reason="a test")
    assert (pressed.value.code, pressed.value.where) == ("weighed-in-parts", "addition 1")
