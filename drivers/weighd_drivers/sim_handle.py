"""Hands on a simulated bench: what a person, a cook or a test does to it, from any thread."""

from __future__ import annotations

import random
import threading
from collections import deque
from collections.abc import Callable

from weighd.station.ports import Bytes, Found, Lost, Now, Signal
from weighd_drivers.bench import Bench, Report
from weighd_drivers.sim_parameters import BenchParameters

#: A machine that slept this long is not simulated through its sleep, seconds.
LONGEST_CATCH_UP = 5.0
#: Share of reports that come in two pieces.
SPLIT = 0.15


class SimulatedBench:
    """A bench scale that runs with the station's clock, and its plug.

    Every call acts at the present moment of that clock (once a source runs it), and may come
    from any thread. Masses in grams, flows in grams a second. Raises ``ValueError`` for a mass
    or flow that is not above zero, or not finite.
    """

    def __init__(
        self,
        parameters: BenchParameters | None = None,
        *,
        seed: int = 1,
        zero_at_plug: bool = False,
    ) -> None:
        self.parameters = parameters or BenchParameters()
        self._seed = seed
        self._zero_at_plug = zero_at_plug
        # Cutting into pieces has chance of its own, so that it cannot change the physics.
        self._cuts = random.Random(seed + 1)  # noqa: S311
        self._lock = threading.RLock()
        self._now: Now | None = None
        self._bench = Bench(self.parameters, random.Random(seed))  # noqa: S311
        self._signals: deque[Signal] = deque()
        self._plugged = True
        self._hushed = False
        self._listening = False

    # --- hands --------------------------------------------------------------------------------

    def pour(self, g_per_s: float) -> None:
        """Pour at about this flow until :meth:`stop`."""
        _above_zero(g_per_s)
        self._do(lambda bench: bench.load.pour(g_per_s))

    def stop(self) -> None:
        """Stop pouring; a few drops may follow."""
        self._do(lambda bench: bench.load.pour(0))

    def tap(self, grams: float) -> None:
        """Tap about so much off a spoon."""
        _above_zero(grams)
        self._do(lambda bench: bench.load.tap(grams))

    def vessel(self, mass_g: float, contents_g: float = 0.0) -> None:
        """Set a vessel down, with ``contents_g`` in it; one that stands there is taken away
        first."""
        _above_zero(mass_g)
        if contents_g:
            _above_zero(contents_g)
        self._do(lambda bench: bench.load.set_down(mass_g, contents_g))

    def pour_out(self, grams: float) -> None:
        """Pour so much out of the vessel in the hand, or of the one on the pan."""
        _above_zero(grams)
        self._do(lambda bench: bench.load.pour_out(grams))

    def lift(self) -> None:
        """Lift the vessel and keep it in hand; with none there, wipe the pan."""
        self._do(lambda bench: bench.load.lift())

    def put_back(self) -> None:
        """Put the lifted vessel back with what is in it."""
        self._do(lambda bench: bench.load.put_back())

    def take(self, grams: float) -> None:
        """Take some out with a spoon."""
        _above_zero(grams)
        self._do(lambda bench: bench.load.take(grams))

    def weight(self, mass_g: float) -> None:
        """Put a check weight on the pan, instead of one that is there; 0 takes it off."""
        if mass_g:
            _above_zero(mass_g)
        self._do(lambda bench: bench.load.put_weight(mass_g))

    def bump(self, strength: float = 1.0) -> None:
        """Knock against the bench."""
        self._do(lambda bench: bench.load.bump(strength))

    def rest_hand(self, grams: float = 80.0, seconds: float = 2.0) -> None:
        """Rest a hand on the pan."""
        self._do(lambda bench: bench.load.press(grams, seconds))

    def zero(self) -> None:
        """Press the scale's own zero key."""
        self._do(lambda bench: bench.zero())

    # --- the cable ----------------------------------------------------------------------------

    def unplug(self) -> None:
        """Pull the cable out."""
        with self._lock:
            t = self._catch_up()
            if self._plugged:
                self._plugged = False
                while self._signals and self._signals[-1].t > t:
                    self._signals.pop()  # half a report was still on the cable
                if self._listening:
                    self._signals.append(Lost(t, "The cable was pulled out. Plug it in again."))

    def plug(self, *, zero: bool | None = None) -> None:
        """Put the cable back. ``zero``: the scale lost its power meanwhile and comes back at zero
        whatever stands on it (default: the setting ``zero_at_plug``)."""
        with self._lock:
            t = self._catch_up()
            if self._plugged:
                return
            self._plugged = True
            if self._zero_at_plug if zero is None else zero:
                self._bench.zero()
            if self._listening:
                self._signals.append(self.found(t))

    def hush(self, *, quiet: bool = True) -> None:
        """Plugged in, but saying nothing (a scale that fell asleep); ``quiet=False`` wakes it."""
        with self._lock:
            self._catch_up()
            self._hushed = quiet

    def switch_off(self) -> None:
        """Off, as by itself after a while: it says nothing."""
        self.hush()

    def switch_on(self) -> None:
        """On again; what stands on it then is its zero. Nothing where it was on."""
        with self._lock:
            self._catch_up()
            if self._hushed:
                self._bench.zero()
                self._hushed = False

    @property
    def plugged(self) -> bool:
        """Whether the cable is in."""
        with self._lock:
            return self._plugged

    # --- eyes ---------------------------------------------------------------------------------

    def picture(self) -> dict[str, float | bool | None]:
        """What somebody standing there sees: JSON values, masses as plain numbers in grams.

        ``load_g`` rests on the pan now; ``vessel_g`` and ``contents_g`` of the vessel on it
        (else ``None`` and 0); ``lifted`` whether a vessel is in hand; ``pour_g_s`` the hand's
        flow and ``flow_g_s`` what leaves the jug; ``in_air_g``, ``spilled_g``, and the totals
        ``poured_g`` and ``taken_g``; ``plugged``; ``off``, switched off or silent.
        """
        with self._lock:
            self._catch_up()
            load = self._bench.load
            vessel = load.vessel
            return {
                "load_g": round(load.static_g, 3),
                "vessel_on": vessel is not None,
                "vessel_g": None if vessel is None else round(vessel.mass_g, 3),
                "contents_g": 0.0 if vessel is None else round(vessel.contents_g, 3),
                "lifted": load.lifted is not None,
                "pour_g_s": round(load.rate, 3),
                "flow_g_s": round(load.flow, 3),
                "in_air_g": round(load.in_air_g, 3),
                "spilled_g": round(load.spilled_g, 3),
                "poured_g": round(load.poured_g, 3),
                "taken_g": round(load.taken_g, 3),
                "plugged": self._plugged,
                "off": self._hushed,
            }

    # --- for the source -----------------------------------------------------------------------

    def begin(self, now: Now) -> None:
        """Run with this clock from here on, and say whether the scale is there."""
        with self._lock:
            t = now()
            if self._now is None and t < self._bench.t:
                raise ValueError("a clock does not run backwards")
            self._bench.skip(t)
            self._now = now
            self._listening = True
            self._signals.clear()
            first = self.found(t) if self._plugged else Lost(t, "The cable is not in.")
            self._signals.append(first)

    def end(self) -> None:
        """Nobody listens any more; what happens on the bench stays as it is."""
        with self._lock:
            self._now = None
            self._listening = False
            self._signals.clear()

    def collect(self) -> list[Signal]:
        """What the scale sent up to now, oldest first; a piece that is still coming waits."""
        with self._lock:
            t = self._catch_up()
            out: list[Signal] = []
            while self._signals and self._signals[0].t <= t:
                out.append(self._signals.popleft())
            return out

    @property
    def next_t(self) -> float:
        """When something is to be collected next, seconds of the clock."""
        with self._lock:
            return self._signals[0].t if self._signals else self._bench.next_report

    def found(self, t: float) -> Found:
        """The scale as it introduces itself."""
        p = self.parameters
        return Found(
            t,
            f"simulated scale, {p.rate_hz:g} readings a second",
            {"max_g": format(p.capacity_g, "f"), "interval_g": format(p.interval_g, "f")},
        )

    def _do(self, what: Callable[[Bench], None]) -> None:
        with self._lock:
            self._catch_up()
            what(self._bench)

    def _catch_up(self) -> float:
        if self._now is None:
            return self._bench.t
        t = max(self._now(), self._bench.t)
        if t - self._bench.t > LONGEST_CATCH_UP:
            self._bench.skip(t - LONGEST_CATCH_UP / 5)
        for report in self._bench.advance(t):
            if self._plugged and not self._hushed and self._listening:
                self._send(report)
        return t

    def _send(self, report: Report) -> None:
        """Queue a report as a reader would get it: mostly whole, now and then in two pieces."""
        last = self._signals[-1].t if self._signals else 0.0
        t = round(max(report.t, last), 6)  # as a recording keeps it
        if self._cuts.random() >= SPLIT:
            self._signals.append(Bytes(t, report.data))
            return
        cut = self._cuts.randrange(1, len(report.data))
        later = round(t + self._cuts.uniform(0.05, 0.2) / self.parameters.rate_hz, 6)
        self._signals.append(Bytes(t, report.data[:cut]))
        self._signals.append(Bytes(later, report.data[cut:]))


def _above_zero(value: float) -> None:
    if not 0 < value < 1e6:
        raise ValueError(f"a mass or flow is above zero and below a tonne, not {value}")
