"""A scale that slept or was off comes back at zero with its load on: the sum is kept."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.station.scripted import Hand
from tests.station.zeros import accepted, body, live, press_key, refused, sleep, tared, verified
from weighd.domain.fold import fold


@pytest.fixture
def hand() -> Hand:
    return tared()


#: How long it was away: seen by the detector itself, or told as silent by the station (2 s).
AWAY = [1.8, 30.0]


@pytest.mark.parametrize("seconds", AWAY)
def test_a_scale_that_slept_keeps_the_sum_and_asks(hand: Hand, seconds: float) -> None:
    hand.pour("600")
    sleep(hand, seconds)
    now = live(hand)
    assert (hand.phase, now["held"]["cause"]) == ("held", "scale at zero")
    assert now["held"]["sum_g"] == "287.6"
    assert hand.station.can()[0] == "resume"
    assert refused(hand, "accept") in ("not-now", "not-settled")
    hand.do("resume", by="Second Tester")
    hand.show("0.0", 1.0)
    assert live(hand)["net_g"] == "287.6"
    hand.pour("212.4")
    hand.do("accept")
    moved = body(hand, "zero moved")
    assert (moved["cause"], moved["by"]) == ("scale at zero", "Second Tester")
    assert (moved["before_g"], moved["after_g"], moved["sum_g"]) == ("600", "0.0", "287.6")
    assert moved["settled"] is True
    assert body(hand, "resumed")["by"] == "Second Tester"
    accepted = body(hand, "addition accepted")
    assert accepted["net_g"] == "500.0"
    assert abs(Decimal(accepted["u_g"]) - Decimal("0.05774")) < Decimal("0.0002")
    assert verified(hand) == 1


@pytest.mark.parametrize("seconds", AWAY)
def test_what_is_poured_before_anybody_answers_is_counted(hand: Hand, seconds: float) -> None:
    hand.pour("600")
    sleep(hand, seconds)
    hand.pour("100", "5")
    hand.do("resume")
    hand.show("100", 1.0)
    assert live(hand)["net_g"] == "387.6"
    verified(hand)


@pytest.mark.parametrize("seconds", AWAY)
def test_the_key_pressed_while_it_is_asked_loses_nothing(hand: Hand, seconds: float) -> None:
    hand.pour("600")
    sleep(hand, seconds)
    hand.pour("100", "5")
    press_key(hand)
    hand.do("resume")
    hand.pour("112.4", "5")
    assert live(hand)["net_g"] == "500.0"
    hand.do("accept")
    assert verified(hand) == 1


@pytest.mark.parametrize("seconds", AWAY)
def test_asleep_again_while_it_is_asked_loses_nothing(hand: Hand, seconds: float) -> None:
    hand.pour("600")
    sleep(hand, seconds)
    hand.pour("100", "5")
    sleep(hand, seconds)
    assert live(hand)["held"]["cause"] == "scale at zero"
    hand.do("resume")
    hand.pour("112.4", "5")
    assert live(hand)["net_g"] == "500.0"
    hand.do("accept")
    assert verified(hand) == 1


@pytest.mark.parametrize("seconds", AWAY)
def test_something_was_added_so_it_is_weighed_again(hand: Hand, seconds: float) -> None:
    """Vessel off, the empty scale zeroed, vessel back: it shows what is in it, added or not."""
    hand.pour("600")
    sleep(hand, seconds)
    hand.lift("-650")  # 50 g were added while it slept
    assert hand.phase == "held"
    hand.show("0.0")
    hand.show("650")
    assert (hand.phase, live(hand)["net_g"]) == ("judged", "337.6")
    hand.pour("812.4")
    assert accepted(hand) == "500.0"


def test_set_down_slowly_a_person_says_that_it_is_weighed_again(hand: Hand) -> None:
    hand.pour("600")
    sleep(hand, 30)
    hand.show("-650")
    hand.show("0.0")
    hand.pour("650", "10")
    assert hand.phase == "held"
    assert "weigh again" in hand.station.can()
    hand.do("weigh again", by="Second Tester")
    assert body(hand, "resumed")["by"] == "Second Tester"
    hand.show("650")
    assert live(hand)["net_g"] == "337.6"
    verified(hand)


def test_less_than_the_vessel_is_not_the_vessel(hand: Hand) -> None:
    hand.pour("600")
    sleep(hand, 30)
    assert "weigh again" not in hand.station.can()
    assert refused(hand, "weigh again") == "less-than-vessel"


def test_a_vessel_tared_by_the_scale_cannot_be_weighed_again() -> None:
    hand = Hand()
    hand.start()
    hand.show("0.0")
    hand.do("tare", confirm=True)
    hand.pour("287.6")
    sleep(hand, 30)
    assert refused(hand, "weigh again") == "zero-unknown"
    hand.do("resume")
    hand.pour("212.4")
    hand.do("accept")
    assert verified(hand) == 1


def test_a_vessel_that_was_off_while_the_scale_slept_is_set_back(hand: Hand) -> None:
    hand.pour("600")
    sleep(hand, 30)
    hand.show("600")
    assert (hand.phase, hand.journal[-1].kind) == ("judged", "resumed")
    assert live(hand)["net_g"] == "287.6"
    assert "zero moved" not in hand.kinds()


def test_a_scale_that_kept_its_weight_goes_on_by_itself(hand: Hand) -> None:
    hand.pour("600")
    for seconds in AWAY:
        sleep(hand, seconds, "600")
        assert (hand.phase, live(hand)["net_g"]) == ("judged", "287.6")


def test_gone_in_mid_pour_the_sum_is_known_as_badly_as_it_moved(hand: Hand) -> None:
    hand.pour("600", settle=0)
    hand.lost()
    hand.found()
    hand.show("0.0")
    assert hand.journal[-1].body["cause"] == "scale at zero"
    hand.do("resume")
    hand.pour("212.4")
    moved = body(hand, "zero moved")
    assert (moved["settled"], moved["sum_g"]) == (False, "287.6")
    assert live(hand)["verdict"] == "too close to call"
    assert Decimal(live(hand)["u_g"]) > 10
    hand.do("accept", reason="the cable was out")
    assert verified(hand) == 1


def test_after_a_power_cut_a_sum_nobody_wrote_down_is_not_made_up(hand: Hand) -> None:
    hand.pour("600")
    again = Hand(hand.journal)
    again.show("0.0")
    held = live(again)["held"]
    assert (held["cause"], held["sum_g"]) == ("scale at zero", None)
    again.show("-600")
    again.show("0.0")
    again.show("600")  # zeroed empty, the vessel set down: it shows what is in it
    assert live(again)["net_g"] == "287.6"
    verified(again)


@pytest.mark.parametrize("seconds", AWAY)
def test_a_hold_at_zero_survives_a_stop_with_its_evidence(hand: Hand, seconds: float) -> None:
    hand.pour("600")
    sleep(hand, seconds)
    again = Hand(hand.journal, t=hand.t)
    again.show("0.0")
    again.pour("50", "5")
    again.do("resume")
    again.show("50", 1.0)
    assert live(again)["net_g"] == "337.6"
    batch = fold([one for one in again.journal if one.body["batch"] == "test-0001"])
    assert batch == again.station.batch
    verified(again)


def test_a_scale_lost_and_a_station_stopped_keep_the_sum(hand: Hand) -> None:
    hand.pour("600")
    hand.lost()
    again = Hand(hand.journal, t=hand.t)
    again.show("0.0")
    assert live(again)["held"]["sum_g"] == "287.6"
    again.do("resume")
    again.pour("212.4")
    assert live(again)["net_g"] == "500.0"
    again.do("accept")
    assert verified(again) == 1


@pytest.mark.parametrize("seconds", AWAY)
def test_a_lifted_vessel_while_the_scale_sleeps_keeps_the_sum(hand: Hand, seconds: float) -> None:
    hand.pour("600")
    hand.lift()
    assert hand.phase == "awaiting vessel"
    sleep(hand, seconds)
    hand.show("600")
    assert live(hand)["net_g"] == "287.6"
    verified(hand)


@pytest.mark.parametrize("seconds", AWAY)
def test_an_over_pour_that_was_held_is_held_again_after_a_sleep(hand: Hand, seconds: float) -> None:
    hand.pour("830")
    sleep(hand, seconds)
    assert live(hand)["held"]["cause"] == "scale at zero"
    hand.do("resume")
    hand.show("0.0")
    assert (hand.phase, live(hand)["held"]["cause"]) == ("held", "over")
    assert live(hand)["net_g"] == "517.6"
    verified(hand)


@pytest.mark.parametrize("seconds", AWAY)
@pytest.mark.parametrize("grams", ["0.8", "4.0", "20.0"])
def test_so_little_as_a_spoonful_is_not_lost(seconds: float, grams: str) -> None:
    """On a vessel tared by the scale itself, a spoonful is all that the display showed."""
    hand = Hand()
    hand.start()
    hand.show("0.0")
    hand.do("tare", confirm=True)
    hand.pour(grams, "0.2")
    sleep(hand, seconds)
    assert live(hand)["held"] | {"since": ""} == {
        "cause": "scale at zero",
        "since": "",
        "sum_g": grams,
    }
    hand.do("resume")
    hand.show("0.0")
    assert live(hand)["net_g"] == grams
    verified(hand)


def test_a_scale_that_reports_every_two_seconds_is_not_asleep_between(hand: Hand) -> None:
    for _ in range(8):
        hand.raw(b"600\n", 1.9)
    assert hand.phase != "held"
    assert "held" not in hand.kinds()


def test_what_stood_there_first_is_not_taken_for_the_vessel(hand: Hand) -> None:
    hand.pour("600")
    sleep(hand, 30.0, to="-41")  # back at zero, and by now a jug stands there instead
    hand.show("-41", 2.0)
    assert live(hand)["held"]["cause"] == "scale at zero"
    hand.lift("0.0")  # the vessel is set down in its place
    hand.do("resume")
    hand.show("0.0", 1.0)
    assert live(hand)["net_g"] == "287.6"
    assert body(hand, "zero moved")["after_g"] == "0.0"
    verified(hand)


@pytest.mark.parametrize("seconds", AWAY)
@pytest.mark.parametrize("shows", [1, 2, 3])
def test_lifted_as_soon_as_it_is_back_it_is_asked_about_once_it_stands_again(
    hand: Hand, seconds: float, shows: int
) -> None:
    hand.pour("600")
    hand.tick(seconds)
    hand.show("0.0", 0.1 * shows)
    for shown in ("-190", "-600", "-600", "-250", "0.0"):
        hand.show(shown, 0.1)
    hand.show("0.0", 2.0)
    assert (hand.phase, live(hand)["held"]["sum_g"]) == ("held", "287.6")
    hand.do("resume")
    hand.show("0.0", 1.0)
    assert live(hand)["net_g"] == "287.6"
    verified(hand)


@pytest.mark.parametrize("seconds", AWAY)
def test_poured_as_soon_as_it_is_back_nothing_is_lost(hand: Hand, seconds: float) -> None:
    hand.pour("600")
    hand.tick(seconds)
    hand.show("0.0", 0.2)
    hand.pour("100", "5")
    assert live(hand)["held"]["sum_g"] == "287.6"
    hand.do("resume")
    hand.show("100", 1.0)
    assert live(hand)["net_g"] == "387.6"
    verified(hand)


def test_at_zero_before_and_after_it_is_asked_whether_anything_was_poured(hand: Hand) -> None:
    hand.show("0.0", 2.0)  # tared once more, with its own key
    sleep(hand, 30.0)
    held = live(hand)["held"]
    assert (hand.phase, held["cause"], held["sum_g"]) == ("held", "scale at zero", "0.0")
    hand.do("resume")
    hand.pour("200", "5")
    assert live(hand)["net_g"] == "200.0"
    verified(hand)


@pytest.mark.parametrize("zeroed", [False, True])
def test_set_back_on_a_zero_at_which_it_stood_it_does_not_show_what_is_in(
    hand: Hand, *, zeroed: bool
) -> None:
    hand.pour("600")
    sleep(hand, 30.0)
    hand.lift("-600.0")
    if zeroed:
        hand.show("0.0", 2.0)  # emptied, and zeroed
        hand.lift("1000.0")
        assert live(hand)["net_g"] == "687.6"
        return
    hand.lift("400.0")  # 400 g more are in it
    assert live(hand)["held"]["cause"] == "scale at zero"
    hand.do("resume")
    hand.show("400.0", 1.0)
    assert live(hand)["net_g"] == "687.6"
    verified(hand)


def crept(hand: Hand, step: str) -> None:
    """Lost with the empty vessel on it; back at zero in mid-pour, and first at rest at 400 g."""
    hand.lost()
    hand.tick(1.0)
    hand.found()
    hand.display = Decimal(3)
    hand.pour("400", step)


def test_what_crept_up_from_zero_was_poured_in_on_another_zero(hand: Hand) -> None:
    crept(hand, "20")  # a stream: two seconds
    held = live(hand)["held"]
    assert (hand.phase, held["cause"], held["sum_g"]) == ("held", "scale at zero", "0.0")
    hand.lift("-312.4")
    hand.show("0.0", 2.0)  # emptied, and zeroed
    hand.lift("712.4")
    assert live(hand)["net_g"] == "400.0"
    verified(hand)


def test_a_vessel_set_down_after_a_loss_is_taken_for_what_it_is(hand: Hand) -> None:
    hand.lost()
    hand.tick(1.0)
    hand.found()
    hand.show("0.5", 1.0)
    hand.pour("400", "100")  # at once, with 87.6 g in it
    assert live(hand)["held"] is None
    assert live(hand)["net_g"] == "87.6"


def test_a_hand_that_leaned_as_the_scale_went_has_put_nothing_in(hand: Hand) -> None:
    """Held for it, the sum is what the display last showed; back on its zero, nothing is in."""
    for leaned in ("340", "420", "390"):
        hand.show(leaned, 0.2)
    sleep(hand, 30.0, to="312.4")
    assert hand.kinds()[-2:] == ["held", "resumed"]
    assert Decimal(body(hand, "held")["sum_g"]) > 50
    assert (hand.phase, live(hand)["sum_g"], live(hand)["net_g"]) == ("ready", None, "0.0")
    hand.lift()
    assert (hand.phase, live(hand)["perhaps_on"]) == ("awaiting vessel", False)
    hand.show("312.4")
    hand.pour("812.4")
    hand.do("accept")
    assert body(hand, "addition accepted")["net_g"] == "500.0"
    assert verified(hand) == 1
