"""Planned batches with mishaps: whatever happens, the record says what went in."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.station.planned_kitchen import ICE, PREMIX, SPLIT, TWO, Kitchen
from weighd.domain.batch import Kind


class Clumsy(Kitchen):
    """A cook whom things happen to, between the steps of the plan and in the middle of them."""

    def restart(self) -> None:
        """The station stops and starts on its journal; the scales show what stands on them."""
        old = self.hand
        self.hand = self.new_hand(journal=old.journal, t=old.t + 5)
        self.hand.displays = {name: self.shown(name) for name in self.standing}
        for name in self.standing:
            self.hand.on = name
            self.hand.show(self.shown(name), 2.5)

    def unplug(self) -> None:
        """The cable of the scale in use, pulled and put back."""
        self.hand.on = self.batch.current.scale
        self.hand.lost()
        self.hand.tick(1.5)
        self.hand.found()
        self.hand.show(self.shown(self.hand.on), 3.0)

    def lift(self) -> None:
        """The vessel taken off and set back."""
        name = self.batch.current.scale
        vessel, self.standing[name] = self.standing[name], None
        self.stand(name, 1.5)
        self.standing[name] = vessel
        self.stand(name)

    def other_scale(self) -> None:
        """Something set on a scale that is not in use."""
        others = [one for one in self.standing if one != self.batch.current.scale]
        if others:
            self.hand.on = others[0]
            self.hand.lift(str(self.shown(others[0]) + 30), 1.0)
            self.hand.lift(str(self.shown(others[0])), 1.0)

    def mishap(self) -> None:
        what = self.random.choice(
            [self.restart, self.unplug, self.lift, self.other_scale, lambda: None]
        )
        what()

    def weigh(self) -> None:
        self.mishap()
        if self.batch.tare is None:
            self.hand.do("tare")
        self.mishap()
        current = self.batch.current
        middle = (current.low_g + current.high_g) / 2
        first = middle * Decimal(str(self.random.choice(["0.4", "1.0", "1.3"])))
        self.pour(first.quantize(Decimal("0.001")))
        if self.shown(current.scale) > Decimal(self.scales[current.scale][1]):
            assert self.hand.phase == "pouring", "nothing is judged above Max"
        elif first > current.high_g:
            assert self.hand.phase == "held"
            self.hand.do("take out")
        elif first < middle:
            self.mishap()
        if first != middle:
            self.pour((middle - first).quantize(Decimal("0.001")))
        self.mishap()
        assert "accept" in self.hand.station.can(), (current, self.hand.station.now)
        self.hand.do("accept", addition=current.n)
        self.mishap_between()

    def mishap_between(self) -> None:
        if self.batch.current is not None and self.random.random() < 0.3:
            self.restart()


@pytest.mark.parametrize("seed", range(24))
def test_whatever_happens_the_record_says_what_went_in(seed: int) -> None:
    text, scales = [
        (ICE, TWO),
        (SPLIT, TWO),
        (PREMIX, {"bench": ("0.1", "3000")}),
        (PREMIX, {"bench": ("1", "6000"), "fine": ("0.1", "1000")}),
    ][seed % 4]
    kitchen = Clumsy(text, scales, seed, dish_holds_g="3000" if text is SPLIT else "450")
    kitchen.follow()
    kitchen.verified()
    assert kitchen.hand.kinds()[-1] == Kind.CLOSED
    sums = {one["ingredient"]: one for one in kitchen.hand.journal[-1].body.get("as_weighed", ())}
    for entry in kitchen.hand.journal:
        if entry.kind == Kind.ACCEPTED and not sums:
            sums[entry.body["ingredient"]] = entry.body
    for name, true in kitchen.inside["bowl"].items():
        if name in sums:
            net, u = Decimal(sums[name]["net_g"]), Decimal(sums[name]["u_g"])
            assert abs(net - true) <= 3 * u, (name, net, true, u)
