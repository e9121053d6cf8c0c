"""A pour that went wrong, put right: what is then weighed, and that the record shows it.

The worked example is our own mix (invented): 352 g of sucrose for 330. Its figures are arithmetic
(the largest quotient of what is in and what is asked for, times everything); they stand in
fixtures/tables/frozen.json as ``overpour_exact_rescale``.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.domain.published import CHECKS
from tests.station.putting_right import AMOUNTS, SUCROSE_LAST, Cook, own_mix
from weighd.domain.errors import OperatorError
from weighd.domain.formula import Ingredient
from weighd.domain.recovery import Change, Trouble, Way
from weighd.domain.recovery_ways import Barred, as_it_is, enlarged, scale_of, shrunk

COCOA = Ingredient("cocoa", "Cocoa", ("may hold nuts",), "")


def too_much_sugar() -> Cook:
    """352 g of sucrose in for 330, when all the rest is in."""
    cook = Cook()
    cook.begin(own_mix(SUCROSE_LAST))
    cook.weigh(until="sucrose")
    cook.add("352")
    return cook


def made(found: Change | Barred) -> Change:
    assert isinstance(found, Change), found
    return found


# --- enlarged -------------------------------------------------------------------------------------


def test_a_batch_is_enlarged_as_in_the_worked_example() -> None:
    cook, row = too_much_sugar(), CHECKS["overpour_exact_rescale"]["expected"]
    state = cook.trouble(Trouble.OVER)
    change = made(enlarged(state))
    assert float(scale_of(state)) == pytest.approx(row["scale"], abs=1e-5)
    assert float(sum(change.wholes.values())) == pytest.approx(row["new_batch_g"], abs=0.02)
    names = dict(zip(row["add_g"], (n for n in AMOUNTS if n != "sucrose"), strict=True))
    for long, short in names.items():
        one = next(it for it in state.stuffs.values() if it.ingredient.id == short)
        added = float(change.wholes[one.of] - one.there_g)
        assert added == pytest.approx(row["add_g"][long], abs=0.02), short


def test_the_over_pour_is_then_on_target_and_the_rest_is_topped_up() -> None:
    cook = too_much_sugar()
    assert cook.phase == "held"
    cook.choose(enlarged(cook.trouble(Trouble.OVER)), "poured from the sack")
    cook.settle()
    assert str(cook.station.now.claim.verdict) == "on target"  # type: ignore[union-attr]
    cook.finish()
    nets = cook.nets()
    for name, (grams, _) in AMOUNTS.items():
        within = Decimal("0.35") if name == "salt" else Decimal("0.06")  # what tolerance lets be
        wanted = Decimal(grams) * 352 / 330
        assert abs(nets[name] - wanted) <= within, name
    accepted = [one.body for one in cook.journal if one.kind == "addition accepted"]
    assert {one["verdict"] for one in accepted} == {"on target"}
    said = next(one.body for one in cook.journal if one.kind == "put right")
    assert (said["cause"], said["way"], said["reason"]) == (
        "over",
        "enlarge",
        "poured from the sack",
    )
    assert Decimal(said["mass_g"]) == pytest.approx(Decimal(2560), abs=Decimal("0.2"))
    assert cook.verified().weighings == len(accepted)


def test_what_is_still_to_come_grows_and_is_not_topped_up_besides() -> None:
    cook = Cook()
    cook.begin(own_mix())
    cook.weigh(until="sucrose")
    cook.add("352")
    cook.choose(enlarged(cook.trouble(Trouble.OVER)))
    names = [one.ingredient for one in cook.state.additions]
    assert names == [*AMOUNTS, "milk", "cream", "powder"]
    dextrose = cook.state.additions[4]
    assert (dextrose.target_g, dextrose.n, dextrose.of) == (Decimal("64.00"), 5, None)
    cook.settle()
    cook.finish()
    cook.verified()


def test_a_second_over_pour_counts_from_the_formula_and_not_from_the_first() -> None:
    cook = Cook()
    cook.begin(own_mix())
    cook.weigh(until="sucrose")
    cook.add("352")
    cook.choose(enlarged(cook.trouble(Trouble.OVER)))
    cook.settle()
    cook.do("accept")
    cook.add("70")
    cook.choose(enlarged(cook.trouble(Trouble.OVER)))
    cook.settle()
    cook.finish()
    assert cook.nets()["milk"] == 1820  # 1560 × 70/60
    assert cook.verified().batches == 1


def test_in_the_middle_of_it_the_station_may_stop() -> None:
    cook = too_much_sugar()
    cook.choose(enlarged(cook.trouble(Trouble.OVER)))
    again = Cook(cook.journal, t=cook.t)
    again.show(str(cook.display), 2)
    again.settle()
    again.do("accept")
    again.weigh()
    again = Cook(again.journal, t=again.t)
    again.show("2926.0", 2)
    assert again.state.current.ingredient == "cream"
    again.finish()
    again.verified()


def test_what_is_accepted_is_true_whatever_the_scale_does_meanwhile() -> None:
    """After it was put right: the scale unplugged, its own key pressed, and the station stopped."""
    cook = too_much_sugar()
    cook.choose(enlarged(cook.trouble(Trouble.OVER)))
    cook.settle()
    stood = cook.display
    cook.lost()
    cook.found()
    cook.show(str(stood), 2)
    cook.settle()
    cook.do("accept")
    cook.add("50")  # of the milk that is topped up
    cook.show("0.0", 2)  # the scale's own key
    cook.pour("54", settle=2)
    again = Cook(cook.journal, t=cook.t)
    again.show("54", 2)
    again.settle()
    again.do("accept")
    again.finish()
    nets = again.nets()
    assert (nets["sucrose"], nets["milk"]) == (352, 1560 + 104)
    assert again.verified().open_batches == 0


def test_sent_twice_it_acts_once() -> None:
    cook = too_much_sugar()
    change = made(enlarged(cook.trouble(Trouble.OVER))).as_json()
    cook.do("put right", change=change, reason="once", key="the same")
    entries = len(cook.journal)
    cook.do("put right", change=change, reason="once", key="the same")
    assert len(cook.journal) == entries


def test_by_difference_the_batch_is_enlarged_as_well() -> None:
    cook = Cook()
    cook.start(own_mix(("milk", "sucrose", "powder")), method="by difference")
    cook.lift("2000")
    cook.do("tare")
    cook.source("440", 3)
    cook.do("accept")
    cook.lift("0.0")
    cook.lift("900")
    cook.do("tare")
    cook.source("548", 3)
    assert cook.phase == "held"
    cook.choose(enlarged(cook.trouble(Trouble.OVER)))
    cook.show("548", 2)
    cook.do("accept")
    assert [(one.ingredient, one.by_difference) for one in cook.state.additions[2:]] == [
        ("powder", True),
        ("milk", True),
    ]
    cook.verified()


# --- it ran out -----------------------------------------------------------------------------------


def test_what_ran_out_first_makes_a_smaller_batch() -> None:
    cook = Cook()
    cook.begin(own_mix())
    cook.add("1200")
    cook.choose(shrunk(cook.trouble(Trouble.RAN_OUT)), "no more milk")
    cook.settle()
    cook.finish()
    assert cook.nets()["sucrose"] == pytest.approx(Decimal(330) * 1200 / 1560, abs=Decimal("0.06"))
    cook.verified()


def test_it_cannot_become_smaller_than_what_is_in_of_another() -> None:
    cook = Cook()
    cook.begin(own_mix())
    cook.weigh(until="powder")
    cook.add("80")
    found = shrunk(cook.trouble(Trouble.RAN_OUT))
    assert isinstance(found, Barred)
    assert found.code == "too-much-is-in"
    assert "425.4 g of Milk" in found.text  # 1560 - 1560 × 80/110


@pytest.mark.parametrize("way", [Way.ANOTHER_LOT, Way.LATER])
@pytest.mark.parametrize("there", ["0", "60"])
def test_the_rest_is_weighed_from_another_lot_now_or_later(way: Way, there: str) -> None:
    cook = Cook()
    cook.begin(own_mix())
    cook.weigh(until="powder")
    if there == "0" and way is Way.ANOTHER_LOT:
        return  # with nothing in, another lot is simply named
    if there != "0":
        cook.do("name lot", lot="P-1")
        cook.add(there)
    cook.choose(as_it_is(cook.trouble(Trouble.RAN_OUT), way), "the bag is empty")
    if there != "0":
        cook.settle()
        cook.do("accept")
    order = [one.ingredient for one in cook.state.additions[len(cook.state.accepted) :]]
    assert (order[0] == "powder") is (way is Way.ANOTHER_LOT)
    assert order.count("powder") == 1
    cook.finish()
    assert cook.nets()["powder"] == 110
    lots = [one.body["lot"] for one in cook.journal if one.kind == "addition accepted"]
    assert lots.count("P-1") == (1 if there != "0" else 0)
    cook.verified()


def test_what_ran_out_can_be_left_out() -> None:
    cook = Cook()
    cook.begin(own_mix())
    cook.weigh(until="salt")
    cook.choose(as_it_is(cook.trouble(Trouble.RAN_OUT), Way.KEEP), "no salt in the house")
    assert cook.state.current.ingredient == "water"
    cook.finish()
    assert "salt" not in cook.nets()
    cook.verified()


# --- a wrong ingredient ---------------------------------------------------------------------------


def test_a_wrong_ingredient_is_named_with_its_allergens_and_the_right_one_follows() -> None:
    cook = Cook()
    cook.begin(own_mix())
    cook.weigh(until="dextrose")
    cook.add("60")  # just as much as was wanted, of something else
    assert cook.phase == "judged"
    cook.choose(as_it_is(cook.trouble(Trouble.WRONG, COCOA), Way.KEEP), "wrong tin")
    cook.settle()
    assert cook.state.current.name == "Cocoa"
    assert "may hold nuts" in cook.state.allergens
    cook.do("accept")
    assert cook.state.current.ingredient == "dextrose"
    cook.finish()
    nets = cook.nets()
    assert (nets["cocoa"], nets["dextrose"]) == (60, 60)
    assert isinstance(enlarged_after(cook), Barred)
    sums = cook.journal[-1].body["as_weighed"]
    assert sums[-1]["addition"] == 10
    assert sums[-1]["ingredient"] == "cocoa"
    cook.verified()


def enlarged_after(cook: Cook) -> Change | Barred:
    """Enlarging the batch as it stood before its last addition."""
    entries = [one for one in cook.journal if one.kind != "batch closed"][:-1]
    again = Cook(entries, t=cook.t)
    return enlarged(again.trouble(Trouble.OVER))


def test_what_belongs_in_anyway_counts_as_what_it_is() -> None:
    cook = Cook()
    cook.begin(own_mix())
    cook.weigh(until="dextrose")
    cook.add("50")
    syrup = cook.trouble(Trouble.OVER).stuffs[6].ingredient
    cook.choose(as_it_is(cook.trouble(Trouble.WRONG, syrup), Way.KEEP), "two tubs alike")
    cook.settle()
    cook.do("accept")
    left = {one.ingredient: one.target_g for one in cook.state.additions[5:]}
    assert left["dextrose"] == 60
    assert left["syrup"] == 60
    cook.finish()
    assert cook.nets()["syrup"] == 110
    cook.verified()


def test_more_of_it_than_belongs_in_enlarges_the_batch() -> None:
    cook = Cook()
    cook.begin(own_mix())
    cook.weigh(until="dextrose")
    cook.add("121")
    syrup = cook.trouble(Trouble.OVER).stuffs[6].ingredient
    cook.choose(enlarged(cook.trouble(Trouble.WRONG, syrup)), "two tubs alike")
    cook.settle()
    cook.do("accept")
    cook.finish()
    assert cook.nets()["sucrose"] == 363
    cook.verified()


def test_a_wrong_ingredient_that_lies_dry_is_taken_out_and_the_vessel_tared_again() -> None:
    cook = Cook()
    cook.begin(own_mix())
    cook.weigh(until="powder")
    before = cook.display
    cook.add("60")
    cook.choose(as_it_is(cook.trouble(Trouble.WRONG, COCOA), Way.START_AGAIN), "wrong tin")
    assert cook.phase == "awaiting vessel"
    cook.show(str(before + 12), 2)  # some of it is still in
    with pytest.raises(OperatorError, match=r"12\.0 g heavier") as refused:
        cook.do("tare")
    assert refused.value.code == "not-as-before"
    cook.show(str(before), 2)
    cook.do("tare")
    assert cook.journal[-1].body["stood_g"] == str(before)
    cook.finish()
    assert "cocoa" not in cook.nets()
    cook.verified()


# --- refused --------------------------------------------------------------------------------------


def test_nothing_is_changed_without_a_reason_or_on_numbers_that_are_old() -> None:
    cook = too_much_sugar()
    change = made(enlarged(cook.trouble(Trouble.OVER)))
    entries = len(cook.journal)
    row = {"of": ["sugars"], "min": None, "max": "50", "source": "ours"}

    def keeping(limit: dict[str, object]) -> dict[str, object]:
        return {**change.as_json(), "way": "smallest addition", "keeps": [limit]}

    for more, code in (
        ({"change": change.as_json(), "reason": " "}, "needs-reason"),
        ({"reason": "none"}, "no-change"),
        ({"change": {"way": "enlarge"}, "reason": "none"}, "bad-change"),
        ({"change": {**change.as_json(), "rests_on_g": "NaN"}, "reason": "none"}, "bad-change"),
        ({"change": {**change.as_json(), "rests_on_g": "360"}, "reason": "x"}, "amount-changed"),
        ({"change": {**change.as_json(), "way": "shrink"}, "reason": "x"}, "does-not-follow"),
        ({"change": {**change.as_json(), "wholes": []}, "reason": "x"}, "does-not-follow"),
        ({"change": {**change.as_json(), "way": "discard"}, "reason": "x"}, "does-not-follow"),
        ({"change": keeping({"of": ["sugars"]}), "reason": "x"}, "does-not-follow"),
        ({"change": keeping({**row, "min": "a little"}), "reason": "x"}, "does-not-follow"),
    ):
        with pytest.raises(OperatorError) as refused:
            cook.do("put right", **more)
        assert refused.value.code == code, more
    assert len(cook.journal) == entries
    cook.choose(change)


def test_a_wrong_ingredient_has_to_be_named() -> None:
    cook = too_much_sugar()
    with pytest.raises(OperatorError, match="not said what") as refused:
        cook.trouble(Trouble.WRONG)
    assert (refused.value.code, refused.value.where) == ("not-said-what", "was")
