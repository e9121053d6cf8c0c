"""Weighing by difference: the source vessel stands on the scale, and what leaves it counts."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.station.scripted import Hand, LineDecoder
from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.fold import fold
from weighd.domain.formula_text import read_formula
from weighd.domain.verify import Verifier
from weighd.station.picture import Picture

FORMULA = """
name = "Churn filling"
[ingredients]
cream = { name = "Cream" }
sugar = { name = "Sugar" }
[[additions]]
ingredient = "cream"
target = "500 g"
tolerance = "1 %"
method = "by difference"
[[additions]]
ingredient = "sugar"
target = "120 g"
tolerance = "+1 / -2 g"
method = "by difference"
"""


def source_tared() -> Hand:
    """The cream's own vessel stands on the scale, tared at 1400 g: 500 g (495 to 505) to go."""
    hand = Hand()
    hand.start(FORMULA)
    hand.show("1400.0")
    hand.do("tare")
    return hand


@pytest.fixture
def hand() -> Hand:
    return source_tared()


def refused(hand: Hand, do: str, **given: object) -> OperatorError:
    before = list(hand.journal)
    with pytest.raises(OperatorError) as caught:
        hand.do(do, **given)
    if caught.value.code != "needs-reason":
        assert hand.journal == before
    return caught.value


def live(hand: Hand) -> dict[str, object]:
    shown = Picture(hand.station).state()["live"]
    assert isinstance(shown, dict)
    return shown


def verify(hand: Hand) -> int:
    verifier = Verifier(whole=True, reread=lambda _spec: LineDecoder())
    for entry in hand.journal:
        verifier.take(entry)
    assert fold(hand.journal) == hand.station.batch
    return verifier.finish().weighings


def nets(hand: Hand) -> list[str]:
    return [one.body["net_g"] for one in hand.journal if one.kind == "addition accepted"]


def test_a_batch_poured_from_lifted_vessels(hand: Hand) -> None:
    hand.lift("0.0")
    assert (hand.phase, hand.station.can()[0]) == ("awaiting vessel", "abandon")
    hand.lift("901.2")
    assert (hand.phase, live(hand)["net_g"]) == ("judged", "498.8")
    hand.do("accept")
    assert hand.phase == "awaiting vessel"
    assert live(hand)["tare_g"] is None
    hand.lift("0.0")
    hand.lift("640.0")
    hand.do("tare")
    hand.source("520.1")
    hand.do("accept")
    assert nets(hand) == ["498.8", "119.9"]
    assert hand.kinds()[-2:] == ["addition accepted", "batch closed"]
    assert verify(hand) == 2
    last = hand.journal[-2].body
    assert last["method"] == "by difference"
    assert Decimal(last["tare_g"]) - Decimal(last["gross_g"]) == Decimal(last["net_g"])
    assert hand.journal[0].body["additions"][0]["method"] == "by difference"


def test_a_vessel_that_is_pumped_out_of_while_it_stands(hand: Hand) -> None:
    hand.pour("1200.0", "10", settle=0)
    assert (hand.phase, live(hand)["net_g"]) == ("pouring", "200.0")
    hand.pour("900.0", "10")
    assert (hand.phase, live(hand)["verdict"]) == ("judged", "on target")
    hand.do("accept")
    assert nets(hand) == ["500.0"]
    assert verify(hand) == 1


def test_short_is_poured_on_by_spoon_or_by_hand(hand: Hand) -> None:
    hand.source("1000.0")
    assert (hand.phase, live(hand)["verdict"]) == ("judged", "short")
    hand.pour("940.0", "5")
    assert live(hand)["verdict"] == "short"
    hand.source("900.5")
    assert live(hand)["verdict"] == "on target"
    hand.do("accept")
    assert nets(hand) == ["499.5"]


def test_too_much_is_held_until_some_is_poured_back(hand: Hand) -> None:
    hand.source("880.0")
    assert (hand.phase, hand.journal[-1].body["sum_g"]) == ("held", "520.0")
    assert "take out" in hand.station.can()
    hand.do("take out")
    hand.source("899.0")
    assert (hand.phase, live(hand)["verdict"]) == ("judged", "on target")
    hand.do("accept")
    assert nets(hand) == ["501.0"]
    assert verify(hand) == 1


