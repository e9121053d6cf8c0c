"""The unit changed on the scale in mid-batch: told, converted, known no better than shown."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.station.scripted import Hand, LineDecoder
from tests.station.zeros import accepted, body, live, tared, verified
from weighd.domain.errors import RecordError
from weighd.domain.mass import Unit
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.verify import Verifier

#: The avoirdupois ounce (NIST Handbook 44, Appendix C, from memory).
OUNCE_G = Decimal("28.349523125")


@pytest.fixture
def hand() -> Hand:
    return tared()


def show_oz(hand: Hand, ounces: str, seconds: float = 2.0) -> None:
    for _ in range(round(seconds * 10)):
        hand.raw(b"%s oz\n" % ounces.encode())


def test_a_unit_changed_in_mid_batch_is_told_once_and_weights_go_on(hand: Hand) -> None:
    hand.pour("600")
    show_oz(hand, "28.656")
    notices = [one for one in hand.station.notices if one.code == "unit-changed"]
    assert [one.text for one in notices] == [f"{Unit.G} {Unit.OZ}"]
    assert hand.phase == "judged"
    net = Decimal(live(hand)["net_g"])
    assert abs(net - (Decimal("28.656") * OUNCE_G - Decimal("312.4"))) <= Decimal("0.05")
    assert len(live(hand)["net_g"]) <= len("500.0"), "no more digits than the scale has"
    hand.pour("600")
    assert [one.text for one in hand.station.notices] == [f"{Unit.OZ} {Unit.G}"]
    hand.pour("812.4")
    assert accepted(hand) == "500.0"


def test_an_amount_shown_in_coarse_ounces_is_known_no_better_than_that(hand: Hand) -> None:
    """A tenth of an ounce is 2.83 g: d / sqrt(12) of it is 0.818 g (JCGM 100:2008, F.2.2.1)."""
    hand.pour("800")
    for ounces in ("28.3", "28.5", "28.7"):
        show_oz(hand, ounces, 0.3)
    show_oz(hand, "28.7", 3.0)
    assert abs(Decimal(live(hand)["u_g"]) - Decimal("0.819")) < Decimal("0.002")
    hand.do("accept")
    accepted = body(hand, "addition accepted")
    assert {one["step_g"] for one in accepted["evidence"]["gross"]} == {"2.8349523125"}
    assert not any("step_g" in one for one in accepted["evidence"]["tare"])
    assert verified(hand) == 1


def without_steps(entry: Entry, tail: Tail) -> Entry:
    """The entry as somebody would have it who hides how coarse the display was."""
    forged = {**entry.body, "after": tail.hash}
    if entry.kind == "addition accepted":
        evidence = dict(forged["evidence"])
        kept = ("t", "raw", "grams")
        evidence["gross"] = [{key: row[key] for key in kept} for row in evidence["gross"]]
        forged["evidence"] = evidence
    return seal(entry.station, entry.kind, entry.at, forged, tail)


def test_evidence_that_hides_how_coarse_the_display_was_does_not_verify(hand: Hand) -> None:
    hand.pour("800")
    show_oz(hand, "28.7", 4.0)
    hand.do("accept", reason="it is what it is")
    verifier, tail = Verifier(whole=False, reread=lambda _spec: LineDecoder()), Tail()
    forged = []
    for one in hand.journal:
        forged.append(without_steps(one, tail))
        tail = Tail(forged[-1].seq, forged[-1].hash)
    for one in forged[:-1]:
        verifier.take(one)
    with pytest.raises(RecordError, match="other steps") as caught:
        verifier.take(forged[-1])
    assert caught.value.code == "evidence-differs"


def test_the_tare_key_on_a_scale_that_shows_ounces(hand: Hand) -> None:
    hand.pour("600")
    show_oz(hand, "21.16")
    show_oz(hand, "0.00")
    show_oz(hand, "7.50")
    moved = body(hand, "zero moved")
    assert moved["before_g"] == str(Decimal("21.16") * OUNCE_G)
    net = Decimal(moved["sum_g"]) + Decimal("7.50") * OUNCE_G
    assert abs(Decimal(live(hand)["net_g"]) - net) <= Decimal("0.05")
    verified(hand)
