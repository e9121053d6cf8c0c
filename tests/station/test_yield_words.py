"""What is drawn and told of a yield: every word of it, and ceilings of density."""

from __future__ import annotations

import json
from decimal import Decimal
from importlib.resources import files
from typing import Any

import pytest

from tests.domain.published import CHECKS
from tests.station.putting_right import own_mix
from tests.station.scripted import Hand
from tests.station.test_putting_right import Cook
from weighd.domain.against_plan import Prices
from weighd.domain.errors import OperatorError
from weighd.domain.limits import read_limits
from weighd.station.yield_picture import draw_yield
from weighd.station.yield_words import tell_yield

KINDS = read_limits((files("weighd.data") / "limits.toml").read_text("utf-8"), "limits.toml")


@pytest.fixture
def cook() -> Cook:
    """Our own mix, all in."""
    it = Cook()
    it.begin(own_mix(kind="ice-cream-us"))
    it.finish()
    return it


def drawn(hand: Hand, *draws: dict[str, Any], prices: Prices | None = None) -> dict[str, Any]:
    for one in draws:
        hand.do("record yield", batch="test-0001", draw=one)
    assert hand.station.batch is not None
    out = draw_yield(hand.station.batch, KINDS, prices)
    assert json.loads(json.dumps(out)) == out
    return out


def told(*given: Any, **more: Any) -> str:
    return "\n".join(tell_yield(drawn(*given, **more)))


def test_the_highest_overrun_of_its_class(cook: Cook) -> None:
    """frozen.json, overrun_ceiling: our own mix at 4.5 lb a gallon."""
    [one] = drawn(cook)["ceilings"]
    row = CHECKS["overrun_ceiling"]
    assert float(one["overrun_percent"]) == pytest.approx(
        row["expected"]["overrun_pct"][0], abs=row["tolerance"]["abs"]
    )
    assert "21 CFR 135.110" in one["source"]
    assert "overrun keeps it at 0.5392 kg/L" in told(cook, {"weight": "1 kg"})


def test_nothing_recorded_and_nothing_to_reckon_with() -> None:
    hand = Hand()
    hand.start()
    with pytest.raises(OperatorError, match="Nothing was weighed"):
        drawn(hand)
    hand.show("250")
    hand.do("tare")
    hand.pour("750")
    hand.do("accept")
    hand.pour("870")
    hand.do("accept")
    hand.pour("872")
    hand.do("accept")
    text = told(hand)
    assert "The density of the mix is not known" in text
    assert "Nothing is recorded of what came out of it." in text
    assert "No overrun: the density of the mix is not known." in told(
        hand, {"weight": "600 g", "volume": "1 L"}
    )
    assert "No cost: a record keeps no prices" in told(hand)


def test_a_cup_pieces_containers_and_a_sample_are_told(cook: Cook) -> None:
    text = told(
        cook,
        {
            "weight": "1000 g",
            "containers": 3,
            "fill": "400 mL",
            "pieces": "90 g",
            "pieces_density": "0.748",
            "cup_mix": "110.0 g",
            "cup_product": "85.0 g",
            "portions": 12,
        },
        {"left": "30 g", "sample_weight": "564.5 g", "sample_volume": "500.0 mL"},
    )
    assert "Draw 1: 1000 g, 1200 mL, 3 containers, 90 g of it pieces, 12 portions." in text
    assert "By the cup (110.0 g of mix, 85.0 g of product): 29.4 %." in text
    assert "Draw 2: 30 g left over, 564.5 g of mix fill 500.0 mL." in text
    assert "Mix without air: 1.1290 g/mL, measured." in text
    assert "left over: 30.00 g; lost (" in text
    assert "Portions: 12, 83.3 g or 100.0 mL each." in text


def test_what_cannot_be_is_said(cook: Cook) -> None:
    dense = told(cook, {"weight": "1300 g", "volume": "1000 mL"})
    assert "denser than its own mix" in dense
    odd = {"weight": "868 g", "volume": "1000 mL", "cup_mix": "110.0 g", "cup_product": "60.0 g"}
    assert "The two overruns do not agree" in told(cook, odd)
    assert "more came out than went in: something was entered wrong" in told(
        cook, {"weight": "2000 g"}
    )


def test_without_every_weight_no_loss_is_told(cook: Cook) -> None:
    text = told(cook, {"volume": "1 L"}, {"weight": "1 kg"})
    assert "loss not known: it needs the weight of every draw" in text
    assert "No overrun: no weight." in text


def test_a_price_that_is_missing_makes_the_cost_at_least(cook: Cook) -> None:
    prices = Prices({"milk": Decimal(1)}, "2026-11-20")
    one = {"weight": "2.4 kg", "volume": "2.7 L", "portions": 24, "pieces": "100 g"}
    text = told(cook, one, prices=prices)
    assert "Cost: all of it at least 1.560, a portion at least 0.065" in text
    assert "(prices as they stand since 2026-11-20). The pieces are not in it." in text
