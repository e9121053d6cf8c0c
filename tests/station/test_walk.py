"""A random walk of readings, commands, unplugs, stops and failing disks never breaks the rules.

The rules that are checked after every step:
1. nothing is pictured as accepted that the journal does not hold;
2. every accepted addition verifies from its evidence, and the chain is whole;
3. the batch is exactly the fold of its entries, and a restart stands in the same place;
4. a key used again acts once;
5. a command the picture offers is never refused as out of place; no reading alone decides.
"""

from __future__ import annotations

import re
from decimal import Decimal

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from tests.dose import dose
from tests.station.scripted import FORMULA, Hand, LineDecoder
from weighd.domain.addition import Do
from weighd.domain.errors import JournalError, OperatorError
from weighd.domain.fold import fold
from weighd.domain.record import Entry
from weighd.domain.verify import Verifier
from weighd.station.picture import Picture

#: A batch into a bowl, one from vessels that are poured out of, and both in turn.
FORMULAS = (
    FORMULA,
    FORMULA.replace('tolerance = "1 %"', 'tolerance = "1 %"\nmethod = "by difference"'),
    re.sub(r"(tolerance = .*)", r'\1\nmethod = "by difference"', FORMULA),
)
LEVELS = ["0.0", "312.4", "600", "812.4", "820", "932.4", "934.4", "5999", "6100", "-312.4"]


def verifier() -> Verifier:
    """One that reads the evidence again."""
    return Verifier(whole=True, reread=lambda _spec: LineDecoder())


