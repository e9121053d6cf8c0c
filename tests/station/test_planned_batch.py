"""Batches weighed by a plan: several scales and vessels, splits and premixes, followed to the end.

A small kitchen of true masses stands behind the displays: what is poured, tipped and stirred is
known, so what the record says went in can be held to what did.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.station.planned_kitchen import ICE, PREMIX, SPLIT, TWO, Kitchen
from tests.station.scripted import Hand, formula
from weighd.domain.acts import acts
from weighd.domain.batch import Kind
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.fold import fold
from weighd.domain.plan_words import Into, Role
from weighd.domain.record import Tail, seal
from weighd.station.opening import heard, left_out
from weighd.station.picture import draw_batch, draw_live


def test_small_amounts_are_weighed_on_the_fine_scale_and_tipped_in() -> None:
    kitchen = Kitchen(ICE, TWO)
    kitchen.follow()
    kinds = kitchen.hand.kinds()
    # The bowl, the dish once for both, and the bowl again after the dish was tipped in.
    assert kinds.count(Kind.TARED) == 3
    assert kinds[-1] == Kind.CLOSED
    kitchen.verified()
    scales = [one.body["scale"] for one in kitchen.hand.journal if one.kind == Kind.ACCEPTED]
    assert scales == ["bench", "fine", "fine", "bench"]
    for one in kitchen.hand.journal:
        if one.kind == Kind.ACCEPTED:
            true = kitchen.inside["bowl"][one.body["ingredient"]]
            assert abs(Decimal(one.body["net_g"]) - true) <= 3 * Decimal(one.body["u_g"])


def test_a_dish_that_was_not_tipped_in_is_noticed() -> None:
    kitchen = Kitchen(ICE, TWO)
    for _ in range(3):
        kitchen.handle(kitchen.batch.current.n)
        kitchen.weigh()
    kitchen.handle(4, tip=False)
    with pytest.raises(OperatorError, match="5 g lighter than it should be") as caught:
        kitchen.hand.do("tare")
    assert caught.value.code == "not-all-in"
    assert "Salt and Gum" in caught.value.message
    kitchen.tip("dish 1")
    kitchen.stand("bench")
    kitchen.hand.do("tare")
    entry = kitchen.hand.journal[-1]
    assert entry.kind == Kind.TARED
    assert "expected_confirmed" not in entry.body
    kitchen.weigh()
    kitchen.verified()


def test_a_bowl_that_was_not_taken_off_for_a_dish_is_noticed() -> None:
    text = ICE.replace('"900 g"', '"5300 g"')
    kitchen = Kitchen(text, {"bench": ("1", "6000")}, dish_holds_g="900")
    steps = [one.step for one in kitchen.batch.additions]
    n = next(k for k, one in enumerate(steps, start=1) if one.into is Into.DISH)
    for _ in range(n - 1):
        kitchen.handle(kitchen.batch.current.n)
        kitchen.weigh()
    kitchen.stand("bench")
    with pytest.raises(OperatorError) as caught:
        kitchen.hand.do("tare")
    assert caught.value.code == "bowl-still-on"
    due = draw_live(kitchen.hand.station)["due"]  # type: ignore[index]
    assert (due["due_g"], due["off_g"]) == (None, str(kitchen.shown("bench")))
    kitchen.handle(n)
    kitchen.hand.do("tare")
    assert kitchen.batch.tare.level.grams == 61
    kitchen.verified()


def test_going_on_all_the_same_is_in_the_record() -> None:
    kitchen = Kitchen(ICE, TWO)
    for _ in range(3):
        kitchen.handle(kitchen.batch.current.n)
        kitchen.weigh()
    kitchen.handle(4, tip=False)
    kitchen.hand.do("tare", confirm=True)
    assert kitchen.hand.journal[-1].body["expected_confirmed"] is True
    kitchen.verified()


def test_another_bowl_is_noticed() -> None:
    kitchen = Kitchen(ICE, TWO)
    for _ in range(3):
        kitchen.handle(kitchen.batch.current.n)
        kitchen.weigh()
    kitchen.handle(4)
    kitchen.empty["bowl"] += 90
    kitchen.stand("bench")
    with pytest.raises(OperatorError, match=r"9[01] g heavier"):
        kitchen.hand.do("tare")


def test_an_amount_in_parts_is_judged_as_a_whole() -> None:
    kitchen = Kitchen(SPLIT, {"bench": ("1", "6000"), "fine": ("0.01", "500")}, dish_holds_g="3000")
    parts = [one for one in kitchen.batch.additions if one.step.role is Role.PART]
    assert len(parts) == 2
    kitchen.handle(1)
    kitchen.weigh()
    first = kitchen.batch.accepted[0]
    rest = kitchen.batch.current
    assert rest.target_g == 7400 - first.net_g
    assert rest.high_g - rest.low_g == 222
    kitchen.follow()
    kitchen.verified()
    last = next(one for one in kitchen.hand.journal if one.body.get("addition") == 2)
    accepted = [one for one in kitchen.hand.journal if one.kind == Kind.ACCEPTED]
    assert Decimal(accepted[1].body["carried_u_g"]) > 0
    assert last is not None
    closed = kitchen.hand.journal[-1].body
    milk = next(one for one in closed["as_weighed"] if one["ingredient"] == "milk")
    assert abs(Decimal(milk["net_g"]) - kitchen.inside["bowl"]["milk"]) <= 3 * Decimal(milk["u_g"])
    assert Decimal(milk["target_g"]) == 7400


def test_a_part_may_not_be_the_whole() -> None:
    text = ICE.replace('"900 g"', '"1090 g"')
    kitchen = Kitchen(text, {"bench": ("1", "2000"), "fine": ("0.01", "500")}, bowl_g="1100")
    kitchen.handle(1)
    kitchen.hand.do("tare")
    current = kitchen.batch.current
    assert (current.step.parts, current.step.whole_g) == (2, 1090)
    kitchen.pour(Decimal(1095))
    with pytest.raises(OperatorError) as caught:
        kitchen.hand.do("accept", addition=1, reason="in a hurry")
    assert caught.value.code == "more-than-the-whole"
    kitchen.hand.do("take out")
    kitchen.pour(Decimal(-250))
    kitchen.hand.do("accept", addition=1)


@pytest.mark.parametrize("seed", range(4))
def test_a_premix_brings_what_the_record_says(seed: int) -> None:
    kitchen = Kitchen(PREMIX, {"bench": ("0.1", "3000")}, seed)
    roles = [one.step.role for one in kitchen.batch.additions]
    assert roles == [Role.PREMIX, Role.CARRIER, Role.REST, Role.FROM_PREMIX, Role.WHOLE]
    kitchen.follow()
    kitchen.verified()
    sums = {one["ingredient"]: one for one in kitchen.hand.journal[-1].body["as_weighed"]}
    for name, true in kitchen.inside["bowl"].items():
        net, u = Decimal(sums[name]["net_g"]), Decimal(sums[name]["u_g"])
        assert abs(net - true) <= 3 * u, name
    gum = kitchen.inside["bowl"]["gum"]
    assert abs(gum - Decimal("1.2")) <= Decimal("0.08")
    # On that scale alone it could not have been told: one interval is more than the tolerance.
    assert Decimal(sums["gum"]["u_g"]) < Decimal("0.041")


def test_what_is_left_to_weigh_survives_a_restart() -> None:
    kitchen = Kitchen(PREMIX, {"bench": ("0.1", "3000")})
    for _ in range(3):
        kitchen.handle(kitchen.batch.current.n)
        kitchen.weigh()
    folded = fold(kitchen.hand.journal)
    assert folded == kitchen.batch
    assert folded is not None
    assert folded.current is not None
    assert folded.current.step is not None
    assert folded.current.target_g != kitchen.hand.journal[0].body["additions"][3]["target_g"]


def test_sums_that_do_not_follow_do_not_verify() -> None:
    kitchen = Kitchen(PREMIX, {"bench": ("0.1", "3000")})
    kitchen.follow()
    closed = kitchen.hand.journal[-1]
    sums = [dict(one) for one in closed.body["as_weighed"]]
    sums[0]["net_g"] = "300.0"
    before_it = kitchen.hand.journal[-2]
    forged = seal(
        closed.station,
        closed.kind,
        closed.at,
        {**closed.body, "as_weighed": sums},
        Tail(before_it.seq, before_it.hash),
    )
    kitchen.hand.journal[-1] = forged
    with pytest.raises(RecordError, match="as_weighed"):
        kitchen.verified()


def test_a_plan_on_one_scale_makes_the_same_record_as_without() -> None:
    text = ICE.replace('"0.1 g"', '"1.9 g"')
    one, other = Hand(interval="0.1"), Hand(interval="0.1")
    one.start(text)
    other.start(text, plan=True)
    assert one.journal[0].body["additions"] == other.journal[0].body["additions"]
    assert other.journal[0].body["plan"]["moves"] == 1


def test_a_start_with_a_vessel_that_is_no_mass_is_refused() -> None:
    with pytest.raises(OperatorError) as caught:
        Hand().start(ICE, plan=True, bowl_g="heavy")
    assert caught.value.code == "bad-vessel"


def test_moves_are_what_is_counted() -> None:
    for text, scales in ((ICE, TWO), (SPLIT, TWO), (PREMIX, {"bench": ("0.1", "3000")})):
        kitchen = Kitchen(text, scales)
        counted = sum(one.moves for one in acts(kitchen.batch.additions))
        assert counted == kitchen.hand.journal[0].body["plan"]["moves"]


def test_the_page_is_told_of_it() -> None:
    kitchen = Kitchen(ICE, TWO)
    drawn = draw_batch(kitchen.batch)
    second = drawn["additions"][1]
    assert (second["scale"], second["step"]["into"]) == ("fine", Into.DISH)
    assert formula(ICE).additions[1].ingredient.id == "salt"


# --- another scale -------------------------------------------------------------------------------


def test_where_a_scale_fails_the_rest_is_weighed_on_another() -> None:
    kitchen = Kitchen(ICE, {**TWO, "spare": ("0.02", "600")})
    kitchen.handle(1)
    kitchen.weigh()
    assert kitchen.batch.current.scale == "fine"
    kitchen.hand.on = "fine"
    kitchen.hand.lost()
    assert "use scale" in kitchen.hand.station.can()
    kitchen.hand.do("use scale", scale="spare", reason="its cable is torn")
    entry = kitchen.hand.journal[-1]
    assert entry.kind == Kind.SCALE_CHANGED
    assert (entry.body["from"], entry.body["to"]) == ("fine", "spare")
    assert entry.body["figures"]["interval_g"] == "0.02"
    assert [one.scale for one in kitchen.batch.additions] == ["bench", "spare", "spare", "bench"]
    kitchen.follow()
    kitchen.verified()
    nets = {
        one.body["ingredient"]: one.body
        for one in kitchen.hand.journal
        if one.kind == Kind.ACCEPTED
    }
    assert nets["gum"]["scale"] == "spare"
    assert abs(Decimal(nets["gum"]["net_g"]) - kitchen.inside["bowl"]["gum"]) <= Decimal("0.06")


def test_nothing_is_planned_on_a_scale_that_is_away() -> None:
    hand = Hand(interval="1", more={"fine": ("0.01", "500"), "spare": ("0.02", "600")})
    hand.show("0.0", 0.5)
    hand.on = "fine"
    hand.lost()
    hand.start(ICE, plan=True)
    assert hand.station.batch is not None
    assert {one.scale for one in hand.station.batch.additions} <= {"bench", "spare"}
    assert left_out(hand.station.scales) == ["fine"]
    assert [one.name for one, _ in heard(hand.station.scales)] == ["bench", "spare"]


def test_not_while_some_of_it_is_in() -> None:
    kitchen = Kitchen(ICE, TWO)
    kitchen.handle(1)
    kitchen.hand.do("tare")
    kitchen.pour(Decimal(300))
    assert "use scale" not in kitchen.hand.station.can()
    kitchen.hand.lost()
    with pytest.raises(OperatorError) as caught:
        kitchen.hand.do("use scale", scale="fine")
    assert caught.value.code == "some-is-in"
    assert kitchen.hand.phase == "held"


@pytest.mark.parametrize(
    ("scale", "code"),
    [("bench", "same-scale"), ("attic", "unknown-scale"), ("fine", "over-capacity")],
)
def test_another_scale_that_will_not_do_is_refused(scale: str, code: str) -> None:
    kitchen = Kitchen(ICE, TWO)
    with pytest.raises(OperatorError) as caught:
        kitchen.hand.do("use scale", scale=scale)
    assert caught.value.code == code


def test_a_change_from_a_scale_that_was_not_in_use_does_not_verify() -> None:
    kitchen = Kitchen(ICE, TWO)
    kitchen.handle(1)
    kitchen.weigh()
    kitchen.hand.do("use scale", scale="bench")
    last = kitchen.hand.journal[-1]
    before_it = kitchen.hand.journal[-2]
    kitchen.hand.journal[-1] = seal(
        last.station,
        last.kind,
        last.at,
        {**last.body, "from": "bench"},
        Tail(before_it.seq, before_it.hash),
    )
    with pytest.raises(RecordError, match="from is bench"):
        kitchen.verified()
