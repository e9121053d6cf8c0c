"""A small kitchen of true masses behind the displays, and a cook who follows the plan."""

from __future__ import annotations

import random
from collections.abc import Mapping
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

from tests.station.scripted import Hand
from weighd.domain.acts import Handle, before
from weighd.domain.plan_words import Role
from weighd.domain.verify import Verifier

ICE = """
name = "Test ice"
[ingredients]
milk = { name = "Milk" }
sugar = { name = "Sugar" }
salt = { name = "Salt" }
gum = { name = "Gum" }
[[additions]]
ingredient = "milk"
target = "900 g"
tolerance = "1.5 %"
[[additions]]
ingredient = "salt"
target = "2 g"
tolerance = "0.1 g"
[[additions]]
ingredient = "gum"
target = "3.4 g"
tolerance = "0.1 g"
[[additions]]
ingredient = "sugar"
target = "640 g"
tolerance = "9 g"
"""
SPLIT = ICE.replace('"900 g"', '"7400 g"')
PREMIX = """
name = "Test ice"
[ingredients]
sugar = { name = "Sugar" }
gum = { name = "Gum" }
milk = { name = "Milk" }
[[additions]]
ingredient = "sugar"
target = "300 g"
tolerance = "5 g"
[[additions]]
ingredient = "gum"
target = "1.2 g"
tolerance = "0.08 g"
carrier = "sugar"
[[additions]]
ingredient = "milk"
target = "900 g"
tolerance = "1.5 %"
"""
TWO = {"bench": ("1", "6000"), "fine": ("0.01", "500")}


class Kitchen:
    """True masses, and a cook who follows the plan; ``careless`` things can be done on the way."""

    def __init__(
        self, text: str, scales: Mapping[str, tuple[str, str]], seed: int = 0, **given: str
    ) -> None:
        self.scales = scales
        self.hand = self.new_hand()
        self.steps = {name: Decimal(d) for name, (d, _) in scales.items()}
        self.random = random.Random(seed)
        self.empty = {"bowl": Decimal("812.37"), "dish": Decimal("61.283")}
        #: What is in each vessel, by ingredient; and what went into the bowl all told.
        self.inside: dict[str, dict[str, Decimal]] = {"bowl": {}}
        self.standing: dict[str, str | None] = dict.fromkeys(scales)
        given.setdefault("bowl_g", "812")
        given.setdefault("dish_g", "61")
        given.setdefault("dish_holds_g", "450")
        self.hand.start(text, plan=True, **given)

    def new_hand(self, **given: Any) -> Hand:
        (_, (interval, most)), *more = self.scales.items()
        return Hand(interval=interval, max_g=most, more=dict(more), **given)

    @property
    def batch(self) -> Any:
        assert self.hand.station.batch is not None
        return self.hand.station.batch

    def mass(self, vessel: str) -> Decimal:
        empty = self.empty["bowl" if vessel == "bowl" else "dish"]
        return empty + sum(self.inside.setdefault(vessel, {}).values(), Decimal(0))

    def shown(self, scale: str) -> Decimal:
        vessel = self.standing[scale]
        true = self.mass(vessel) if vessel else Decimal(0)
        d = self.steps[scale]
        return (true / d).quantize(Decimal(1), ROUND_HALF_EVEN) * d

    def stand(self, scale: str, seconds: float = 2.5) -> None:
        self.hand.on = scale
        self.hand.lift(str(self.shown(scale)), seconds)

    def put(self, vessel: str, scale: str) -> None:
        for other, one in self.standing.items():
            if one == vessel:
                self.standing[other] = None
        self.standing[scale] = vessel
        self.stand(scale)

    def handle(self, n: int, *, tip: bool = True) -> None:
        """Do what the plan says before a weighing."""
        for act in before(self.batch.additions, n):
            match act.do:
                case Handle.SET:
                    self.put(act.vessel, act.scale)
                case Handle.CLEAR:
                    self.standing[act.scale] = None
                    self.stand(act.scale)
                case Handle.TIP:
                    self.standing[act.scale] = None
                    if tip:
                        self.tip(act.vessel)
                case Handle.STIR:
                    self.standing[act.scale] = None
        current = self.batch.current
        if current and self.batch.tare is None:
            self.stand(current.scale)

    def tip(self, vessel: str) -> None:
        for name, grams in self.inside.pop(vessel).items():
            self.inside["bowl"][name] = self.inside["bowl"].get(name, Decimal(0)) + grams

    def pour(self, grams: Decimal) -> None:
        """Pour so much of the current ingredient (or premix) into its vessel, truly."""
        current = self.batch.current
        vessel = self.standing[current.scale]
        assert vessel is not None
        into = self.inside.setdefault(vessel, {})
        if current.step and current.step.role is Role.FROM_PREMIX:
            premix = self.inside[f"premix {current.step.premix}"]
            whole = sum(premix.values(), Decimal(0))
            for name, part in list(premix.items()):
                into[name] = into.get(name, Decimal(0)) + grams * part / whole
                premix[name] -= grams * part / whole
        else:
            into[current.ingredient] = into.get(current.ingredient, Decimal(0)) + grams
        self.hand.on = current.scale
        self.hand.pour(
            str(self.shown(current.scale)), str(max(grams / 4, self.steps[current.scale]))
        )

    def weigh(self) -> None:
        """Tare if need be, pour near the target, accept."""
        if self.batch.tare is None:
            self.hand.do("tare")
        current = self.batch.current
        room = (current.high_g - current.low_g) / 2
        off = Decimal(str(self.random.uniform(-0.2, 0.2))) * room
        self.pour((current.low_g + room + off).quantize(Decimal("0.001")))
        assert self.hand.phase == "judged", (current, self.hand.station.now)
        self.hand.do("accept", addition=current.n)

    def follow(self) -> None:
        """The whole plan."""
        while self.batch.current is not None:
            self.handle(self.batch.current.n)
            self.weigh()
        self.handle(len(self.batch.additions) + 1)

    def verified(self) -> None:
        verifier = Verifier(whole=True)
        for entry in self.hand.journal:
            verifier.take(entry)
        verifier.finish()
