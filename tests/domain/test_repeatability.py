"""Repeatability from a weight put on and taken off, against the standard library's deviation."""

from __future__ import annotations

import random
import statistics
from dataclasses import replace
from decimal import Decimal

import pytest

from tests.domain.display import D, Display
from weighd.domain.repeatability import Repeats, of


def weigh(nets: list[str], start: str = "0.0") -> Repeats:
    """A display on which loads come and go, three seconds each, seen by the detector."""
    play, repeats = Display(), Repeats(D)
    base = Decimal(start)
    play.stand(3, start)
    for net in nets:
        play.follow(float(base + Decimal(net)), 0.15, 1.5)
        play.stand(3, str(base + Decimal(net)))
        play.follow(float(base), 0.15, 1.5)
        play.stand(3, str(base))
    for one in play.findings:
        repeats.take(one)
    return repeats


NETS = ["500.1", "500.0", "500.2", "499.9", "500.1", "500.1", "500.0", "500.3", "500.1", "500.0"]


@pytest.mark.parametrize("start", ["0.0", "211.4"])
def test_every_weighing_is_found_and_their_standard_deviation(start: str) -> None:
    found = weigh(NETS, start).finish()
    assert found.nets == tuple(Decimal(one) for one in NETS)
    assert found.others == ()
    assert found.s_g is not None
    assert float(found.s_g) == pytest.approx(statistics.stdev(map(float, NETS)))
    assert found.mean_g is not None
    assert float(found.mean_g) == pytest.approx(500.08)
    assert found.stated_g() == Decimal("0.12")  # s = 0.1135, never rounded down


def test_a_zero_that_wanders_is_taken_out() -> None:
    play, repeats = Display(), Repeats(D)
    zero = Decimal(0)
    play.stand(3, "0.0")
    for _ in range(4):
        play.follow(float(zero + 200), 0.15, 1.5)
        play.stand(3, str(zero + 200))
        zero += Decimal("0.2")
        play.follow(float(zero), 0.15, 1.5)
        play.stand(3, str(zero))
    done = [net for one in play.findings if (net := repeats.take(one)) is not None]
    assert done == [Decimal(200)] * 4  # each against the zero before it
    assert repeats.finish().s_g == 0


def test_a_weight_that_was_on_at_the_start_is_no_weighing() -> None:
    play, repeats = Display(), Repeats(D)
    for grams in ("500.0", "0.0", "500.1", "0.0", "500.2"):
        play.follow(float(grams), 0.15, 1.5)
        play.stand(3, grams)
    for one in play.findings:
        repeats.take(one)
    assert repeats.finish().nets == (Decimal("500.1"), Decimal("500.2"))


def test_another_load_is_left_out() -> None:
    found = of([Decimal(one) for one in ("500.1", "250.0", "500.0", "612.5", "500.2")], D)
    assert found.nets == (Decimal("500.1"), Decimal("500.0"), Decimal("500.2"))
    assert found.others == (Decimal("250.0"), Decimal("612.5"))


def test_too_few_show_nothing() -> None:
    for nets in ([], ["10.0"]):
        found = of([Decimal(one) for one in nets], D)
        assert found.s_g is None
        assert found.stated_g() is None


def test_what_is_stated_is_never_less_than_what_was_found() -> None:
    chance = random.Random(3)
    for _ in range(200):
        found = of([Decimal(round(chance.gauss(5000, 3))) / 10 for _ in range(10)], D)
        told = found.stated_g()
        assert told is not None
        assert found.s_g is not None
        assert found.s_g <= told < found.s_g * Decimal("1.1") + Decimal("1e-9")


def test_a_level_that_is_not_firm_yet_is_none() -> None:
    play, repeats = Display(), Repeats(D)
    play.stand(3, "0.0")
    firm = [one for one in play.findings if one.level is not None and one.firm]
    early = [replace(one, firm=False) for one in firm]
    assert firm
    for one in (*early, *early):
        assert repeats.take(one) is None
    assert repeats.take(replace(firm[-1], level=None)) is None
    again = Repeats(D)
    weight = replace(firm[-1], level=replace(firm[-1].level, grams=Decimal(100)))  # type: ignore[type-var]
    for one in (firm[-1], replace(weight, firm=False), firm[-1]):
        assert again.take(one) is None
    assert again.finish().nets == ()
    for one, net in ((weight, None), (firm[-1], Decimal(100))):
        assert again.take(one) == net
