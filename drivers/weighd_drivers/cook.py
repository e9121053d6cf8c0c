"""A simulated cook: looks at the picture a page shows, works the jug and the spoon, presses keys.

Rules of this file
1. A step is pure but for what the cook remembers: time, the picture and one source of chance go
   in, actions come out. Threads are elsewhere (``sim_shift``).
2. The cook knows only what somebody standing there sees: the picture of the state, and
   (``pan``) whether a vessel stands on the scale, and what was spilled. Which keys may be
   pressed stands in ``can``.
3. Between seeing and doing lies a reaction time. One thing is planned at a time; while it is
   being done nothing else is decided, but a key is pressed only if it still may be.
4. Nothing is waited for without end: when nothing moves, the cook says so and begins again.
"""

from __future__ import annotations

import random
from collections import deque
from collections.abc import Mapping
from typing import Any

from weighd_drivers.sim_habits import (
    STOP,
    Action,
    Habits,
    Lift,
    Pour,
    PourOut,
    Press,
    PutBack,
    Say,
    SetDown,
    Take,
    Tap,
    ZeroKey,
)
from weighd_drivers.sim_sight import Sight, see
from weighd_drivers.sim_vessel import another, bring_back, less, more, pour_out

_TOO_FINE = "Closer than this scale can tell."
_LEFT_SO = "Tried several times; it cannot be put right by hand."
#: A cook waits this long for a vessel on the scale to be recognised, seconds.
RECOGNISED_S = 4.0


