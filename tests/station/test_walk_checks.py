"""The random walk with a scale that is checked, in the middle of batches and between them.

Beside the rules of the walk:
1. every check verifies from its evidence, and acceptances name the newest before them;
2. an addition sees nothing of what a check puts on the scale: no weight becomes an amount;
3. where the scale does not stand well and that bars, nothing is accepted.
"""

from __future__ import annotations

from decimal import Decimal

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import invariant, rule

from tests.domain.check_world import weight
from tests.dose import dose
from tests.station.scripted import Hand
from tests.station.test_walk import Walk
from weighd.domain.check import Plan
from weighd.domain.check_routine import Routine
from weighd.domain.check_standing import Duty, Then
from weighd.domain.errors import JournalError, OperatorError
from weighd.domain.record import Entry
from weighd.station.picture import Picture

FAR = weight(5000)
PLAN = Plan(masses=(FAR,), limit_g=Decimal("0.5"))


class CheckedWalk(Walk):
    """A check of one weight that holds for 36 seconds and bars what is not good."""

    def stands(self, journal: list[Entry], t: float) -> Hand:
        hand = Hand(
            journal,
            t=t,
            check=Routine(PLAN, Duty(Then.BARS, Decimal("0.01"))),
        )
        if not journal:
            hand.show("0.0")
            hand.do("start check", scale="bench", by="Ada")
            hand.show("0.0")
            hand.lift("5000.0")
            hand.lift("0.0")
        return hand

    @rule(shows=st.sampled_from(["5000.0", "5000.3", "5000.6", "5004.0", "4000.0"]))
    def checks(self, shows: str) -> None:
        """A whole check, as far as it is let; the vessel is off meanwhile."""
        self.hand.lift("0.0", 1.4)
        if not self.press("start check", by="Ada"):
            return
        self.hand.show("0.0", 1.4)
        self.hand.lift(shows, 1.4)
        if shows == "4000.0":
            self.press("it is right")
        self.hand.lift("0.0", 1.4)

    @rule(do=st.sampled_from(["start check", "it is right", "stop check"]))
    def presses_of_a_check(self, do: str) -> None:
        self.press(do, by="Bo")

    @rule()
    def leaves_the_weight_on(self) -> None:
        self.hand.lift("5000.0", 1.4)

    def press(self, do: str, **given: str) -> bool:
        try:
            self.hand.do(do, scale="bench", **given)
        except OperatorError as error:
            assert error.remedy, error
            return False
        except JournalError:
            assert self.hand.fail is not None
            return False
        return True

    @invariant()
    def what_is_barred_is_not_accepted(self) -> None:
        for entry in self.hand.journal:
            if entry.kind == "addition accepted":
                assert entry.body["check"]["standing"] == "good"

    @invariant()
    def a_check_holds_the_scale_or_does_not(self) -> None:
        check = Picture(self.hand.station).state()["scales"]["bench"]["check"]
        if check["running"]:
            assert not check["clearing"]
            assert not {"tare", "accept"} & set(self.refusable())

    def refusable(self) -> list[str]:
        """What an addition would take although its scale is a check's."""
        taken = []
        for do in ("tare", "accept"):
            try:
                self.hand.do(do, confirm=True, reason="because")
            except (OperatorError, JournalError):
                continue
            taken.append(do)
        return taken


CheckedWalk.TestCase.settings = settings(
    max_examples=dose(30, 80), stateful_step_count=30, deadline=None
)
TestCheckedWalk = CheckedWalk.TestCase
