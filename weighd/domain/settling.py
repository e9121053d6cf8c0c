"""Readings into phases: pouring, settling, settled, disturbed.

The display has already been filtered, delayed and rounded by the scale. Two questions are kept
apart; a claim needs a yes to both.

1. *Is the display at rest?* The newest readings stay within a band (``settling_run``), and what
   is still to come by the scale's filter, and by the end of a stream's push, is next to nothing
   (``settling_still``). No filter needs to be known for this. A display that trembles by several
   intervals is judged by a mean of it (``settling_mean``).
2. *Has the flow stopped?* The odds that more is to come (``settling_odds``), from the length of
   the stillness, the gaps between drops or taps of this addition, how evenly a stream flowed and
   how it ended (``settling_stream``), whether the load stands where it stood before
   (``settling_places``), and the scale's flag, which is evidence and never the verdict.

A claim is taken back when the display leaves it. It is ``firm`` at stricter odds, when it has
stood for a while on enough readings; only firm claims may enter a record. Jumps of the zero with
the load on (``settling_zero``), another interval (``settling_grid``), and what is learned of the
scale (``settling_learned``) have modules of their own.

Memory is bounded (``settling_run``), and so is the time a reading takes.
"""

from __future__ import annotations

from decimal import Decimal

from weighd.domain.metrology import Level, level
from weighd.domain.reading import Reading
from weighd.domain.settling_finding import Finding, Phase
from weighd.domain.settling_grid import Grid
from weighd.domain.settling_learned import Learned, Learning
from weighd.domain.settling_mean import Mean
from weighd.domain.settling_odds import LONG_S, Flow
from weighd.domain.settling_places import SAME_D, Places
from weighd.domain.settling_run import Run
from weighd.domain.settling_still import RUN_FEWEST, UNSTEADY_D, rests
from weighd.domain.settling_unsteady import Unsteady
from weighd.domain.settling_zero import SLEPT_S, Zero

__all__ = ["FEWEST", "Finding", "Phase", "Settling"]

#: Log odds that more is to come, below which a claim is made, and below which it is firm.
CLAIM_ODDS = -5.0
FIRM_ODDS = -6.0
#: How long a claim must have stood to be firm, and on how many readings at least.
FIRM_S = 0.3
FEWEST = 4
#: Single steps of a claimed display this close together are growth, not an unsteady digit.
STEPS_S = 1.0
#: One reading off by this share more than its display trembles decides nothing against a firm
#: claim.
DOUBT = 0.4
#: Displays whose mean says where the load stands.
WHERE_OF = 3
#: After a step, the level that is claimed waits this long before it follows.
CALM_S = 0.3
FOLLOW_S = 0.25
#: A claim that stood firm for this long ended the addition: the next growth has gaps of its own.
STOP_S = 1.0
#: Readings kept as evidence of a claim: the newest of its run; more on an unsteady display.
EVIDENCE = 12
EVIDENCE_UNSTEADY = 40
#: A growth this short and this large (intervals) was a lump: it shows how the scale answers.
LUMP_S = 0.7
LUMP_D = 20.0
#: Readings this far apart have a silence between them (or six periods, if that is longer).
SILENT_S = SLEPT_S
#: Drift of a claimed level is told once it has stood this long.
DRIFT_S = 5.0


