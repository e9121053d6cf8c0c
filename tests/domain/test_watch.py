"""One addition watched on its own: what ``weighd settle`` says of it, line by line."""

from __future__ import annotations

import io
import json
from decimal import Decimal
from typing import Any

import pytest

from weighd.cli.settle import run
from weighd.domain.mass import Unit
from weighd.domain.reading import Reading
from weighd.domain.settling import Phase
from weighd.domain.watch import Watch, Watched


class Bench:
    """A display played to a watch, ten readings a second."""

    def __init__(self, interval: str = "0.1") -> None:
        self.d = Decimal(interval)
        self.watch = Watch(self.d)
        self.t = 0.0
        self.grams = Decimal(0)
        self.seen: list[Watched] = []

    def show(self, grams: str | Decimal) -> Watched:
        self.t = round(self.t + 0.1, 3)
        self.grams = Decimal(grams)
        self.seen.append(self.watch.feed(Reading(self.t, self.grams, Unit.G)))
        return self.seen[-1]

    def stand(self, seconds: float, grams: str | Decimal | None = None) -> Watched:
        for _ in range(round(seconds * 10)):
            last = self.show(self.grams if grams is None else grams)
        return last

    def to(self, grams: str, seconds: float) -> Watched:
        start, n = self.grams, round(seconds * 10)
        for k in range(1, n + 1):
            last = self.show((start + (Decimal(grams) - start) * k / n).quantize(self.d))
        return last

    def whys(self) -> set[str]:
        return {one.why for one in self.seen if one.why}


def amount(watched: Watched) -> Decimal | None:
    return watched.grams if watched.phase is Phase.SETTLED else None


def poured() -> Bench:
    """312.4 g of vessel and 120 g in it."""
    bench = Bench()
    assert bench.stand(2, "312.4").phase is Phase.EMPTY
    bench.to("432.4", 3)
    assert amount(bench.stand(2)) == Decimal("120.0")
    return bench


def test_a_pour_counts_from_what_stood_there() -> None:
    bench = poured()
    assert bench.seen[-1].sigma_g is not None
    # d/sqrt(12) for each of the two displays (GUM, JCGM 100:2008, F.2.2.1 and 5.1.2).
    assert abs(bench.seen[-1].sigma_g - Decimal("0.0408")) < Decimal("0.0005")
    assert bench.seen[-1].firm


def test_lifted_and_put_back_is_the_same_amount() -> None:
    bench = poured()
    bench.to("-0.1", 0.3)
    bench.stand(3)
    assert {one.why for one in bench.seen[-30:]} == {"lift"}
    bench.to("432.3", 0.3)
    assert amount(bench.stand(2)) == Decimal("119.9")


def test_lifted_before_it_settled_and_put_back() -> None:
    bench = Bench()
    bench.stand(2, "312.4")
    bench.to("432.4", 3)
    bench.to("0.0", 0.3)
    bench.stand(2)
    bench.to("432.4", 0.3)
    assert amount(bench.stand(2)) == Decimal("120.0")


def test_another_vessel_is_told_and_no_amount_is() -> None:
    bench = poured()
    bench.to("0.0", 0.3)
    bench.stand(1)
    bench.to("500.0", 0.3)
    last = bench.stand(5)
    assert (last.phase, last.why) == (Phase.DISTURBED, "vessel")
    bench.to("0.0", 0.3)
    bench.stand(1)
    bench.to("432.4", 0.3)
    assert amount(bench.stand(2)) == Decimal("120.0")


def test_put_back_and_poured_into_at_once() -> None:
    bench = poured()
    bench.to("0.0", 0.3)
    bench.stand(1)
    bench.to("432.4", 0.3)
    bench.stand(0.2)
    bench.to("482.4", 3)
    assert amount(bench.stand(2)) == Decimal("170.0")


def test_the_tare_key_keeps_the_sum_so_far() -> None:
    bench = poured()
    assert bench.show("0.0").why == "tare key"
    assert amount(bench.stand(2)) == Decimal("120.0")
    bench.to("30.0", 2)
    assert amount(bench.stand(2)) == Decimal("150.0")


def test_a_sleep_keeps_the_sum_so_far_and_is_told() -> None:
    bench = poured()
    bench.t += 30
    bench.stand(0.8, "0.0")
    assert bench.seen[-1].why == "asleep"
    bench.stand(2)
    bench.to("30.0", 2)
    assert amount(bench.stand(2)) == Decimal("150.0")


def test_some_taken_out_is_less_and_no_lift() -> None:
    bench = poured()
    bench.to("444.0", 0.2)
    bench.to("420.4", 0.3)
    assert amount(bench.stand(3)) == Decimal("108.0")


def test_a_reset_begins_with_what_stands_there() -> None:
    bench = poured()
    bench.watch.reset(bench.d)
    assert bench.stand(1).phase is Phase.EMPTY
    bench.to("442.4", 1)
    assert amount(bench.stand(2)) == Decimal("10.0")


