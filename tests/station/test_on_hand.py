"""Stock by the book of lots: what may be reckoned with when a pour went wrong."""

from __future__ import annotations

from decimal import Decimal

from tests.station.scripted import Hand
from tests.station.test_lots import begin, receive
from weighd.station.on_hand import OnHand, on_hand

DAY = "2026-11-25"


def there(hand: Hand, poured: str = "0", **more: bool) -> dict[str, OnHand]:
    assert hand.station.batch is not None
    return on_hand(hand.station.stock.book, hand.station.batch, DAY, Decimal(poured), **more)


def test_only_lots_that_may_be_used_today_count() -> None:
    hand = Hand()
    good = receive(hand, quantity="400")
    receive(hand, quantity="500", use_by="2026-11-24")
    receive(hand, quantity="600", best_before="2026-11-24")
    last = receive(hand, quantity="700", use_by="2026-11-25")
    blocked = receive(hand, quantity="800")
    hand.do("block lot", lot=blocked, by="Ada", reason="recalled")
    receive(hand, "sugar", "5000")
    begin(hand)
    found = there(hand)
    assert found["milk"] == OnHand(Decimal(1100), (last, good))
    assert found["sugar"].grams == 5000
    assert "salt" not in found  # none was ever booked in: nothing is known of it
    # What is poured is in the bowl and not yet in the books.
    assert there(hand, "500.5")["milk"].grams == Decimal("599.5")
    assert there(hand, "5000")["milk"].grams == 0
    assert there(hand, "500.5")["sugar"].grams == 5000


def test_what_ran_out_is_not_there_whatever_the_books_say() -> None:
    hand = Hand()
    first, second = receive(hand, quantity="400"), receive(hand, quantity="900")
    begin(hand)
    # Nobody said which lot was poured from: the books cannot tell what else there is.
    assert "milk" not in there(hand, "200", ran_out=True)
    hand.do("name lot", lot=first)
    assert there(hand, "200", ran_out=True)["milk"] == OnHand(Decimal(900), (second,))


def test_what_was_weighed_is_gone() -> None:
    hand = Hand()
    lot = receive(hand, quantity="900")
    begin(hand)
    hand.do("name lot", lot=lot)
    hand.pour("812.4")
    hand.do("accept")
    assert there(hand)["milk"].grams == 400