class Settling:
    """A streaming detector for one scale with interval ``interval_g`` grams (> 0).

    ``learned``     what an earlier one learned of the same scale (:meth:`learned`).
    ``claim_odds``  log odds that more is to come, below which a claim is made: lower is safer
                    and later.
    """

    def __init__(
        self,
        interval_g: Decimal,
        learned: Learned | None = None,
        *,
        claim_odds: float | None = None,
    ) -> None:
        if interval_g <= 0:
            raise ValueError(f"a scale interval is above zero, not {interval_g}")
        self.interval_g = interval_g
        self._d = float(interval_g)
        self._claim_odds = CLAIM_ODDS if claim_odds is None else claim_odds
        self._scale = Learning(learned or Learned())
        self.forget()

    def forget(self) -> None:
        """Start afresh, keeping what was learned of the scale."""
        self._run, self._flow, self._grid, self._zero = Run(), Flow(), Grid(), Zero()
        self._mean = Mean(self._scale.mean_of)
        self._t = -1e9
        self._v = 0.0
        self._grams = Decimal(0)
        # The display at the last move, which way it went, and when.
        self._mark, self._was, self._up = 0.0, 0.0, True
        self._moved_at, self._moved_up = -1e9, True
        # The claim that stands.
        self._claim: Level | None = None
        self._claim_v = 0.0
        self._claimed_at = self._follow_at = 0.0
        self._first_v = 0.0
        self._firm = self._stopped = self._doubted = False
        self._evidence: tuple[Reading, ...] = ()
        self._places = Places()
        self._unsteady = Unsteady()

    @property
    def noise_g(self) -> float:
        """Standard deviation of the display at rest, as learned, in grams."""
        # The spread of a dozen readings is about three standard deviations.
        return max(self._scale.raw / 3.0, 0.29) * self._d

    @property
    def spread_g(self) -> float:
        """How far apart the displays of a load at rest are, as learned, in grams."""
        return self._scale.raw * self._d

    def learned(self) -> Learned:
        """What was learned of the scale, to be stored and handed in again."""
        return self._scale.value()

    def evidence(self) -> tuple[Reading, ...]:
        """The readings that the present claim rests on, oldest first; empty without a claim."""
        return self._evidence if self._claim is not None else ()

    def feed(self, reading: Reading) -> Finding:
        """Take one reading in; say what the load is doing."""
        t, grams = reading.t, reading.grams
        if grams is None:
            self._clear()
            self._claim = None
            self._flow.broke(t)
            if reading.over:
                self._t = t  # a number is missing, but nothing is silent
            why = "overload" if reading.over else reading.fault or "fault"
            return self._disturbed(t, why)
        v = float(grams / self.interval_g)
        run = self._run
        gap = t - self._t
        if gap > max(SILENT_S, 6 * self._scale.period):
            self._silence(t, v, grams)
        elif run.rows:
            if v != self._v:
                self._grid.stepped(self._v, v)
            self._scale.gap(max(gap, 0.0))
            self._tare_key(t, v, grams, gap)
        if not run.rows:
            self._mark = v
        if self._mean.of != self._scale.mean_of:
            self._remean()
        step, spread = self._grid.step, self._scale.spread
        self._t, self._v, self._grams = t, v, grams
        shown, v = v, self._mean.add(v)
        run.add(t, v, reading, self._band(), shown)
        moved = self._moves(v, step, spread)
        self._flow.feed(t, v, self._scale.period)
        if self._claim is not None:
            if self._stands(t, v, step, spread, moved):
                return self._settled(t, reading)
            self._take_back(t, v, moved)
        elif moved:
            self._flows(t)
        else:
            self._flow.shown(v)
        if moved:
            self._moved_at, self._moved_up = t, self._up
            self._scale.moved(reading.stable)
        return self._judge(t, v, reading, step)

    def _clear(self) -> None:
        """The next reading has nothing to do with those before."""
        self._run.clear()
        self._mean.clear()

    def _band(self) -> float:
        """How far apart the displays of a rest may be, in intervals."""
        step, spread = self._grid.step, self._scale.spread
        return max(1.02 * step, 1.3 * spread + 0.3 if spread else 0.0)

    def _remean(self) -> None:
        """The mean that is judged is of more or fewer readings now: judge the newest again."""
        rows, run = list(self._run.rows), self._run
        run.clear()
        self._mean = Mean(self._scale.mean_of)
        for t, _, _, reading, shown in rows:
            run.add(t, self._mean.add(shown), reading, self._band(), shown)
        if rows:
            self._mark = rows[-1][1]

    # --- the zero -----------------------------------------------------------------------------

    def _silence(self, t: float, v: float, grams: Decimal) -> None:
        before = self._rested_at()
        if self._zero.slept(t, v, float(before / self.interval_g), (before, grams)):
            self._zero_jumped(t, v, grams)
        self._clear()
        self._claim = None

    def _tare_key(self, t: float, v: float, grams: Decimal, gap: float) -> None:
        zero, room = self._zero, 1.02 + self._scale.raw
        if zero.waiting:
            # At a new zero it stands elsewhere between two steps, and may tremble across one more.
            if zero.decide(t, v, grams, room + 1.0):
                self._zero_jumped(t, v, grams)
        elif self._run.count >= RUN_FEWEST and zero.jumped(
            v, self._v, gap, self._t - self._run.since, room
        ):
            zero.wait(v, self._rested_at())

    def _rested_at(self) -> Decimal:
        """The display before, or the level it stood at if it still did."""
        near = max(SAME_D, self._scale.raw)
        return self._places.grams_near(self._v, near) or self._grams

    def _zero_jumped(self, t: float, v: float, grams: Decimal) -> None:
        self._clear()
        self._flow.clear()
        self._claim = None
        self._places.only(v, grams)
        self._mark, self._moved_at = v, t

    # --- moves --------------------------------------------------------------------------------

    def _moves(self, v: float, step: float, spread: float) -> bool:
        """Whether the display moved on: further the same way, or back by more than its noise."""
        same = max(step * (1.5 if self._flow.fast else 0.75), 1.1 * spread)
        back = max(step * 1.02, 0.6 * step + spread)
        change = v - self._mark
        if self._up:
            up, down = change >= same, change <= -back
        else:
            up, down = change >= back, change <= -same
        if not up and not down:
            return False
        self._was, self._mark, self._up = self._mark, v, up
        return True

    def _flows(self, t: float) -> None:
        period, of = self._scale.period, self._mean.of
        joined = max(2.3 * period, 0.2) + 0.6 * (of - 1) * period
        if self._up:
            trembles = max(1.0, self._scale.spread)
            self._flow.grew(t, self._was, self._mark, joined, trembles)
        else:
            self._flow.fell(t, self._was, self._mark, joined)

    def _stands(self, t: float, v: float, step: float, spread: float, moved: bool) -> bool:
        """Whether the claim still holds."""
        off = abs(v - self._claim_v)
        room = max(step * 1.02, 0.6 * step + spread)
        if off > room:
            # One reading a little off decides nothing against a claim that stood firm.
            if off > room + DOUBT * self._scale.raw or self._doubted or not self._firm:
                return False
            self._doubted = True
            return True
        self._doubted = False
        if moved:
            again = t - self._moved_at < STEPS_S and self._moved_up == self._up
            again = again and self._moved_at > self._claimed_at
            if again and off > 0.5 * (step + spread):
                return False
            self._moved_at, self._moved_up = t, self._up
        return True

    def _take_back(self, t: float, v: float, moved: bool) -> None:
        self._claim = None
        self._doubted = False
        self._places.left()
        if self._stopped:
            self._flow.clear()
        self._was = self._claim_v
        if not moved:
            self._mark, self._up = v, v > self._claim_v
        self._flows(t)

    # --- claims -------------------------------------------------------------------------------

    def _judge(self, t: float, v: float, reading: Reading, step: float) -> Finding:
        run, scale = self._run, self._scale
        why = self._zero.telling(t)
        if why:
            return self._disturbed(t, why)
        self._unsteady.calm(t, run, scale)
        self._unsteady.look(t, run, scale, self._places.last, stopped=self._stopped)
        self._places.passed(v)
        if rests(t, run, scale, step, up=self._up) and self._odds(t, reading) < self._claim_odds:
            self._claimed_at, self._firm, self._stopped = t, False, False
            return self._settled(t, reading)
        return self._moving(t, v)

    def _odds(self, t: float, reading: Reading) -> float:
        """Log odds that more is to come."""
        run, spread = self._run, self._scale.spread
        mean = run.mean(min(run.count, WHERE_OF))
        odds = self._flow.log_odds(
            t,
            self._scale.period,
            stream_s=self._scale.response + 0.35,
            placed=self._places.again(mean, spread, up=self._up),
            gulps=self._scale.gulps,
        )
        return odds + self._scale.flag(reading.stable)

    def _settled(self, t: float, reading: Reading) -> Finding:
        run = self._run
        self._unsteady.calm(t, run, self._scale)
        if self._claim is None:
            self._rest_on(t)
            self._first_v = self._claim_v
        # A firm claim may enter a record: on a display grown slow it keeps the evidence it has.
        elif (
            t >= self._follow_at
            and run.count >= (FEWEST + 1 if self._firm else RUN_FEWEST)
            and t - self._moved_at > CALM_S
        ):
            self._rest_on(t)
        stood = t - self._claimed_at
        if not self._firm:
            self._firm = (
                stood >= FIRM_S
                and len(self._evidence) >= FEWEST
                and self._odds(t, reading) < min(FIRM_ODDS, self._claim_odds)
            )
        if self._firm and not self._stopped and stood > STOP_S:
            self._stopped = True
            if self._flow.lasted > LONG_S or self._flow.resumed:
                self._scale.streamed(self._flow.resumed, self._flow.tail)
        drift = 0.0
        if stood > DRIFT_S and abs(self._claim_v - self._first_v) > 1.5:
            drift = (self._claim_v - self._first_v) * self._d / stood
        return Finding(
            t,
            Phase.SETTLED,
            self._claim,
            self._firm,
            shift_g=self._zero.shift_g,
            drift_g_s=drift,
        )

    def _rest_on(self, t: float) -> None:
        """Take the level from the newest readings of the run."""
        run, scale, flow = self._run, self._scale, self._flow
        most = EVIDENCE_UNSTEADY if scale.raw > UNSTEADY_D else EVIDENCE
        n = min(run.count + self._mean.of - 1, len(run.rows), most)
        if RUN_FEWEST < n < 8 and self._mean.of == 1:
            n = 3 if n < 5 else 5  # an odd number of the newest: the end of a tail is left out
        rows = run.rows
        self._evidence = tuple(rows[k][3] for k in range(-n, 0))
        shown = [one.grams for one in self._evidence if one.grams is not None]
        claim = level(shown, self.interval_g)
        if self._claim is None and flow.lasted < LUMP_S and flow.grown > LUMP_D:
            scale.answered(flow.lasted + scale.period)
        self._claim, self._claim_v = claim, float(claim.grams / self.interval_g)
        self._follow_at = t + FOLLOW_S if n >= 8 else t
        self._places.rested(self._claim_v, claim.grams)
        if t - run.since >= 0.8 and run.count >= 6:
            scale.rested(run.spread)

    def _moving(self, t: float, v: float) -> Finding:
        change = v - self._run.before(t - 0.3)
        if self._places.lifted(v, change):
            return self._disturbed(t, "lift")
        why = self._unsteady.why(t)
        if why:
            return self._disturbed(t, why)
        rising = change > 0.4 * max(1.0, self._scale.spread)
        phase = Phase.POURING if rising else Phase.SETTLING
        return Finding(t, phase, rising=rising, shift_g=self._zero.shift_g)

    def _disturbed(self, t: float, why: str) -> Finding:
        return Finding(t, Phase.DISTURBED, why=why, shift_g=self._zero.shift_g)
