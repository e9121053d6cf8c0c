"""Batches weighed by a plan: several scales and vessels, splits and premixes, followed to the end.

A small kitchen of true masses stands behind the displays: what is poured, tipped and stirred is
known, so what the record says went in can be held to what did.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

import pytest

from tests.station.scripted import Hand, formula
from weighd.domain.acts import Handle, acts, before
from weighd.domain.batch import Kind
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.fold import fold
from weighd.domain.plan_words import Into, Role
from weighd.domain.verify import Verifier
from weighd.station.picture import draw_batch

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


def test_small_amounts_are_weighed_on_the_fine_scale_and_tipped_in() -> None:
    kitchen = Kitchen(ICE, TWO)
    kitchen.follow()
    kinds = kitchen.hand.kinds()
    # The bowl, the dish once for both, and the bowl again after the dish was tipped in.
    assert kinds.count(Kind.TARED) == 3
    assert kinds[-1] == Kind.CLOSED
    kitchen.verified()
    scales = [one.body["scale"] for one in kitchen.hand.journal if one.kind == Kind.ACCEPTED]
    assert scales == ["bench", "fine", "fine", "bench"]
    for one in kitchen.hand.journal:
        if one.kind == Kind.ACCEPTED:
            true = kitchen.inside["bowl"][one.body["ingredient"]]
            assert abs(Decimal(one.body["net_g"]) - true) <= 3 * Decimal(one.body["u_g"])


def test_a_dish_that_was_not_tipped_in_is_noticed() -> None:
    kitchen = Kitchen(ICE, TWO)
    for _ in range(3):
        kitchen.handle(kitchen.batch.current.n)
        kitchen.weigh()
    kitchen.handle(4, tip=False)
    with pytest.raises(OperatorError, match="5 g lighter than it should be") as caught:
        kitchen.hand.do("tare")
    assert caught.value.code == "not-all-in"
    assert "Salt and Gum" in caught.value.message
    kitchen.tip("dish 1")
    kitchen.stand("bench")
    kitchen.hand.do("tare")
    entry = kitchen.hand.journal[-1]
    assert entry.kind == Kind.TARED
    assert "expected_confirmed" not in entry.body
    kitchen.weigh()
    kitchen.verified()


def test_going_on_all_the_same_is_in_the_record() -> None:
    kitchen = Kitchen(ICE, TWO)
    for _ in range(3):
        kitchen.handle(kitchen.batch.current.n)
        kitchen.weigh()
    kitchen.handle(4, tip=False)
    kitchen.hand.do("tare", confirm=True)
    assert kitchen.hand.journal[-1].body["expected_confirmed"] is True
    kitchen.verified()


def test_another_bowl_is_noticed() -> None:
    kitchen = Kitchen(ICE, TWO)
    for _ in range(3):
        kitchen.handle(kitchen.batch.current.n)
        kitchen.weigh()
    kitchen.handle(4)
    kitchen.empty["bowl"] += 90
    kitchen.stand("bench")
    with pytest.raises(OperatorError, match=r"9[01] g heavier"):
        kitchen.hand.do("tare")


def test_an_amount_in_parts_is_judged_as_a_whole() -> None:
    kitchen = Kitchen(SPLIT, {"bench": ("1", "6000"), "fine": ("0.01", "500")}, dish_holds_g="3000")
    parts = [one for one in kitchen.batch.additions if one.step.role is Role.PART]
    assert len(parts) == 2
    kitchen.handle(1)
    kitchen.weigh()
    first = kitchen.batch.accepted[0]
    rest = kitchen.batch.current
    assert rest.target_g == 7400 - first.net_g
    assert rest.high_g - rest.low_g == 222
    kitchen.follow()
    kitchen.verified()
    last = next(one for one in kitchen.hand.journal if one.body.get("addition") == 2)
    accepted = [one for one in kitchen.hand.journal if one.kind == Kind.ACCEPTED]
    assert Decimal(accepted[1].body["carried_u_g"]) > 0
    assert last is not None
    closed = kitchen.hand.journal[-1].body
    milk = next(one for one in closed["as_weighed"] if one["ingredient"] == "milk")
    assert abs(Decimal(milk["net_g"]) - kitchen.inside["bowl"]["milk"]) <= 3 * Decimal(milk["u_g"])
    assert Decimal(milk["target_g"]) == 7400


def test_a_part_may_not_be_the_whole() -> None:
    text = ICE.replace('"900 g"', '"1090 g"')
    kitchen = Kitchen(text, {"bench": ("1", "2000"), "fine": ("0.01", "500")}, bowl_g="1100")
    kitchen.handle(1)
    kitchen.hand.do("tare")
    current = kitchen.batch.current
    assert (current.step.parts, current.step.whole_g) == (2, 1090)
    kitchen.pour(Decimal(1095))
    with pytest.raises(OperatorError) as caught:
        kitchen.hand.do("accept", addition=1, reason="in a hurry")
    assert caught.value.code == "more-than-the-whole"
    kitchen.hand.do("take out")
    kitchen.pour(Decimal(-250))
    kitchen.hand.do("accept", addition=1)


@pytest.mark.parametrize("seed", range(4))
def test_a_premix_brings_what_the_record_says(seed: int) -> None:
    kitchen = Kitchen(PREMIX, {"bench": ("0.1", "3000")}, seed)
    roles = [one.step.role for one in kitchen.batch.additions]
    assert roles == [Role.PREMIX, Role.CARRIER, Role.REST, Role.FROM_PREMIX, Role.WHOLE]
    kitchen.follow()
    kitchen.verified()
    sums = {one["ingredient"]: one for one in kitchen.hand.journal[-1].body["as_weighed"]}
    for name, true in kitchen.inside["bowl"].items():
        net, u = Decimal(sums[name]["net_g"]), Decimal(sums[name]["u_g"])
        assert abs(net - true) <= 3 * u, name
    gum = kitchen.inside["bowl"]["gum"]
    assert abs(gum - Decimal("1.2")) <= Decimal("0.08")
    # On that scale alone it could not have been told: one interval is more than the tolerance.
    assert Decimal(sums["gum"]["u_g"]) < Decimal("0.041")


def test_what_is_left_to_weigh_survives_a_restart() -> None:
    kitchen = Kitchen(PREMIX, {"bench": ("0.1", "3000")})
    for _ in range(3):
        kitchen.handle(kitchen.batch.current.n)
        kitchen.weigh()
    folded = fold(kitchen.hand.journal)
    assert folded == kitchen.batch
    assert folded is not None
    assert folded.current is not None
    assert folded.current.step is not None
    assert folded.current.target_g != kitchen.hand.journal[0].body["additions"][3]["target_g"]


def test_sums_that_do_not_follow_do_not_verify() -> None:
    kitchen = Kitchen(PREMIX, {"bench": ("0.1", "3000")})
    kitchen.follow()
    from weighd.domain.record import Tail, seal

    closed = kitchen.hand.journal[-1]
    sums = [dict(one) for one in closed.body["as_weighed"]]
    sums[0]["net_g"] = "300.0"
    before_it = kitchen.hand.journal[-2]
    forged = seal(
        closed.station,
        closed.kind,
        closed.at,
        {**closed.body, "as_weighed": sums},
        Tail(before_it.seq, before_it.hash),
    )
    kitchen.hand.journal[-1] = forged
    with pytest.raises(RecordError, match="as_weighed"):
        kitchen.verified()


def test_a_plan_on_one_scale_makes_the_same_record_as_without() -> None:
    text = ICE.replace('"0.1 g"', '"1.9 g"')
    one, other = Hand(interval="0.1"), Hand(interval="0.1")
    one.start(text)
    other.start(text, plan=True)
    assert one.journal[0].body["additions"] == other.journal[0].body["additions"]
    assert other.journal[0].body["plan"]["moves"] == 1


def test_a_start_with_a_vessel_that_is_no_mass_is_refused() -> None:
    with pytest.raises(OperatorError) as caught:
        Hand().start(ICE, plan=True, bowl_g="heavy")
    assert caught.value.code == "bad-vessel"


def test_moves_are_what_is_counted() -> None:
    for text, scales in ((ICE, TWO), (SPLIT, TWO), (PREMIX, {"bench": ("0.1", "3000")})):
        kitchen = Kitchen(text, scales)
        counted = sum(one.moves for one in acts(kitchen.batch.additions))
        assert counted == kitchen.hand.journal[0].body["plan"]["moves"]


def test_the_page_is_told_of_it() -> None:
    kitchen = Kitchen(ICE, TWO)
    drawn = draw_batch(kitchen.batch)
    second = drawn["additions"][1]
    assert (second["scale"], second["step"]["into"]) == ("fine", Into.DISH)
    assert formula(ICE).additions[1].ingredient.id == "salt"


# --- with mishaps --------------------------------------------------------------------------------


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
