"""Batches in which something goes wrong, and the ways to put them right: what the tests share.

The mix is our own (invented; fixtures/tables/frozen.json has its check values), in an order in
which the sucrose comes before much else.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from tests.station.scripted import Hand, LineDecoder
from weighd.domain.formula import Ingredient
from weighd.domain.recovery import Change, State, Trouble, state_of
from weighd.domain.recovery_ways import Barred
from weighd.domain.verify import Report, Verifier

_HOLDS = {
    "milk": "fat = 3.25, milk_fat = 3.25, msnf = 8.7075, water = 88.0425",
    "cream": "fat = 35, milk_fat = 35, msnf = 5.85, water = 59.15",
    "powder": "msnf = 97, water = 3",
    "sucrose": "sugars = { sucrose = 100 }",
    "dextrose": "sugars = { glucose = 100 }",
    "syrup": "sugars = { glucose-syrup-42de = 100 }",
    "stabiliser": "stabiliser = 100",
    "salt": "salt = 100",
    "water": "water = 100",
}
AMOUNTS = {
    "milk": ("1560", "1 %"),
    "cream": ("120", "1 g"),
    "powder": ("110", "1 g"),
    "sucrose": ("330", "2 g"),
    "dextrose": ("60", "1 g"),
    "syrup": ("110", "1 g"),
    "stabiliser": ("8", "0.3 g"),
    "salt": ("2", "0.3 g"),
    "water": ("100", "1 g"),
}
#: All but the sucrose are in when it goes wrong, as in the worked example.
SUCROSE_LAST = (*(name for name in AMOUNTS if name != "sucrose"), "sucrose")


def own_mix(order: tuple[str, ...] = tuple(AMOUNTS), kind: str = "") -> str:
    """The formula as TOML, its additions in this order."""
    out = ['name = "Own mix"', f'kind = "{kind}"' if kind else ""]
    for name in order:
        milk = '"milk"' if name in ("milk", "cream", "powder") else ""
        out += [
            f"[ingredients.{name}]",
            f'name = "{name.capitalize()}"',
            f"allergens = [{milk}]",
            f"composition = {{ {_HOLDS[name]} }}",
        ]
    for name in order:
        grams, tolerance = AMOUNTS[name]
        out += [
            "[[additions]]",
            f'ingredient = "{name}"',
            f'target = "{grams} g"',
            f'tolerance = "{tolerance}"',
        ]
    return "\n".join(out)


class Cook(Hand):
    """Somebody who weighs on one scale, and says what went wrong."""

    def begin(self, text: str, vessel: str = "400.0", **given: Any) -> None:
        self.start(text, **given)
        self.lift(vessel)
        self.do("tare")
        self.show(vessel, 0.5)

    @property
    def state(self) -> Any:
        assert self.station.batch is not None
        return self.station.batch

    @property
    def net_g(self) -> Decimal:
        claim = self.station.now.claim
        return claim.net_g if claim else Decimal(0)

    def weigh(self, *, more: str = "0", until: str = "") -> None:
        """Pour the current addition to its target and accept it; again and again ``until`` one."""
        while self.state.current is not None and self.state.current.ingredient != until:
            if self.station.now.claim is None:
                target = self.state.current.target_g.quantize(Decimal("0.1"))
                self.add(target + Decimal(more))
            self.do("accept")
            if not until:
                return

    def add(self, grams: Decimal | str) -> None:
        """Pour so much, and wait until it is judged."""
        self.pour(str(self.display + Decimal(grams)), settle=1.0)
        self.settle()

    def settle(self) -> None:
        """Wait for a verdict on what stands there."""
        for _ in range(20):
            if self.station.now.claim is not None:
                return
            self.show(self.display, 0.5)
        raise AssertionError(self.phase)

    def trouble(self, what: Trouble, was: Ingredient | None = None) -> State:
        """Where the batch stands with what is in now."""
        return state_of(self.state, what, self.net_g, was)

    def choose(self, change: Change | Barred, reason: str = "a test") -> None:
        assert isinstance(change, Change), change
        self.do("put right", change=change.as_json(), reason=reason)

    def finish(self) -> None:
        while self.state.current is not None:
            self.weigh()

    def verified(self) -> Report:
        verifier = Verifier(whole=True, reread=lambda _spec: LineDecoder())
        for entry in self.journal:
            verifier.take(entry)
        return verifier.finish()

    def nets(self) -> dict[str, Decimal]:
        """What went in, by ingredient, over all its weighings."""
        out: dict[str, Decimal] = {}
        for entry in self.journal:
            if entry.kind == "addition accepted":
                name = entry.body["ingredient"]
                out[name] = out.get(name, Decimal(0)) + Decimal(entry.body["net_g"])
        return out
