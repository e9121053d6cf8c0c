"""Scales that go away, stations that stop, disks that fill: nothing accepted is lost, and no
half-done thing is there."""

from __future__ import annotations

from typing import Any

import pytest

from tests.station.scripted import Hand
from weighd.domain.errors import JournalError, OperatorError
from weighd.station.picture import Picture


def scale(hand: Hand) -> dict[str, Any]:
    shown: dict[str, Any] = Picture(hand.station).state()["scales"]["bench"]
    return shown


@pytest.fixture
def hand() -> Hand:
    hand = Hand()
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    return hand


def test_unplugged_in_mid_pour_holds_and_resumes(hand: Hand) -> None:
    hand.pour("600", settle=0)
    hand.lost()
    assert (hand.phase, hand.journal[-1].body["cause"]) == ("held", "scale lost")
    assert "accept" not in hand.station.can()
    hand.tick(20)
    hand.found()
    hand.pour("812.4")
    assert hand.phase == "judged"
    hand.do("accept")
    assert hand.kinds()[2:] == ["held", "resumed", "addition accepted"]
    assert hand.journal[-1].body["net_g"] == "500.0"


def test_a_scale_that_comes_back_at_zero_keeps_the_sum_when_somebody_says_so(hand: Hand) -> None:
    hand.pour("600")
    hand.lost()
    hand.found()
    hand.show("0.0")
    assert (hand.phase, hand.journal[-1].body["cause"]) == ("held", "scale at zero")
    assert hand.station.can()[0] == "resume"
    hand.do("resume")
    hand.pour("212.4")  # 287.6 g were in; 212.4 g more
    assert hand.phase == "judged"
    hand.do("accept")
    assert hand.journal[-1].body["net_g"] == "500.0"


def test_a_vessel_lifted_while_the_scale_was_away_is_put_back(hand: Hand) -> None:
    hand.pour("600")
    hand.lost()
    hand.found()
    hand.show("0.0")
    assert hand.phase == "held"
    hand.show("600")
    assert hand.phase == "judged"
    assert hand.journal[-1].kind == "resumed"


def test_silence_is_told_at_two_seconds_however_late_the_tick(hand: Hand) -> None:
    hand.pour("600", settle=0)
    quiet_since = hand.t
    picture = Picture(hand.station)
    hand.tick(1.9)
    assert hand.station.scales["bench"].link == "live"
    hand.tick(10)
    assert hand.station.scales["bench"].link == "silent"
    assert hand.journal[-1].body["cause"] == "scale silent"
    assert hand.journal[-1].at == hand.station.at(quiet_since + 2.0)
    picture.refresh()
    state = picture.state()
    assert state["scales"]["bench"]["reading"] is None  # nothing stale to show as live
    assert state["live"]["gross_g"] is None


def test_garbage_and_half_lines_between_good_ones_change_nothing(hand: Hand) -> None:
    hand.pour("600", settle=0)
    for _ in range(30):
        hand.raw(b"\x00\xff#+?9\n81", 0.05)
        hand.raw(b"2.4\n", 0.05)
    assert hand.phase == "judged"
    assert hand.station.scales["bench"].setup.decoder.rejected == 30
    hand.do("accept")
    assert hand.journal[-1].body["net_g"] == "500.0"


def test_a_misread_weight_decides_nothing(hand: Hand) -> None:
    hand.pour("812.4")
    hand.raw(b"8812.4\n")
    with pytest.raises(OperatorError) as caught:
        hand.do("accept")
    assert caught.value.code == "not-settled"
    hand.show("812.4")
    hand.do("accept")
    assert hand.journal[-1].body["net_g"] == "500.0"


def test_a_full_disk_accepts_nothing_and_loses_nothing(hand: Hand) -> None:
    hand.pour("812.4")
    before = list(hand.journal)
    hand.fail = JournalError("store-full", "The disk is full.", remedy="Free some space.")
    with pytest.raises(JournalError):
        hand.do("accept", key="press-1")
    assert hand.journal == before
    assert hand.station.batch and hand.station.batch.accepted == ()
    assert hand.station.notices[-1].code == "store-full"
    picture = Picture(hand.station)
    assert picture.state()["station"]["store"]["code"] == "store-full"
    assert picture.state()["batch"]["additions"][0]["status"] == "current"
    hand.fail = None
    hand.show("812.4", 0.5)
    hand.do("accept", key="press-1")
    assert hand.kinds()[2:] == ["addition accepted"]
    assert Picture(hand.station).state()["station"]["store"]["ok"]


def test_a_hold_that_cannot_be_written_is_tried_again(hand: Hand) -> None:
    hand.fail = JournalError("store-io", "The disk fails.")
    hand.pour("830")
    assert hand.phase != "held"
    assert len([one for one in hand.station.notices if one.code == "store-io"]) == 1
    with pytest.raises((OperatorError, JournalError)):
        hand.do("accept")
    hand.fail = None
    hand.show("830", 1.5)
    assert (hand.phase, hand.kinds()[2:]) == ("held", ["held"])


