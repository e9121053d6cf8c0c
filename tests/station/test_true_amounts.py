"""What is accepted is what was really added, whatever happens between: a world with true masses.

A random walk of hands, plugs, keys and stops over a vessel whose contents are known. The cook
tells the truth: says that nothing was added only when nothing was, and zeroes the empty scale
otherwise. Then an accepted amount is the true one, to what two (and, for each moved zero, two more)
roundings of half an interval allow; or nothing is accepted. What no display can show is left out:
a zero set where less than ten intervals stood before.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from tests.dose import dose
from tests.station.scripted import Hand, LineDecoder
from weighd.domain.errors import OperatorError
from weighd.domain.recovery import Change, Trouble, state_of
from weighd.domain.recovery_ways import enlarged
from weighd.domain.verify import Verifier

INTO = """
name = "True amounts"
[ingredients]
cream = { name = "Cream" }
[[additions]]
ingredient = "cream"
target = "300 g"
tolerance = "2 g"
"""
OUT_OF = INTO + 'method = "by difference"\n'
#: Half an interval of a display in steps of 0.1 g: each of two readings is off by no more, and each
#: of the two more that every moved zero takes; and a little, since the levels are medians.
HALF_G = Decimal("0.05")


class World(RuleBasedStateMachine):
    """One vessel: it is poured into on the scale, or out of, standing there or in the hand."""

    hand: Hand

    @initialize(by_difference=st.booleans())
    def begin(self, by_difference: bool) -> None:
        self.hand = Hand()
        self._begin(by_difference)

    @precondition(lambda self: not self.open)
    @rule(by_difference=st.booleans())
    def another_batch(self, by_difference: bool) -> None:
        self._begin(by_difference)

    def _begin(self, by_difference: bool) -> None:
        self.checked = len(self.hand.journal)
        self.hand.lift("0.0", 1.5)
        self.sign = -1 if by_difference else 1
        self.vessel = Decimal("1212.34") if by_difference else Decimal("312.34")
        self.zero = Decimal(0)
        self.added = Decimal(0)
        #: What was added while the scale could not be heard, so that nobody may say "nothing".
        self.blind = False
        self.on = True
        self.hand.start(OUT_OF if by_difference else INTO)
        self.hand.lift(str(self._shown()), 3.0)
        self.hand.do("tare")
        self._show(0.5)

    @property
    def load(self) -> Decimal:
        return self.vessel + self.sign * self.added if self.on else Decimal(0)

    def _shown(self) -> Decimal:
        return (self.load - self.zero).quantize(Decimal("0.1"))

    def _show(self, seconds: float) -> None:
        self.hand.show(self._shown(), seconds)

    @property
    def _lost_in_zero(self) -> bool:
        """Less than ten intervals on the display: no zero after it is told from that."""
        return Decimal(0) < abs(self._shown()) <= Decimal(1)

    def _held(self) -> str:
        batch = self.hand.station.batch
        return str(batch.held.cause) if batch and batch.held else ""

    @property
    def open(self) -> bool:
        batch = self.hand.station.batch
        return batch is not None and batch.current is not None

    # --- hands --------------------------------------------------------------------------------

    @precondition(lambda self: self.open)
    @rule(
        grams=st.sampled_from(["0.43", "11.2", "77.7", "150"]), settle=st.sampled_from([0.2, 1.5])
    )
    def pours(self, grams: str, settle: float) -> None:
        self.added += Decimal(grams)
        if self.added > 310:
            self.added = Decimal(310)
        if self.on:
            self.hand.pour(self._shown(), "9.7", settle)
        self.blind = self.blind or self._held() == "scale at zero"

    @precondition(lambda self: self.open)
    @rule(settle=st.sampled_from([0.3, 1.5]))
    def pours_to_the_target(self, settle: float) -> None:
        self.added = max(self.added, Decimal("299.87"))
        if self.on:
            self.hand.pour(self._shown(), "9.7", settle)
        self.blind = self.blind or self._held() == "scale at zero"

    @precondition(lambda self: self.open and self.added > 301)
    @rule()
    def puts_too_much_right(self) -> None:
        self.added = Decimal("300.6")
        if self.on:
            self.hand.pour(self._shown(), "9.7", 1.5)
        self.blind = self.blind or self._held() == "scale at zero"

    @precondition(lambda self: self.open)
    @rule(settle=st.sampled_from([0.3, 1.5]))
    def lifts_or_sets_back(self, settle: float) -> None:
        self.on = not self.on
        self.hand.lift(str(self._shown()), settle)

    @precondition(lambda self: self.open)
    @rule()
    def waits(self) -> None:
        self._show(1.5)

    @precondition(lambda self: self.open and self._held() == "over")
    @rule()
    def makes_more_of_it(self) -> None:
        """Put right by a larger batch: nothing is moved, and what is in becomes the target."""
        batch, now = self.hand.station.batch, self.hand.station.now
        if batch is None or now.claim is None or "put right" not in self.hand.station.can():
            return
        change = enlarged(state_of(batch, Trouble.OVER, now.claim.net_g))
        if isinstance(change, Change):
            self._press("put right", change=change.as_json(), reason="a heavy hand")

    # --- the scale ----------------------------------------------------------------------------

    @precondition(lambda self: self.open)
    @rule(before=st.sampled_from([0.4, 1.5]))
    def presses_its_key(self, before: float) -> None:
        if self._lost_in_zero:
            return
        self._show(before)
        self.zero = self.load
        self._show(1.5)

    @precondition(lambda self: self.open)
    @rule(poured=st.sampled_from(["0", "0", "25"]), off=st.booleans())
    def is_unplugged_or_off(self, poured: str, off: bool) -> None:
        self._show(0.6)
        off = off and not self._lost_in_zero
        if off and abs(self._shown()) < 6:
            poured = "0"  # from zero to zero: no display can show what came meanwhile
        self.hand.lost()
        self.added = min(self.added + Decimal(poured), Decimal(310))
        self.blind = self.blind or poured != "0"
        if off:
            self.zero = self.load
        self.hand.found()
        self._show(1.5)

    @precondition(lambda self: self.open)
    @rule()
    def sleeps_and_wakes_at_zero(self) -> None:
        if self._lost_in_zero:
            return
        self._show(1.5)
        self.hand.tick(20.0)
        self.zero = self.load
        self._show(1.5)

    @precondition(lambda self: self.open)
    @rule()
    def the_station_stops_and_starts(self) -> None:
        if self._lost_in_zero:
            return
        self._show(0.6)
        self.hand = Hand(self.hand.journal, t=self.hand.t)
        self._show(1.5)

    # --- the cook -----------------------------------------------------------------------------

    @precondition(lambda self: self.open)
    @rule()
    def the_cook_does_what_is_offered(self) -> None:
        can = self.hand.station.can()
        if self._held() == "scale at zero":
            self._asked()
        elif "accept" in can:
            # Only the amount at rest is accepted by a cook who looks at the vessel.
            if self.on:
                self._press("accept")
        elif "take out" in can and self.added > 301:
            self._press("take out")
            self.puts_too_much_right()
        elif "top up" in can:
            self._press("top up")

    def _asked(self) -> None:
        """At zero: nothing was added, or else the empty scale is zeroed and the vessel set back."""
        can = self.hand.station.can()
        if not self.blind and self.on and "resume" in can:
            self._press("resume")
            return
        if self.on:
            self.on = False
            self.hand.lift(str(self._shown()), 1.5)
        self.zero = Decimal(0)
        self._show(1.5)
        self.on = True
        self.hand.lift(str(self._shown()), 1.5)
        if "weigh again" in self.hand.station.can():
            self._press("weigh again")
        self.blind = False
        self._show(1.5)

    def _press(self, do: str, **given: Any) -> None:
        try:
            self.hand.do(do, **given)
        except OperatorError as error:
            assert error.code != "not-now", (do, error.code)
        self._show(0.3)

    # --- what must hold -----------------------------------------------------------------------

    @invariant()
    def what_is_accepted_is_true(self) -> None:
        for entry in self.hand.journal[self.checked :]:
            if entry.kind == "addition accepted":
                readings = 2 + 2 * len(entry.body.get("zero_moves", ()))
                off = abs(Decimal(entry.body["net_g"]) - self.added)
                assert off <= (readings + 1) * HALF_G, (entry.body["net_g"], self.added)

    def teardown(self) -> None:
        if hasattr(self, "hand"):
            verifier = Verifier(whole=True, reread=lambda _spec: LineDecoder())
            for entry in self.hand.journal:
                verifier.take(entry)
            verifier.finish()


#: The same walks each time; more, and others: ``max_examples`` up, ``derandomize`` off.
World.TestCase.settings = settings(
    max_examples=dose(35, 120),
    stateful_step_count=25,
    deadline=None,
    derandomize=True,
    database=None,
)
TestWorld = World.TestCase
TestWorld = pytest.mark.timeout(300)(TestWorld)
