"""Vessels whose mass is known, several vessels in a batch, and the room left on the scale."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.station.scripted import FORMULA, Hand, LineDecoder, formula
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.fold import fold
from weighd.domain.metrology import Rule
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.verify import Verifier
from weighd.domain.vessels import Vessel
from weighd.station.inputs import Command
from weighd.station.opening import plan
from weighd.station.outlook import warnings
from weighd.station.picture import Picture

STEEL = Vessel("steel bowl", Decimal("312.4"), Decimal("0.05"))
GLASS = Vessel("glass bowl", Decimal("1033.0"), Decimal("0.05"), Decimal("1.5"))


@pytest.fixture
def hand() -> Hand:
    """A batch is open: 500 g of milk, 120 g of sugar, 2 g of salt; nothing stands there yet."""
    hand = Hand(vessels=[STEEL, GLASS])
    hand.start()
    return hand


def refused(hand: Hand, do: str, **given: object) -> OperatorError:
    with pytest.raises(OperatorError) as caught:
        hand.do(do, **given)
    return caught.value


def live(hand: Hand) -> dict:  # type: ignore[type-arg]
    return Picture(hand.station).state()["live"]


def verified(journal: list[Entry]) -> int:
    verifier = Verifier(whole=True, reread=lambda _spec: LineDecoder())
    for entry in journal:
        verifier.take(entry)
    return verifier.finish().weighings


def tares(hand: Hand) -> list[dict]:  # type: ignore[type-arg]
    return [one.body for one in hand.journal if one.kind == "tared"]


def test_the_right_vessel_is_kept_with_its_mass(hand: Hand) -> None:
    hand.show("312.5")
    hand.do("tare", vessel="steel bowl")
    assert tares(hand)[0]["vessel"] == {
        "name": "steel bowl",
        "mass_g": "312.4",
        "u_g": "0.05",
        "allow_g": "0",
        "fits": True,
        "differs_g": "0.1",
        "limit_g": "0.129100",
    }
    hand.pour("812.4")
    hand.do("accept")
    assert verified(hand.journal) == 1
    assert hand.station.batch == fold(hand.journal)


def test_another_vessel_is_refused_with_both_masses_and_its_name(hand: Hand) -> None:
    hand.show("1033.9")
    told = refused(hand, "tare", vessel="steel bowl")
    assert told.code == "other-vessel"
    for part in ("1033.9 g", "312.4 g", "721.50 g more", "It weighs as much as glass bowl."):
        assert part in str(told), str(told)
    assert hand.kinds() == ["batch opened"]
    hand.do("tare", vessel="steel bowl", confirm=True)
    kept = tares(hand)[0]["vessel"]
    assert (kept["fits"], kept["differs_g"]) == (False, "721.5")
    assert hand.phase == "ready"


def test_what_the_record_says_of_a_vessel_must_follow(hand: Hand) -> None:
    hand.show("1033.9")
    hand.do("tare", vessel="steel bowl", confirm=True)
    opened, tared = hand.journal
    lie = {**tared.body, "vessel": {**tared.body["vessel"], "fits": True}}
    tampered = seal(tared.station, tared.kind, tared.at, lie, Tail(opened.seq, opened.hash))
    with pytest.raises(RecordError) as caught:
        verified([opened, tampered])
    assert caught.value.code == "does-not-follow"
    assert "vessel" in str(caught.value)


def test_the_one_chosen_for_the_batch_is_expected_at_first() -> None:
    hand = Hand(vessels=[STEEL, GLASS])
    hand.start(vessel="glass bowl")
    assert hand.journal[0].body["vessel"] == GLASS.as_json()
    hand.show("312.4")
    shown = live(hand)["vessel"]
    assert shown["standing"][0]["name"] == "steel bowl"
    assert (shown["chosen"], shown["differs"]["differs_g"]) == ("glass bowl", "-720.6")
    assert refused(hand, "tare").code == "other-vessel"
    hand.do("tare", vessel="steel bowl")
    assert live(hand)["vessel"]["tared"] == "steel bowl"


def test_it_is_suggested_by_its_mass_before_the_tare(hand: Hand) -> None:
    hand.show("1034.2")
    assert live(hand)["vessel"]["standing"] == [
        {"name": "glass bowl", "differs_g": "1.2", "limit_g": "1.629100"}
    ]
    hand.show("700.0")
    assert live(hand)["vessel"]["standing"] == []


def test_one_that_is_not_known_is_refused(hand: Hand) -> None:
    hand.show("312.4")
    told = refused(hand, "tare", vessel="copper pot")
    assert (told.code, "glass bowl, steel bowl" in str(told)) == ("unknown-vessel", True)
    other = Hand(vessels=[STEEL])
    with pytest.raises(OperatorError, match="copper pot"):
        other.start(vessel="copper pot")
    assert other.kinds() == []


def test_with_its_own_key_pressed_nothing_can_be_compared(hand: Hand) -> None:
    hand.show("0.0")
    assert refused(hand, "tare", vessel="steel bowl").code == "no-vessel"
    hand.do("tare", vessel="steel bowl", confirm=True)
    assert tares(hand)[0]["vessel"] == {**STEEL.as_json(), "fits": None}
    hand.pour("500.0")
    hand.do("accept")
    assert verified(hand.journal) == 1


def test_what_is_in_it_counts_when_it_is_tared_again(hand: Hand) -> None:
    hand.show("312.4")
    hand.do("tare", vessel="steel bowl")
    hand.pour("812.4")
    hand.do("accept")
    hand.lift("0.0")
    hand.lift("812.3")
    hand.do("tare", vessel="steel bowl")
    again = tares(hand)[1]["vessel"]
    assert (again["contents_g"], again["differs_g"], again["fits"]) == ("500.0", "-0.1", True)
    assert verified(hand.journal) == 1


@pytest.mark.parametrize("heavier", [False, True])
def test_a_second_vessel_between_additions(hand: Hand, heavier: bool) -> None:
    hand.show("312.4")
    hand.do("tare", vessel="steel bowl")
    hand.pour("812.4")
    hand.do("accept")
    hand.lift("0.0")
    hand.lift("1033.0" if heavier else "700.0")
    if heavier:
        assert hand.phase == "held"
        assert "tare another" in hand.station.can()
        assert refused(hand, "tare", vessel="glass bowl").code == "counts-as-added"
        hand.do("tare", vessel="glass bowl", confirm=True)
        assert tares(hand)[1]["not_added_g"] == "220.6"
    else:
        assert hand.station.can()[0] == "tare"
        hand.do("tare")
    hand.pour("1153.0" if heavier else "820.0")
    hand.do("accept")
    assert [one.body["net_g"] for one in hand.journal if "net_g" in one.body] == ["500.0", "120.0"]
    assert verified(hand.journal) == 2
    assert hand.station.batch == fold(hand.journal)


def test_no_second_vessel_in_mid_addition(hand: Hand) -> None:
    hand.show("312.4")
    hand.do("tare")
    hand.pour("612.4")
    hand.lift("0.0")
    assert "tare" not in hand.station.can()
    hand.lift("150.0")
    told = refused(hand, "tare", confirm=True)
    assert (told.code, "300.0 g of the Milk" in str(told)) == ("vessel-holds-some", True)
    hand.lift("0.0")
    hand.lift("612.4")
    hand.pour("812.4")
    assert hand.station.can()[0] == "accept"


def test_a_source_is_named_and_too_light_for_it_is_told() -> None:
    hand = Hand(vessels=[STEEL])
    hand.start(FORMULA, method="by difference")
    hand.show("200.0")
    assert refused(hand, "tare", vessel="steel bowl", confirm=False).code == "not-enough"
    hand.show("1400.0")
    hand.do("tare", vessel="steel bowl")
    kept = tares(hand)[0]["vessel"]
    assert (kept["fits"], kept["holds_g"]) == (True, "1087.6")
    assert verified(hand.journal) == 0


# --- weighing a vessel ----------------------------------------------------------------------------


def test_a_vessel_is_weighed_as_a_net_over_the_empty_pan() -> None:
    hand = Hand()
    hand.show("0.2")
    hand.lift("640.7")
    hand.do("keep vessel", vessel="copper pot", scale="bench", by="Ada", allow_g="1")
    kept = hand.station.shelf.found("copper pot")
    assert kept is not None
    assert kept.vessel == Vessel("copper pot", Decimal("640.5"), kept.vessel.u_g, Decimal(1))
    # two roundings, d / sqrt(12) each (GUM, JCGM 100:2008, F.2.2.1)
    assert float(kept.vessel.u_g) == pytest.approx(0.1 / 6**0.5, abs=2e-6)
    assert (kept.scale, kept.by, kept.at[:4]) == ("bench", "Ada", "2026")
    assert Picture(hand.station).state()["station"]["vessels"][0]["name"] == "copper pot"
    hand.do("forget vessel", vessel="copper pot")
    assert hand.station.shelf.all() == ()


def test_it_is_not_weighed_where_its_mass_cannot_be_seen() -> None:
    hand = Hand(vessels=[STEEL])
    keep = {"vessel": "copper pot", "scale": "bench"}
    assert refused(hand, "keep vessel", **keep).code == "scale-not-heard"
    hand.show("640.7")
    assert refused(hand, "keep vessel", **keep).code == "empty-not-seen"
    hand.lift("0.0")
    assert refused(hand, "keep vessel", **keep).code == "no-vessel"
    hand.lift("640.7", 0.2)
    assert refused(hand, "keep vessel", **keep).code in ("not-settled", "empty-not-seen")
    hand.show("640.7")
    hand.show("0.0", 1.5)  # its own key: the zero is no longer that of the empty pan
    hand.pour("50.0")
    assert hand.station.shelf.found("copper pot") is None
    for wrong in ({"vessel": ""}, {"mass_g": "-3"}, {"mass_g": "1e3"}, {"mass_g": "5", "u_g": "9"}):
        assert refused(hand, "keep vessel", **{**keep, **wrong}).code == "bad-vessel", wrong
    assert refused(hand, "keep vessel", vessel="x", scale="none").code == "unknown-scale"
    assert refused(hand, "keep vessel", vessel="steel bowl", mass_g="3").code == "vessel-configured"
    assert refused(hand, "forget vessel", vessel="steel bowl").code == "vessel-configured"
    assert refused(hand, "forget vessel", vessel="none").code == "unknown-vessel"


# --- room -----------------------------------------------------------------------------------------


def test_the_room_left_is_told_before_the_scale_overflows() -> None:
    hand = Hand(max_g="900")
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    hand.show("312.4")
    full = live(hand)["full"]
    assert full == {
        "addition": 2,
        "ends_g": "933.4",
        "most_g": "895.500",
        "max_g": "900",
        "beyond": True,
    }
    hand.pour("812.4")
    assert live(hand)["full"]["addition"] == 2
    hand.do("accept")
    hand.lift("0.0")
    hand.lift("150.0")
    hand.do("tare")
    hand.show("150.0")
    assert live(hand)["full"] is None


def test_it_counts_what_rests_on_the_pan_and_not_what_shows() -> None:
    hand = Hand(max_g="900")
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    hand.show("0.0", 1.5)  # its own key
    assert live(hand)["full"]["ends_g"] == "933.4"


def test_a_vessel_that_overflows_is_told_at_the_start_with_what_to_do() -> None:
    hand = Hand(max_g="900", vessels=[STEEL, GLASS])
    scale = hand.station.scales["bench"].as_scale()
    assert scale is not None
    additions = plan(formula(), scale)
    spoon = Vessel("small bowl", Decimal(120))
    (told,) = [
        one
        for one in warnings(additions, scale, Rule(), vessel=STEEL, vessels=[STEEL, GLASS, spoon])
        if one["code"] == "vessel-overflows"
    ]
    assert (told["addition"], told["ends_g"], told["other_vessel"]) == (2, "933.4", "small bowl")
    for part in ("312.4 g", "933.4 g", "weigh into small bowl", "second vessel before the Sugar"):
        assert part.lower() in told["text"].lower(), told["text"]
    assert not [
        one
        for one in warnings(additions, scale, Rule(), vessel=spoon)
        if one["code"] == "vessel-overflows"
    ]


def test_a_session_carries_them(hand: Hand) -> None:
    from weighd.station.session import Header, header_line, line, read

    header = Header({"bench": {"driver": "test"}}, vessels=hand.station.shelf.all())
    command = Command(1.0, "tare", vessel="steel bowl")
    again, inputs = read([header_line(header), line(command) or ""])
    assert again.vessels == header.vessels
    assert list(inputs) == [command]
    assert '"vessels"' not in header_line(Header({"bench": {"driver": "test"}}))