class Walk(RuleBasedStateMachine):
    hand: Hand

    @initialize(formula=st.sampled_from(FORMULAS))
    def begin(self, formula: str) -> None:
        self.hand = self.stands([], 0.0)
        self.formula = formula
        self.hand.start(formula)
        self.hand.show("934.4")
        self.hand.do("tare")
        self.used: list[tuple[str, str]] = []
        self.verifier, self.verified = verifier(), 0

    def stands(self, journal: list[Entry], t: float) -> Hand:
        """The station at the end of its journal."""
        return Hand(journal, t=t)

    @rule(level=st.sampled_from(LEVELS), seconds=st.sampled_from([0.1, 0.5, 1.4]))
    def shows(self, level: str, seconds: float) -> None:
        self.hand.show(level, seconds)

    @rule(level=st.sampled_from(LEVELS))
    def pours(self, level: str) -> None:
        self.hand.pour(level, "97", settle=0.2)

    @rule(times=st.integers(1, 6))
    def a_cook_goes_on(self, times: int) -> None:
        """The next sensible thing, a few times over: takes the walk deep into batches."""
        for _ in range(times):
            batch, can = self.hand.station.batch, self.hand.station.can()
            if batch is None or batch.current is None:
                self._try("start")
            elif batch.tare is None:
                self.hand.lift("0.0", 1.4)
                self.hand.lift("820" if batch.current.by_difference else "312.4", 1.4)
                self._try("tare")
            elif "accept" in can:
                self._try("accept", addition=batch.current.n)
            elif "resume" in can:
                self._try("resume")
            elif "take out" in can or "top up" in can:
                self._try("take out" if "take out" in can else "top up")
            else:
                self.pours_what_is_needed()

    @rule()
    def pours_what_is_needed(self) -> None:
        batch = self.hand.station.batch
        if batch and batch.current and batch.tare and self.hand.station.now.gross_g is not None:
            change = batch.current.change_g(batch.current.target_g)
            goal = str((batch.tare.level.grams + change).quantize(Decimal("0.1")))
            self.hand.pour(goal, "97", settle=1.4)

    @rule()
    def lifts_pours_and_sets_back(self) -> None:
        batch = self.hand.station.batch
        if batch and batch.current and batch.tare and batch.current.by_difference:
            goal = batch.tare.level.grams - batch.current.target_g
            self.hand.source(str(goal.quantize(Decimal("0.1"))), 1.4)

    @rule(junk=st.binary(max_size=12))
    def hears_junk(self, junk: bytes) -> None:
        self.hand.raw(junk)
        self.hand.raw(b"\n")

    @rule()
    def starts(self) -> None:
        self._try("start")

    @rule(
        do=st.sampled_from(list(Do)), reason=st.sampled_from(["", "because"]), ahead=st.booleans()
    )
    def asks(self, do: Do, reason: str, ahead: bool) -> None:
        batch = self.hand.station.batch
        current = batch.current.n if batch and batch.current else None
        given: dict[str, object] = {
            "reason": reason,
            "lot": "L1" if reason else "",
            "confirm": True,
        }
        if ahead and current:
            given["addition"] = current
        if do is Do.ABANDON and not reason:
            return  # a walk that abandons at every turn sees little
        self._try(do, **given)

    @rule(grams=st.sampled_from(["620 g", "1.2 kg", "-1 g"]), corrects=st.sampled_from([None, 1]))
    def records_what_came_of_the_last_batch(self, grams: str, corrects: int | None) -> None:
        batches = [one.body["batch"] for one in self.hand.journal if "batch" in one.body]
        if batches:
            self._try(
                "record yield",
                batch=batches[-1],
                draw={"weight": grams},
                corrects=corrects,
                reason="because",
            )

    @rule()
    def presses_twice(self) -> None:
        if self.used:
            do, key = self.used[-1]
            before = len(self.hand.journal)
            answer = self.hand.do(do, key=key, formula=None)
            assert answer is not None
            assert answer.again
            assert len(self.hand.journal) == before

    @rule(seconds=st.sampled_from([0.3, 3.0]))
    def waits(self, seconds: float) -> None:
        self.hand.tick(seconds)

    @rule()
    def unplugs(self) -> None:
        self.hand.lost()
        self.hand.found()

    @rule()
    def the_scales_own_key(self) -> None:
        self.hand.show(self.hand.display, 1.4)
        self.hand.show("0.0", 1.4)

    @rule(seconds=st.sampled_from([1.8, 20.0]), wakes=st.sampled_from(["0.0", "same"]))
    def the_scale_sleeps(self, seconds: float, wakes: str) -> None:
        self.hand.show(self.hand.display, 1.4)
        self.hand.tick(seconds)
        self.hand.show("0.0" if wakes == "0.0" else self.hand.display, 1.4)

    @rule(to=st.sampled_from(LEVELS))
    def lifts_or_sets_down(self, to: str) -> None:
        self.hand.lift(to, 1.4)

    @rule()
    def disk_fails_and_is_mended(self) -> None:
        self.hand.fail = JournalError("store-full", "The disk is full.")
        before = list(self.hand.journal)
        self.hand.show("820", 1.4)
        for do in (Do.ACCEPT, Do.TARE):
            self._try(do, reason="because")
        assert self.hand.journal == before
        self.hand.fail = None

    @rule()
    def stops_and_starts_again(self) -> None:
        batch = self.hand.station.batch
        again = self.stands(self.hand.journal, self.hand.t)
        if batch is not None and batch.current is not None:
            assert again.station.batch is not None
            assert again.station.batch.accepted == batch.accepted
            assert again.station.batch.held == batch.held
            assert again.station.batch.tares == batch.tares
        self.hand = again

    def _try(self, do: str, **given: object) -> None:
        offered = do in self.hand.station.can()
        key = f"walk-{len(self.hand.journal)}-{self.hand.keys}-{self.hand.t}"
        try:
            if do == "start":
                self.hand.start(self.formula, key=key)
            else:
                self.hand.do(do, key=key, **given)
        except OperatorError as error:
            assert not (offered and error.code in ("not-now", "nothing-poured")), (do, error.code)
        except JournalError:
            assert self.hand.fail is not None
        else:
            self.used.append((do, key))

    @invariant()
    def nothing_is_shown_that_is_not_durable(self) -> None:
        state = Picture(self.hand.station).state()
        durable = {
            (one.body["batch"], one.body["addition"]): one.body["net_g"]
            for one in self.hand.journal
            if one.kind == "addition accepted"
        }
        if state["batch"]:
            for one in state["batch"]["additions"]:
                if one["status"] == "accepted":
                    assert durable[(state["batch"]["id"], one["n"])] == one["net_g"]

    @invariant()
    def the_journal_verifies(self) -> None:
        """What is new in it, after each step; the whole of it, anew, at the end."""
        for entry in self.hand.journal[self.verified :]:
            self.verifier.take(entry)
        self.verified = len(self.hand.journal)

    def teardown(self) -> None:
        if hasattr(self, "hand"):
            anew = verifier()
            for entry in self.hand.journal:
                anew.take(entry)
            report = anew.finish()
            assert report.weighings == self.hand.kinds().count("addition accepted")

    @invariant()
    def the_batch_is_the_fold_of_its_entries(self) -> None:
        batch = self.hand.station.batch
        if batch is not None:
            own = [one for one in self.hand.journal if one.body.get("batch") == batch.id]
            assert fold(own) == batch

    @invariant()
    def time_shown_never_comes_from_a_dead_link(self) -> None:
        scale = self.hand.station.scales["bench"]
        if scale.link != "live":
            assert Picture(self.hand.station).state()["scales"]["bench"]["reading"] is None


Walk.TestCase.settings = settings(max_examples=dose(45, 200), stateful_step_count=40, deadline=None)
TestWalk = Walk.TestCase
