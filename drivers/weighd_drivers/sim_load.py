"""What stands on the pan of a simulated bench, what is falling towards it, and what presses on it.

Stepped by a fixed small time. Mass is conserved: what was poured is in a vessel, on the pan, in
the air, or was taken out.
"""

from __future__ import annotations

import math
import random
from collections import deque
from dataclasses import dataclass

from weighd_drivers.sim_parameters import BenchParameters

GRAVITY = 9.81
#: Below this share of the last rate, a closing stream breaks into drops.
BREAKS = 0.02
MOST_DROPS = 8


@dataclass(slots=True)
class Vessel:
    """A vessel and what is in it, grams."""

    mass_g: float
    contents_g: float = 0.0


@dataclass(frozen=True, slots=True)
class _Press:
    """Something pressing on the pan until a step; ``tremor`` is the share it varies by."""

    until: int
    force_g: float
    tremor: float


class Load:
    """The load on the pan. Each :meth:`step` moves it on and gives the force on the pan, in g."""

    def __init__(self, parameters: BenchParameters, rng: random.Random, dt: float) -> None:
        self._p = parameters
        self._rng = rng
        self._dt = dt
        self._now = 0
        #: Time a stream falls. A stream also pushes: its landing flow times this is its push in
        #: grams, since speed over gravity is the same number.
        self._fall_s = math.sqrt(2 * parameters.fall_m / GRAVITY)
        self._fall = max(1, round(self._fall_s / dt))
        self.vessel: Vessel | None = None
        self.lifted: Vessel | None = None
        self._next: Vessel | None = None
        self._swap_at = 0
        self._share = 0.0
        self._way = 0
        self._rate = 0.0
        self._last_rate = 0.0
        self.flow = 0.0
        self._gurgle = 0.0
        self._phase = 0.0
        self._air: deque[tuple[int, float]] = deque()
        self._drops: list[tuple[int, float]] = []
        self._presses: list[_Press] = []
        self._takes: list[tuple[int, float]] = []
        self._bumps: list[tuple[int, float]] = []
        #: A check weight on the pan, beside any vessel.
        self.weight_g = 0.0
        self.in_air_g = 0.0
        self.spilled_g = 0.0
        self.aside_g = 0.0
        self.poured_g = 0.0
        self.taken_g = 0.0

    # --- hands --------------------------------------------------------------------------------

    @property
    def rate(self) -> float:
        """The flow the hand is holding, g/s."""
        return self._rate

    @property
    def static_g(self) -> float:
        """What rests on the pan now, grams, without any push."""
        vessel = self.vessel
        held = self._share * (vessel.mass_g + vessel.contents_g) if vessel else 0.0
        return held + self.spilled_g + self.weight_g

    def pour(self, g_per_s: float) -> None:
        """Pour at about this flow until told otherwise; 0 stops."""
        self._rate = max(0.0, g_per_s)
        if self._rate > 0:
            self._last_rate = self._rate

    def tap(self, grams: float) -> None:
        """Tap this much off a spoon: a few crumbs close after each other."""
        crumbs = self._rng.randint(2, 6)
        parts = [self._rng.uniform(0.5, 1.5) for _ in range(crumbs)]
        at = self._now + 1
        for part in parts:
            self._drops.append((at, max(0.0, grams) * part / sum(parts)))
            at += 1 + round(self._rng.uniform(0.01, 0.05) / self._dt)

    def set_down(self, mass_g: float, contents_g: float = 0.0) -> None:
        """Set a vessel down; one that stands there is taken away first. What is in it came from
        elsewhere: it counts as poured."""
        self._bring(Vessel(mass_g, contents_g))

    def _bring(self, coming: Vessel) -> None:
        if self.vessel is not None:
            self._next, self._way = coming, -1
            return
        self.poured_g += coming.contents_g
        self._set_aside(self.lifted)
        self.lifted = None
        self.vessel, self._share, self._way = coming, 0.0, 1

    def pour_out(self, grams: float) -> None:
        """Pour out of the vessel in the hand, or of the one on the pan."""
        vessel = self.lifted or self.vessel
        out = min(grams, vessel.contents_g) if vessel else 0.0
        if vessel is not None:
            vessel.contents_g -= out
        self.taken_g += out

    def lift(self) -> None:
        """Lift the vessel and keep it in hand; with none on the pan, wipe the pan."""
        self._next = None
        if self.vessel is not None:
            self._way = -1
        else:
            self.aside_g += self.spilled_g
            self.spilled_g = 0.0

    def put_back(self) -> None:
        """Put the vessel that was lifted back, with all that is in it."""
        self._next = None
        if self.vessel is not None:
            self._way = 1
        elif self.lifted is not None:
            self.vessel, self.lifted = self.lifted, None
            self._share, self._way = 0.0, 1

    def put_weight(self, grams: float) -> None:
        """Put a check weight on, instead of one that is there; 0 takes it off."""
        self.weight_g = grams

    def take(self, grams: float) -> None:
        """Take some out with a spoon, which presses on the pan a little."""
        until = self._now + max(1, round(self._p.spoon_s / self._dt))
        self._presses.append(_Press(until, self._p.spoon_press_g, 0.3))
        self._takes.append((until, max(0.0, grams)))

    def press(self, grams: float, seconds: float) -> None:
        """Rest a hand on the pan."""
        until = self._now + max(1, round(seconds / self._dt))
        self._presses.append(_Press(until, grams, 0.08))

    def bump(self, strength: float) -> None:
        """Knock against the bench; 1 is an ordinary knock."""
        self._bumps.append((self._now, strength * self._p.bump_g))

    # --- time ---------------------------------------------------------------------------------

    def step(self) -> float:
        """Go on by one step; the force on the pan in grams."""
        self._now += 1
        if self._way:
            self._carry()
        elif self._next is not None and self._now >= self._swap_at:
            coming, self._next = self._next, None
            self._bring(coming)
        if self._rate > 0 or self.flow > 0:
            self._pour_on()
        if self._drops:
            self._drip()
        force = self._land() * self._fall_s / self._dt if self._air else 0.0
        force += self.static_g
        if self._takes:
            self._take_out()
        if self._presses or self._bumps:
            force += self._pushes()
        return force

    def _carry(self) -> None:
        self._share += self._way * self._dt / self._p.handling_s
        if self._share >= 1:
            self._share, self._way = 1.0, 0
        elif self._share <= 0:
            self._share, self._way = 0.0, 0
            self._set_aside(self.lifted)
            self.lifted, self.vessel = self.vessel, None
            self._swap_at = self._now + round(self._p.swap_s / self._dt)

    def _set_aside(self, vessel: Vessel | None) -> None:
        if vessel is not None:
            self.aside_g += vessel.contents_g

    def _pour_on(self) -> None:
        p, dt, rng = self._p, self._dt, self._rng
        self.flow += (self._rate - self.flow) * min(1.0, dt / p.hand_s)
        if self._rate == 0 and self.flow < BREAKS * self._last_rate:
            self.flow = 0.0
            self._break_up()
            return
        # Air going in past the stream: a beat, and a slow disorder about it.
        self._phase += math.tau * p.gurgle_hz * dt * rng.uniform(0.7, 1.3)
        self._gurgle += -self._gurgle * dt / 0.3 + math.sqrt(2 * dt / 0.3) * rng.gauss(0, 1)
        swing = 1 + p.gurgle * (0.7 * self._gurgle + 0.7 * math.sin(self._phase))
        self._release(max(0.0, self.flow * swing) * dt)

    def _break_up(self) -> None:
        if self._p.drops <= 0 or self._p.drop_g <= 0:
            return
        at = float(self._now)
        for _ in range(min(MOST_DROPS, int(self._rng.expovariate(1 / self._p.drops) + 0.5))):
            at += self._rng.expovariate(1 / self._p.drop_gap_s) / self._dt
            size = self._p.drop_g * self._rng.lognormvariate(0, 0.3)
            self._drops.append((math.ceil(at), size))

    def _release(self, grams: float) -> None:
        self.poured_g += grams
        self.in_air_g += grams
        self._air.append((self._now + self._fall, grams))

    def _drip(self) -> None:
        due = [drop for drop in self._drops if drop[0] <= self._now]
        if due:
            self._drops = [drop for drop in self._drops if drop[0] > self._now]
            for _, grams in due:
                self._release(grams)

    def _land(self) -> float:
        landed = 0.0
        while self._air and self._air[0][0] <= self._now:
            landed += self._air.popleft()[1]
        self.in_air_g = self.in_air_g - landed if self._air else 0.0
        if self.vessel is not None:
            self.vessel.contents_g += landed
        else:
            self.spilled_g += landed
        return landed

    def _take_out(self) -> None:
        due = [grams for at, grams in self._takes if at <= self._now]
        self._takes = [take for take in self._takes if take[0] > self._now]
        for grams in due:
            if self.vessel is not None:
                out = min(grams, self.vessel.contents_g)
                self.vessel.contents_g -= out
            else:
                out = min(grams, self.spilled_g)
                self.spilled_g -= out
            self.taken_g += out

    def _pushes(self) -> float:
        p, now, force = self._p, self._now, 0.0
        self._presses = [one for one in self._presses if one.until > now]
        for press in self._presses:
            force += press.force_g * (1 + press.tremor * self._rng.gauss(0, 1))
        for at, strength in self._bumps:
            since = (now - at) * self._dt
            force += strength * math.exp(-since / p.bump_s) * math.sin(math.tau * p.bump_hz * since)
        over = 12 * p.bump_s / self._dt
        self._bumps = [bump for bump in self._bumps if now - bump[0] < over]
        return force