class Cook:
    """Weighs whatever batch is open. ``working`` may be switched at any time."""

    def __init__(self, rng: random.Random, habits: Habits | None = None) -> None:
        self.habits = habits or Habits()
        self.working = True
        self._rng = rng
        self._lag = self.habits.lag_s
        self._plan: list[tuple[float, Action]] = []
        self._flows: deque[tuple[float, float]] = deque(maxlen=16)
        self._rate = 0.0
        self._was_open = self._blind = self._gone = False
        self._moved = -60.0  # when the spoon last added or took something
        self._lots_tried: set[tuple[str, int]] = set()
        self._said = ""
        self._forget()
        self._of: tuple[str, int] | None = None
        self._mark: tuple[object, ...] = ()
        self._marked = 0.0

    def _forget(self) -> None:
        """Begin again: nothing is planned, nothing is half done."""
        self._plan.clear()
        self._wait = 0.0
        self._spooning = False
        self._slow = self._early = 0.0
        self._stopped: tuple[float, float] | None = None
        self._landing = False

    @property
    def pouring(self) -> bool:
        """Whether the cook's hand is pouring."""
        return self._rate > 0

    # --- one look -----------------------------------------------------------------------------

    def step(
        self, t: float, state: Mapping[str, Any], pan: Mapping[str, Any] | None = None
    ) -> list[Action]:
        """What the cook does at ``t`` seconds, seeing ``state``; often nothing.

        ``pan``  what is seen of the scale itself: ``vessel_on``, ``lifted`` and ``spilled_g``.
        """
        sight = see(state, pan)
        if not self.working:
            return self._hands_off(t)
        if sight is None:
            return self._no_batch(t)
        self._was_open = True
        if self._of != (sight.batch, sight.n):
            self._of = (sight.batch, sight.n)
            self._corrections = self._fussed = 0
            self._blind = False
            self._forget_pour()
        self._note_link(t, sight)
        done = self._carry_out(t, sight)
        if done or self._plan:
            return done
        done = self._nothing_moves(t, sight)
        if done or t < self._wait:
            return done
        if self._rate > 0:
            return self._watch_pour(t, sight)
        if sight.held:
            return self._held(t, sight)
        if sight.phase == "awaiting vessel":
            return self._vessel(t, sight)
        if sight.phase == "judged":
            return self._judged(t, sight)
        if sight.takes_out:
            return self._correct(t, sight)
        if sight.phase == "ready" or (self._spooning and sight.phase == "settling"):
            return self._add(t, sight)
        return []

    def refused(self, t: float, error: str) -> list[Action]:
        """A key was pressed in vain: look again a little later."""
        self._plan.clear()
        self._wait = t + 4 * self.habits.think_s
        return [Say(error)]

    def _hands_off(self, t: float) -> list[Action]:
        self._forget()
        self._marked = t
        if self._rate > 0:
            return [self._did(t, STOP, None)]
        return []

    def _no_batch(self, t: float) -> list[Action]:
        self._marked = t
        if self._rate > 0:
            return [self._did(t, STOP, None)]
        due = [self._did(t, action, None) for at, action in self._plan if at <= t]
        self._plan = [(at, action) for at, action in self._plan if at > t]
        if self._was_open:
            self._was_open = False
            self._forget()
            self._later(t, 3 * self._think(), Lift())
        return [action for action in due if isinstance(action, Lift)]

    # --- plans --------------------------------------------------------------------------------

    def _later(self, t: float, after: float, *actions: Action) -> list[Action]:
        for action in actions:
            t += after
            self._plan.append((t, action))
            after = self._react()
        return []

    def _carry_out(self, t: float, sight: Sight) -> list[Action]:
        done: list[Action] = []
        while self._plan and self._plan[0][0] <= t:
            action = self._plan.pop(0)[1]
            late = isinstance(action, Press) and not sight.may(action)
            if late or (isinstance(action, Tap) and sight.can("accept")):
                self._plan.clear()  # it went another way meanwhile: look again
                break
            done.append(self._did(t, action, sight))
        return done

    def _did(self, t: float, action: Action, sight: Sight | None) -> Action:
        h = self.habits
        match action:
            case Pour(rate):
                if rate == 0 and self._landing and sight and sight.net_g is not None:
                    self._stopped = (t, sight.net_g)
                self._landing = False
                self._rate = rate
                self._flows.append((t, rate))
            case Tap() | Take() | PourOut():
                self._wait = t + self._lag + (h.tap_gap_s if isinstance(action, Tap) else 1.5)
                self._moved = t
            case Press():
                self._wait = t + h.think_s
            case SetDown() | PutBack() | Lift() | ZeroKey():
                self._wait = t + 2 * h.think_s
            case Say():
                pass
        return action

    def _react(self) -> float:
        return self.habits.reaction_s * self._rng.lognormvariate(0, self.habits.reaction_spread)

    def _think(self) -> float:
        return self.habits.think_s * self._rng.lognormvariate(0, self.habits.reaction_spread)

    def _note_link(self, t: float, sight: Sight) -> None:
        """The scale goes dark: hands off, and remember whether it saw the last of it."""
        if sight.scale_is_gone and not self._gone:
            self._plan = [(at, action) for at, action in self._plan if action == STOP]
            # What was on its way never showed: then "nothing was added" would be untrue.
            self._blind |= t - self._moved < self._lag + 1 or self._under_way(t) > 0
        self._gone = sight.scale_is_gone

    # --- nothing moves ------------------------------------------------------------------------

    def _nothing_moves(self, t: float, sight: Sight) -> list[Action]:
        mark = sight.mark
        if mark != self._mark or sight.scale_is_gone:
            self._mark, self._marked = mark, t
            return []
        if t - self._marked < self.habits.stuck_s:
            return []
        self._marked = t
        self._forget()
        out: list[Action] = [self._did(t, STOP, None)] if self._rate > 0 else []
        out.append(Say(f"Nothing moves ({sight.phase}); trying again."))
        to_go = sight.to_go_g
        if sight.phase in ("settling", "pouring") and to_go and to_go > sight.near_g:
            self._add(t, sight)
        return out

    # --- the vessel ---------------------------------------------------------------------------

    def _vessel(self, t: float, sight: Sight) -> list[Action]:
        h = self.habits
        self._forget_pour()
        standing = t - self._marked
        if sight.left and sight.vessel_on:
            return self._later(t, self._think(), Lift())
        if not sight.vessel_on:
            if sight.tare_g is None:
                coming = another(sight, self._rng, h)
                return self._later(t, self._think(), *coming)
            return self._later(t, self._think(), *bring_back(sight))
        if sight.tare_g is not None and standing < RECOGNISED_S:
            return []
        if sight.can("tare") and (sight.gross_g or 0.0) > 1.0:
            return self._press(t, sight, "tare")
        if standing < RECOGNISED_S:
            return []
        if sight.tare_g is None:
            # The scale's zero was taken with a vessel on it: one that is heavier shows.
            coming = another(sight, self._rng, h, heavy=True)
            return self._later(t, self._think(), *coming)
        return self._later(t, self._think(), *bring_back(sight))

    def _zero_anew(self, t: float) -> list[Action]:
        """Vessel off, zero, vessel back: then the scale tells what is in it."""
        for action in (Lift(), ZeroKey(), PutBack()):
            t += 2.0 + self._think() + self._lag
            self._plan.append((t, action))
        return []

    # --- adding -------------------------------------------------------------------------------

    def _forget_pour(self) -> None:
        self._spooning = False
        self._stopped = None

    def _add(self, t: float, sight: Sight) -> list[Action]:
        h, to_go = self.habits, sight.to_go_g
        if to_go is None:
            return []
        key = (sight.batch, sight.n)
        if h.names_lots and not sight.lot and sight.can("name lot") and key not in self._lots_tried:
            self._lots_tried.add(key)
            lot = f"L{self._rng.randrange(1000, 10000)}"
            return self._press(t, sight, "name lot", lot=lot)
        if to_go <= (sight.near_g if sight.phase != "ready" else 0.0):
            self._spooning = False
            return []
        if to_go < h.spoon_below_g:
            self._spooning = True
            return self._later(t, self._react(), more(sight, self._spoonful(sight, to_go)))
        self._spooning = False
        if sight.out:
            return self._later(t, self._think(), *pour_out(to_go, self._rng))
        self._slow = round(min(max(sight.half_g / 0.35, h.slowest_g_s), h.slow_most_g_s), 2)
        fast = min(max(to_go / h.pour_s, self._slow), h.fastest_g_s)
        if to_go < 4 * self._slow:
            fast = self._slow
        # A little less than the target: topping up is easier than taking out.
        self._early = 0.2 * sight.half_g + self._slow * self._rng.gauss(0, h.stop_error_s)
        self._stopped = None
        return self._later(t, self._think(), Pour(round(fast, 2)))

    def _spoonful(self, sight: Sight, to_go: float) -> float:
        wanted = to_go if to_go < 0.6 else 0.7 * to_go
        wanted = min(max(wanted, 0.3 * sight.interval_g), self.habits.spoonful_g)
        return round(max(wanted * self._rng.lognormvariate(0, self.habits.spoon_error), 0.01), 3)

    def _watch_pour(self, t: float, sight: Sight) -> list[Action]:
        to_go = sight.to_go_g
        if sight.held or sight.phase == "awaiting vessel" or to_go is None:
            self._blind = sight.scale_is_gone
            return self._later(t, self._react(), STOP)
        coming = self._under_way(t) + self._rate * self.habits.reaction_s
        left = to_go - coming - self._early
        if left <= 0:
            self._landing = True
            return self._later(t, self._react(), STOP)
        if self._rate > self._slow and left <= 1.2 * self._slow:
            return self._later(t, self._react(), Pour(self._slow))
        return []

    def _under_way(self, t: float) -> float:
        """What left the jug and cannot show yet, in grams, as the cook believes."""
        total, until = 0.0, t
        for since, rate in reversed(self._flows):
            start = max(since, t - self._lag)
            total += rate * max(0.0, until - start)
            until = since
            if since <= t - self._lag:
                break
        return total

    def _learn(self, sight: Sight) -> None:
        """How far behind the display was, from what still came after the stop."""
        if self._stopped is None or sight.net_g is None:
            return
        stop, shown = self._stopped
        self._stopped = None
        # Go back from the stop until what came after it had left the jug.
        came, until = sight.net_g - shown, stop
        for since, rate in reversed([flow for flow in self._flows if flow[0] < stop]):
            if rate <= 0 or came <= rate * (until - since):
                until -= came / rate if rate > 0 else 0.0
                break
            came, until = came - rate * (until - since), since
        late = min(max(stop - until, self._lag - 0.5), self._lag + 1.0)
        self._lag = min(max(self._lag + self.habits.learns * (late - self._lag), 0.1), 3.0)

    # --- verdicts -----------------------------------------------------------------------------

    def _judged(self, t: float, sight: Sight) -> list[Action]:
        self._learn(sight)
        self._spooning = False
        if sight.can("accept"):
            return self._press(t, sight, "accept")
        return self._correct(t, sight)

    def _held(self, t: float, sight: Sight) -> list[Action]:
        if sight.scale_is_gone:
            return self._waiting(f"Waiting: {sight.held}.")
        if sight.held == "scale at zero":
            if not sight.vessel_on:
                return self._later(t, self._think(), *bring_back(sight))
            if self._blind:
                self._blind = False
                return self._zero_anew(t)
            return self._press(t, sight, "resume") if sight.can("resume") else []
        self._learn(sight)
        if sight.verdict == "on target":
            for key in ("accept", "take out", "top up"):
                if sight.can(key):
                    return self._press(t, sight, key)
        return self._correct(t, sight)

    def _correct(self, t: float, sight: Sight) -> list[Action]:
        """Top up, take out, or let it be."""
        verdict, to_go = sight.verdict, sight.to_go_g
        if verdict is None or to_go is None:
            return []
        close = verdict == "too close to call"
        enough = self._corrections >= self.habits.patience or self._fussed >= self.habits.fuss
        if sight.can("accept with reason") and enough:
            why = _TOO_FINE if close else _LEFT_SO
            return self._press(t, sight, "accept", reason=why)
        if verdict == "over" or (close and to_go < 0):
            self._take_out(t, sight, -to_go)
        elif sight.held:
            # Whichever decision opens it again: held for being over, it may be short by now.
            key = next((key for key in ("top up", "take out") if sight.can(key)), "")
            if key:
                self._press(t, sight, key)
        else:
            self._add_some(t, sight, to_go)
        if any(isinstance(action, Pour | Tap | Take) for _, action in self._plan):
            self._corrections += 1
            self._fussed += close
        return []

    def _add_some(self, t: float, sight: Sight, to_go: float) -> list[Action]:
        if sight.verdict == "too close to call" or to_go <= sight.near_g:
            self._spooning = False
            after = self._react()
            return self._later(t, after, more(sight, self._spoonful(sight, max(to_go, 0.0))))
        return self._add(t, sight)

    def _take_out(self, t: float, sight: Sight, excess: float) -> list[Action]:
        wanted = max(excess, 0.5 * sight.interval_g)
        spoon = wanted * self._rng.lognormvariate(0, 0.6 * self.habits.spoon_error)
        take = less(sight, round(max(spoon, 0.01), 3))
        if sight.can("take out"):
            return self._later(t, self._think(), sight.press("take out"), take)
        return self._later(t, self._think(), take)

    def _press(
        self, t: float, sight: Sight, do: str, *, reason: str = "", lot: str = ""
    ) -> list[Action]:
        return self._later(t, self._think(), sight.press(do, reason=reason, lot=lot))

    def _waiting(self, text: str) -> list[Action]:
        said, self._said = self._said, text
        return [] if text == said else [Say(text)]
