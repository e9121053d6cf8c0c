"""A batch from start to record, by hand: what a cook does, and what the station makes of it."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.station.scripted import FORMULA, Hand
from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.fold import fold
from weighd.domain.metrology import Rule
from weighd.station.picture import Picture


@pytest.fixture
def hand() -> Hand:
    """A batch with its vessel tared, ready for the first addition (500 g, 495 to 505)."""
    hand = Hand()
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    return hand


def code(hand: Hand, do: str, **given: object) -> str:
    with pytest.raises(OperatorError) as caught:
        hand.do(do, **given)
    return caught.value.code


def test_a_whole_batch(hand: Hand) -> None:
    hand.pour("812.4")
    assert (hand.phase, hand.station.can()[0]) == ("judged", "accept")
    hand.do("accept", addition=1)
    hand.pour("932.4")
    hand.do("accept", addition=2)
    hand.pour("934.4", "0.2")
    hand.do("accept", addition=3)
    assert hand.kinds() == [
        "batch opened",
        "tared",
        "addition accepted",
        "addition accepted",
        "addition accepted",
        "batch closed",
    ]
    nets = [one.body["net_g"] for one in hand.journal if one.kind == "addition accepted"]
    assert nets == ["500.0", "120.0", "2.0"]
    assert hand.station.can() == ()


def test_an_accepted_addition_keeps_all_that_its_record_needs(hand: Hand) -> None:
    hand.do("name lot", lot="PEAR-42")
    hand.pour("812.4")
    hand.do("accept", by="Second Tester")
    body = hand.journal[-1].body
    assert body["lot"] == "PEAR-42"
    assert body["operator"] == "Second Tester"
    for key in (
        "ingredient",
        "target_g",
        "low_g",
        "high_g",
        "tare_g",
        "gross_g",
        "u_g",
        "verdict",
        "rule",
        "scale",
        "interval_g",
        "started",
        "accepted",
    ):
        assert body[key], key
    assert Decimal(body["gross_g"]) - Decimal(body["tare_g"]) == Decimal(body["net_g"])
    assert body["started"] < body["accepted"]
    assert [bytes.fromhex(one["raw"]) for one in body["evidence"]["gross"]] == [b"812.4\n"] * 12
    assert body["evidence"]["decoder"] == {"driver": "test", "shape": "test-lines"}


def test_nothing_is_tared_before_the_scale_rests() -> None:
    hand = Hand()
    hand.start()
    assert code(hand, "tare") == "not-settled"
    hand.show("312.4", 0.3)
    assert "tare" not in hand.station.can()
    assert code(hand, "tare") == "not-settled"


def test_an_empty_scale_is_tared_only_when_confirmed() -> None:
    hand = Hand()
    hand.start()
    hand.show("0.0")
    assert code(hand, "tare") == "no-vessel"
    hand.do("tare", confirm=True)
    assert hand.phase == "ready"


def test_an_over_pour_is_held_until_somebody_decides(hand: Hand) -> None:
    hand.pour("820.0")
    assert hand.phase == "held"
    assert hand.journal[-1].body["cause"] == "over"
    assert "top up" not in hand.station.can()
    assert code(hand, "accept") == "needs-reason"
    assert code(hand, "top up") == "not-now"
    hand.pour("700.0")  # too much taken out, and nobody said anything yet
    assert hand.phase == "held"
    assert {"top up", "accept with reason"} <= set(hand.station.can())
    assert "take out" not in hand.station.can()
    hand.do("top up")
    hand.pour("812.0")
    assert hand.phase == "judged"
    hand.do("accept")
    assert hand.kinds()[2:] == ["held", "decided", "addition accepted"]


def test_an_over_pour_put_right_by_hand_is_accepted_by_somebody(hand: Hand) -> None:
    hand.pour("820.0")
    hand.pour("812.4")
    assert (hand.phase, hand.station.can()[0]) == ("held", "accept")
    hand.do("accept")
    assert hand.kinds()[2:] == ["held", "addition accepted"]


def test_after_take_out_the_cook_has_time_to_take_some_out(hand: Hand) -> None:
    hand.pour("820.0")
    hand.do("take out")
    hand.show("820.0", 5)
    assert (hand.phase, hand.kinds()[2:]) == ("settling", ["held", "decided"])
    hand.pour("818.5", "0.5")  # some, but not enough: held again, at another amount
    assert (hand.phase, hand.kinds()[2:]) == ("held", ["held", "decided", "held"])
    hand.do("take out")
    hand.pour("812.4", "2")
    assert hand.phase == "judged"


def test_an_over_pour_can_be_accepted_with_a_reason_that_is_kept(hand: Hand) -> None:
    hand.pour("820.0")
    assert code(hand, "accept", reason="   ") == "needs-reason"
    hand.do("accept", reason="milk ran out of the jug")
    body = hand.journal[-1].body
    assert (body["verdict"], body["reason"]) == ("over", "milk ran out of the jug")
    assert hand.phase == "ready"


def test_pressing_on_while_short_holds_and_asks(hand: Hand) -> None:
    hand.pour("800.0")
    assert (hand.phase, hand.station.now.claim and hand.station.now.claim.verdict) == (
        "judged",
        "short",
    )
    assert code(hand, "accept") == "needs-reason"
    assert hand.phase == "held"
    assert code(hand, "take out") == "not-now"
    hand.do("top up")
    hand.pour("812.4", "2")
    hand.do("accept")
    assert hand.kinds()[2:] == ["held", "decided", "addition accepted"]


def test_pouring_in_several_goes_needs_no_button(hand: Hand) -> None:
    for to in ("400", "600", "750", "812.4"):
        hand.pour(to)
        assert hand.phase == "judged"
    hand.do("accept")
    assert hand.kinds()[2:] == ["addition accepted"]


def test_abandoning_ends_the_batch_and_keeps_what_went_in(hand: Hand) -> None:
    hand.pour("812.4")
    hand.do("accept")
    hand.do("abandon", reason="dropped the bowl")
    batch = fold(hand.journal)
    assert batch is not None
    assert (batch.status, batch.reason, len(batch.accepted)) == ("abandoned", "dropped the bowl", 1)
    assert code(hand, "accept") == "no-open-batch"
    hand.start()
    assert hand.station.batch and hand.station.batch.id == "test-0002"


def test_a_second_batch_waits_for_the_first(hand: Hand) -> None:
    with pytest.raises(OperatorError) as caught:
        hand.start()
    assert caught.value.code == "batch-open"


def test_the_same_key_acts_once(hand: Hand) -> None:
    hand.pour("812.4")
    first = hand.do("accept", key="press-1")
    again = hand.do("accept", key="press-1")
    assert first and again and (again.entry, again.again) == (first.entry, True)
    assert hand.kinds().count("addition accepted") == 1


def test_two_people_pressing_accept_at_once_act_once(hand: Hand) -> None:
    hand.pour("812.4")
    hand.do("accept", addition=1, key="one")
    assert code(hand, "accept", addition=1, key="two") == "already-accepted"
    assert code(hand, "accept", key="three") == "nothing-poured"
    assert code(hand, "accept", addition=3) == "not-current"


def test_two_people_pressing_tare_at_once_tare_once(hand: Hand) -> None:
    assert code(hand, "tare", addition=1, key="two") == "already-tared"  # before the next reading
    hand.show("312.4")
    assert code(hand, "tare", addition=1, key="three") == "already-tared"
    assert hand.kinds().count("tared") == 1
    hand.do("tare", addition=1, key="four", confirm=True)  # meant all the same
    assert hand.kinds().count("tared") == 2


def test_accept_while_pouring_is_refused(hand: Hand) -> None:
    hand.pour("600", settle=0)
    assert hand.phase == "pouring"
    assert code(hand, "accept") == "not-settled"


def test_a_vessel_lifted_with_some_in_it_cannot_be_tared_away(hand: Hand) -> None:
    hand.pour("700")
    hand.lift()
    assert hand.phase == "awaiting vessel"
    assert "tare" not in hand.station.can()
    assert code(hand, "tare") == "vessel-holds-some"
    hand.show("700")
    assert hand.phase == "judged"
    hand.pour("812.4")
    hand.do("accept")
    assert hand.journal[-1].body["net_g"] == "500.0"


def test_a_bump_in_an_empty_wait_is_no_pour(hand: Hand) -> None:
    hand.pour("330", "20", settle=0)
    hand.pour("312.4", "20")
    assert hand.phase == "ready"
    assert hand.station.now.started is None


def test_a_vessel_can_be_changed_before_anything_is_in(hand: Hand) -> None:
    hand.lift()
    hand.lift("250.0")
    assert hand.phase == "awaiting vessel"
    hand.do("tare")
    hand.pour("750.0")
    hand.do("accept")
    assert hand.journal[-1].body["tare_g"] == "250.0"


def test_above_capacity_nothing_is_judged(hand: Hand) -> None:
    hand.pour("812.4")
    hand.raw(b"OVER\n")
    assert hand.phase == "settling"
    assert hand.station.now.why == "overload"
    hand.show("6001.5")  # above Max + 9 d: an overload whether or not the scale says so
    assert hand.station.scales["bench"].reading is not None
    assert hand.station.scales["bench"].reading.over
    assert code(hand, "accept") == "not-settled"


def test_the_simple_rule_accepts_on_the_limit_where_the_guarded_one_will_not_say() -> None:
    for rule, verdict in ((Rule("simple"), "on target"), (Rule(), "too close to call")):
        hand = Hand(rule=rule)
        hand.start()
        hand.show("312.4")
        hand.do("tare")
        hand.pour("817.4")
        assert hand.station.now.claim and hand.station.now.claim.verdict == verdict


def test_too_close_to_call_offers_both_ways_and_asks_for_a_reason(hand: Hand) -> None:
    hand.pour("817.4")
    assert {"top up", "take out", "accept with reason"} <= set(hand.station.can())
    assert code(hand, "accept") == "needs-reason"
    hand.do("accept", reason="the scale cannot tell")
    assert hand.journal[-1].body["verdict"] == "too close to call"


@pytest.mark.parametrize(
    ("given", "error", "expected"),
    [
        ({"by": ""}, OperatorError, "no-operator"),
        ({"by": "A\x07"}, OperatorError, "bad-text"),
        ({"batch_g": "0"}, FormulaError, "bad-batch-size"),
        ({"batch_g": "NaN"}, FormulaError, "bad-batch-size"),
        ({"batch_g": "much"}, FormulaError, "bad-batch-size"),
        ({"batch_g": "60000"}, OperatorError, "over-capacity"),
        ({"scale": "cellar"}, OperatorError, "unknown-scale"),
    ],
)
def test_a_start_that_cannot_be_made_is_refused(
    given: dict[str, str], error: type[Exception], expected: str
) -> None:
    hand = Hand()
    with pytest.raises(error) as caught:
        hand.start(**given)
    assert caught.value.code == expected  # type: ignore[attr-defined]
    assert hand.journal == []


def test_a_batch_is_scaled_when_it_is_opened() -> None:
    hand = Hand()
    hand.start(batch_g="1244")
    targets = [one["target_g"] for one in hand.journal[0].body["additions"]]
    assert targets == ["1000.00", "240.00", "4.00"]


def test_the_interval_is_learned_from_the_display_when_nobody_says_it() -> None:
    hand = Hand()
    setup = hand.station.scales["bench"]
    setup.interval_g = None
    setup._settling = None
    with pytest.raises(OperatorError) as caught:
        hand.start()
    assert caught.value.code == "scale-not-heard"
    hand.show("0.05", 0.2)
    assert setup.interval_g == Decimal("0.01")
    hand.start(FORMULA)


@pytest.mark.parametrize(
    "given",
    [
        {"reason": "\ud800"},
        {"lot": "a\x00b"},
        {"by": "x" * 81},
        {"key": "k" * 201},
        {"reason": "\u202egnitrevni"},
    ],
)
def test_text_that_no_record_can_carry_is_refused(hand: Hand, given: dict[str, str]) -> None:
    before = list(hand.journal)
    assert code(hand, "abandon", **given) == "bad-text"
    assert hand.journal == before


@pytest.mark.parametrize(("step", "told"), [(-1, "-0.30"), (1, "0.30")])
def test_a_slow_loss_or_gain_is_told_and_kept_and_changes_no_verdict(
    hand: Hand, step: int, told: str
) -> None:
    """Dry ice wastes away, a cell creeps: an interval in every twenty seconds is 0.3 g a minute."""
    hand.pour("812.4")
    assert Picture(hand.station).state()["live"]["drift_g_min"] is None
    for n in range(1, 10):
        hand.show(Decimal("812.4") + n * step * Decimal("0.1"), 20)
    live = Picture(hand.station).state()["live"]
    assert abs(Decimal(live["drift_g_min"]) - Decimal(told)) < Decimal("0.06")
    assert live["verdict"] == "on target"
    hand.do("accept")
    body = hand.journal[-1].body
    assert body["drift_g_min"] == live["drift_g_min"]
    assert body["verdict"] == "on target"
    hand.pour("932.4")
    hand.do("accept")
    assert "drift_g_min" not in hand.journal[-1].body