@pytest.mark.parametrize("accepted", [0, 1, 2])
def test_after_a_stop_the_batch_goes_on_from_where_it_was(hand: Hand, accepted: int) -> None:
    levels = ["812.4", "932.4", "934.4"]
    for level in levels[:accepted]:
        hand.pour(level, "0.5" if level == "934.4" else "20")
        hand.do("accept")
    again = Hand(hand.journal, t=0.0)
    assert again.kinds()[-1] == "restarted"
    assert again.station.notices[-1].code == "restarted"
    assert again.station.batch and len(again.station.batch.accepted) == accepted
    again.show(hand.display)
    again.pour(levels[accepted], "0.5" if accepted == 2 else "20")
    assert again.phase == "judged"
    again.do("accept")
    nets = [one.body["net_g"] for one in again.journal if one.kind == "addition accepted"]
    assert nets == ["500.0", "120.0", "2.0"][: accepted + 1]


def test_what_was_poured_before_a_stop_still_counts(hand: Hand) -> None:
    hand.pour("700")
    again = Hand(hand.journal)
    again.show("700")
    assert again.phase == "judged"
    again.pour("812.4")
    again.do("accept")
    assert again.journal[-1].body["net_g"] == "500.0"


def test_a_hold_survives_a_stop(hand: Hand) -> None:
    hand.pour("830")
    again = Hand(hand.journal)
    assert again.phase == "held"
    again.show("830")
    assert "take out" in again.station.can()
    with pytest.raises(OperatorError) as caught:
        again.do("accept")
    assert caught.value.code == "needs-reason"
    again.do("take out")
    again.pour("812.4", "2")
    again.do("accept")


def test_a_power_cut_to_scale_and_station_asks_before_it_goes_on(hand: Hand) -> None:
    hand.pour("812.4")
    hand.do("accept")
    again = Hand(hand.journal)
    again.show("0.0")  # the scale zeroed itself with the full vessel on
    assert again.journal[-1].body["cause"] == "scale at zero"
    again.do("resume")
    again.pour("120.0")
    again.do("accept")
    assert again.journal[-1].body["net_g"] == "120.0"


def test_a_key_used_before_the_stop_still_acts_once(hand: Hand) -> None:
    hand.pour("812.4")
    hand.do("accept", key="press-1")
    again = Hand(hand.journal)
    again.show("812.4")
    answer = again.do("accept", key="press-1")
    assert answer is not None
    assert answer.again
    assert again.kinds().count("addition accepted") == 1


def test_a_scale_that_sends_what_nobody_understands_is_not_called_quiet() -> None:
    """Nothing readable from the start: after a while it is said that it sends, and what to do."""
    hand = Hand()
    for _ in range(50):
        hand.raw(b"\x80\xfe%%\n")
    assert (scale(hand)["link"], scale(hand)["why"]) == ("waiting", "")
    for _ in range(20):
        hand.raw(b"\x80\xfe%%\n")
    assert scale(hand)["link"] == "silent"
    assert "nothing that is understood" in scale(hand)["why"]
    hand.show("312.4", 0.3)
    assert (scale(hand)["link"], scale(hand)["why"]) == ("live", "")
    for _ in range(25):  # its settings are changed while it is used
        hand.raw(b"\x80\xfe%%\n")
    assert scale(hand)["link"] == "silent"
    assert "nothing that is understood" in scale(hand)["why"]
    hand.show("312.4", 0.3)
    hand.tick(3)  # and now it sends nothing at all
    assert (scale(hand)["link"], scale(hand)["why"]) == ("silent", "")


def test_held_for_too_much_and_unplugged_nobody_takes_out_of_what_cannot_be_seen(
    hand: Hand,
) -> None:
    hand.pour("830")
    assert hand.journal[-1].body["cause"] == "over"
    hand.lost()
    assert hand.journal[-1].body["cause"] == "scale lost"
    assert "take out" not in hand.station.can()
    hand.found()
    hand.show("830")
    assert hand.kinds()[2:] == ["held", "held", "resumed", "held"]
    assert "take out" in hand.station.can()


def test_after_a_restart_nothing_is_decided_before_the_scale_was_seen(hand: Hand) -> None:
    hand.pour("830")
    again = Hand(hand.journal)
    assert "take out" not in again.station.can()
    with pytest.raises(OperatorError) as caught:
        again.do("take out", key="after the restart")
    assert caught.value.code == "not-settled"
    again.show("830")
    assert "take out" in again.station.can()


@pytest.mark.parametrize("shown", ["3.4", "-34.0", "120.0"])
def test_a_zero_taken_in_mid_pour_is_asked_about_whatever_it_shows(hand: Hand, shown: str) -> None:
    """It lost its power for a moment; what still fell, or a spoon on the pan, is in its zero."""
    hand.pour("600")
    hand.lost()
    hand.found()
    hand.show(shown)
    assert hand.journal[-1].body["cause"] == "scale at zero"
    assert hand.journal[-1].body["sum_g"] == "287.6"
    assert "tare" not in hand.station.can()
    hand.lift("0.0")
    hand.lift("620.0")  # the scale was zeroed empty, and the vessel set back: it shows all of it
    assert (hand.phase, Picture(hand.station).state()["live"]["net_g"]) == ("judged", "307.6")