def test_the_uncertainty_is_that_of_two_readings(hand: Hand) -> None:
    hand.source("900.0")
    hand.do("accept")
    body = hand.journal[-1].body
    # d / sqrt(12) at each of two readings (GUM, JCGM 100:2008, F.2.2.1): 0.1 / sqrt(6)
    assert float(body["budget"]["rounding"]) == pytest.approx(0.1 / 6**0.5, abs=1.5e-6)


def test_each_source_needs_a_tare_of_its_own(hand: Hand) -> None:
    hand.source("900.0")
    hand.do("accept")
    hand.show("900.0")
    assert "tare" in hand.station.can()
    assert refused(hand, "tare").code == "same-vessel"
    hand.do("tare", confirm=True)
    assert hand.phase == "ready"


def test_the_next_part_of_the_same_ingredient_is_tared_without_a_question(hand: Hand) -> None:
    hand = Hand()
    hand.start(FORMULA.replace('ingredient = "sugar"', 'ingredient = "cream"'))
    hand.show("1400.0")
    hand.do("tare")
    hand.source("900.0")
    hand.do("accept")
    hand.show("900.0")
    hand.do("tare")
    assert hand.phase == "ready"


def test_a_vessel_changed_before_anything_was_poured_is_tared_anew(hand: Hand) -> None:
    hand.source("650.0")
    assert hand.phase == "held"
    assert "tare another" in hand.station.can()
    assert refused(hand, "tare").code == "counts-as-added"
    hand.do("tare", confirm=True)
    assert hand.journal[-1].body["not_added_g"] == "750.0"
    assert hand.phase == "ready"
    hand.source("150.0")
    hand.do("accept")
    assert nets(hand) == ["500.0"]
    assert verify(hand) == 1


def test_a_heavier_vessel_is_not_the_one_that_was_tared(hand: Hand) -> None:
    hand.source("1800.0")
    assert hand.phase == "awaiting vessel"
    assert live(hand)["verdict"] is None
    hand.do("tare")
    assert live(hand)["tare_g"] == "1800.0"


def test_with_some_taken_no_other_vessel_is_tared(hand: Hand) -> None:
    hand.source("1200.0")
    hand.lift("0.0")
    assert "tare" not in hand.station.can()
    hand.lift("1800.0")
    told = refused(hand, "tare", confirm=True)
    assert (told.code, "200.0 g of the Cream" in str(told)) == ("vessel-holds-some", True)


def test_nothing_is_no_vessel_to_pour_from() -> None:
    hand = Hand()
    hand.start(FORMULA)
    hand.show("0.3")
    assert "tare" not in hand.station.can()
    assert refused(hand, "tare", confirm=True).code == "no-vessel"


def test_too_little_in_it_is_told_at_the_tare() -> None:
    hand = Hand()
    hand.start(FORMULA)
    hand.show("320.0")
    assert refused(hand, "tare").code == "not-enough"
    hand.do("tare", confirm=True)
    assert hand.phase == "ready"


def test_a_zero_taken_with_a_bowl_on_cannot_show_an_empty_pan() -> None:
    hand = Hand()
    hand.start(FORMULA)
    hand.show("0.0")
    hand.lift("-312.4")
    hand.lift("1087.6")
    assert refused(hand, "tare", confirm=True).code == "zero-is-off"
    hand.lift("-312.4")
    hand.show("0.0")
    hand.lift("1400.0")
    hand.do("tare")
    assert hand.phase == "ready"


def test_its_own_key_in_the_middle_keeps_what_was_poured(hand: Hand) -> None:
    hand.pour("1150.0", "10")
    hand.show("0.0", 1.5)
    assert hand.kinds()[-1] == "zero moved"
    assert live(hand)["sum_g"] == "250.0"
    hand.pour("-250.0", "10")
    assert live(hand)["net_g"] == "500.0"
    hand.lift("-1150.0", 1.0)  # the empty pan, on the moved zero
    assert hand.phase == "awaiting vessel"
    hand.lift("-250.0")
    hand.do("accept")
    assert nets(hand) == ["500.0"]
    assert verify(hand) == 1