def started(*way: tuple[str, float]) -> Watched:
    """What stands at the end of a way of grams and seconds, with nothing at rest before it."""
    bench = Bench()
    bench.show(way[0][0])
    for grams, seconds in way[1:]:
        bench.to(grams, seconds)
    return bench.stand(3)


def test_where_nothing_was_at_rest_a_slow_pour_counts_from_before_it() -> None:
    assert amount(started(("312.4", 0), ("322.4", 15))) == Decimal("10.0")
    assert amount(started(("312.4", 0), ("362.4", 15))) == Decimal("50.0")


def test_where_nothing_was_at_rest_the_start_is_the_end_of_a_sinking() -> None:
    assert started(("313.8", 0), ("312.4", 4)).phase is Phase.EMPTY
    assert amount(started(("313.8", 0), ("312.4", 4), ("362.4", 3))) == Decimal("50.0")


def trembling(stride: int, *grams: str) -> Bench:
    """A display that jumps about by five intervals, around each of these for some seconds."""
    bench = Bench()
    for one in grams:
        for k in range(80):
            bench.show(Decimal(one) + bench.d * (k * stride % 5))
    return bench


def test_of_an_unsteady_display_the_start_follows_what_is_within_its_spread() -> None:
    crept = trembling(3, "312.4", "312.6", "362.6")
    assert {amount(one) for one in crept.seen[:160]} == {None}
    assert amount(crept.seen[-1]) == Decimal("50.0")
    put_in = trembling(7, "312.4", "313.0", "363.0")
    assert amount(put_in.seen[159]) == Decimal("0.6")
    assert amount(put_in.seen[-1]) == Decimal("50.6")


def test_a_reset_keeps_what_was_learned_unless_told_to_forget() -> None:
    bench = Bench()
    for k in range(60):
        bench.show(Decimal("500.0") + bench.d * (k * 7 % 5))
    learned = bench.watch.learned()
    assert learned.spread_d > 2
    bench.watch.reset(bench.d)
    assert bench.watch.learned() == learned
    bench.watch.reset(bench.d, forget=True)
    assert bench.watch.learned().looks == 0


# --- the command ------------------------------------------------------------------------------


def said(*rows: Any) -> tuple[bool, list[dict[str, Any]]]:
    lines = io.StringIO(
        "".join(f"{one if isinstance(one, str) else json.dumps(one)}\n" for one in rows)
    )
    out = io.StringIO()
    fine = run(lines, out)
    return fine, [json.loads(line) for line in out.getvalue().splitlines()]


def test_one_line_for_each_reading_and_none_for_a_reset() -> None:
    rows: list[Any] = [{"reset": True, "interval_g": "0.1", "tolerance_g": "1.0"}]
    rows += [{"t": k / 10, "grams": "0.0", "stable": None, "over": False} for k in range(20)]
    rows += [{"t": 2 + k / 10, "grams": k * 3, "stable": False, "over": False} for k in range(20)]
    rows += [{"t": 4 + k / 10, "grams": "57.0", "stable": True, "over": False} for k in range(20)]
    rows += [{"t": 6, "grams": None, "stable": None, "over": True}]
    fine, answers = said(*rows)
    assert fine
    assert len(answers) == len(rows) - 1
    assert all(list(one) == ["t", "phase", "grams", "sigma_g", "why"] for one in answers)
    assert answers[19]["phase"] == "empty"
    assert answers[30]["phase"] == "pouring"
    assert (answers[59]["phase"], answers[59]["grams"]) == ("settled", "57.0")
    assert (answers[60]["phase"], answers[60]["why"]) == ("disturbed", "overload")
    for one in answers:
        assert (one["grams"] is None) == (one["phase"] != "settled") == (one["sigma_g"] is None)
        assert bool(one["why"]) == (one["phase"] == "disturbed")


def test_a_load_that_wastes_away_is_told_beside_its_amount() -> None:
    shown = [f"{100 - k // 30 / 10}" for k in range(300)]  # dry ice, say: 0.1 g every 3 seconds
    rows = [{"t": k / 10, "grams": "0.0"} for k in range(20)]
    rows += [{"t": 2 + k / 10, "grams": one} for k, one in enumerate(shown)]
    _, answers = said({"reset": True, "interval_g": "0.1"}, *rows)
    assert {one["phase"] for one in answers[60:]} == {"settled"}
    assert all("drift_g_min" not in one for one in answers[:60])
    assert float(answers[-1]["drift_g_min"]) == pytest.approx(-2, rel=0.2)


def test_numbers_may_come_as_json_numbers_small_ones_too() -> None:
    fine, answers = said(
        {"t": 0, "grams": 0.00001}, {"t": 0.1, "grams": 5}, {"t": 0.2, "grams": "5"}
    )
    assert fine
    assert len(answers) == 3


def test_what_cannot_be_read_is_answered_and_told() -> None:
    fine, answers = said("nonsense", {"t": 0.0}, {"grams": "1"}, '{"t": NaN, "grams": "1"}', "[]")
    assert not fine
    assert [one["why"] for one in answers] == ["unreadable", "fault", *["unreadable"] * 3]