@pytest.mark.parametrize("lifted", [False, True])
def test_unplugged_in_the_middle(hand: Hand, lifted: bool) -> None:
    hand.source("1150.0")
    if lifted:
        hand.lift("0.0", 1.0)
    hand.lost()
    assert hand.phase == "held"
    assert hand.journal[-1].body["sum_g"] == "250.0"
    hand.found()
    if lifted:
        hand.show("0.0", 1.0)
        hand.lift("900.0")
    else:
        hand.show("1150.0")
        hand.source("900.0")
    assert (hand.phase, live(hand)["net_g"]) == ("judged", "500.0")
    hand.do("accept")
    assert nets(hand) == ["500.0"]
    assert verify(hand) == 1


@pytest.mark.parametrize("lifted", [False, True])
def test_restarted_in_the_middle(hand: Hand, lifted: bool) -> None:
    hand.source("1150.0")
    if lifted:
        hand.lift("0.0", 1.0)
    hand = Hand(hand.journal, t=hand.t)
    if lifted:
        hand.show("0.0", 2.0)
        assert hand.phase == "held"
        hand.lift("900.0")
    else:
        hand.show("1150.0")
        assert live(hand)["net_g"] == "250.0"
        hand.source("900.0")
    assert (hand.phase, live(hand)["net_g"]) == ("judged", "500.0")
    hand.do("accept")
    assert nets(hand) == ["500.0"]
    assert verify(hand) == 1


def test_a_scale_that_woke_at_zero_under_it_asks(hand: Hand) -> None:
    hand.source("1150.0")
    hand.tick(20.0)
    hand.show("0.0", 1.5)
    assert (hand.phase, hand.station.can()[0]) == ("held", "resume")
    hand.do("resume")
    hand.show("0.0")
    assert live(hand)["net_g"] == "250.0"
    hand.pour("-250.0", "10")
    hand.do("accept")
    assert nets(hand) == ["500.0"]
    assert verify(hand) == 1


def test_poured_out_while_held_at_zero_and_keyed_is_not_lost(hand: Hand) -> None:
    hand.source("1150.0")
    hand.tick(20.0)
    hand.show("0.0", 1.5)
    hand.pour("-100.0", "10", settle=1.5)
    hand.show("0.0", 1.5)
    hand.do("resume")
    hand.show("0.0")
    assert live(hand)["net_g"] == "350.0"


def test_a_bowl_is_tared_anew_after_a_source_stood_there() -> None:
    hand = Hand()
    mixed = FORMULA.replace(
        'tolerance = "+1 / -2 g"\nmethod = "by difference"', 'tolerance = "2 g"'
    )
    hand.start(mixed)
    hand.show("1400.0")
    hand.do("tare")
    hand.source("900.0")
    hand.do("accept")
    hand.show("900.0")
    assert refused(hand, "tare").code == "same-vessel"
    hand.lift("0.0")
    hand.lift("312.4")
    hand.do("tare")
    hand.pour("432.4")
    hand.do("accept")
    assert nets(hand) == ["500.0", "120.0"]
    assert hand.kinds()[-1] == "batch closed"


def test_the_whole_batch_is_weighed_so_where_the_bowl_cannot_be() -> None:
    hand = Hand()
    plain = FORMULA.replace('method = "by difference"\n', "")
    hand.start(plain, method="by difference")
    assert all(one.by_difference for one in hand.station.batch.additions)
    other = Hand()
    assert refused_start(other, plain, "upside down").code == "bad-method"


def refused_start(hand: Hand, text: str, method: str) -> OperatorError:
    with pytest.raises(OperatorError) as caught:
        hand.start(text, method=method)
    return caught.value


def test_a_method_that_is_none_is_told_with_its_line() -> None:
    with pytest.raises(FormulaError) as caught:
        read_formula(FORMULA.replace('"by difference"', '"by guess"', 1), "churn.toml")
    assert caught.value.code == "bad-method"
    assert "churn.toml, line 10" in str(caught.value)


def test_a_formula_without_it_has_the_revision_it_always_had() -> None:
    plain = FORMULA.replace('method = "by difference"\n', "")
    assert "method" not in read_formula(plain, "churn.toml").content()["additions"][0]
    assert (
        read_formula(plain, "churn.toml").revision != read_formula(FORMULA, "churn.toml").revision
    )
