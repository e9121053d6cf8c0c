"""A simulated cook on shift: a thread that looks, acts on the bench and presses keys."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping
from typing import Any

from weighd.domain.errors import WeighdError
from weighd.station.ports import Now
from weighd_drivers.cook import Cook
from weighd_drivers.sim_habits import (
    Action,
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
from weighd_drivers.sim_handle import SimulatedBench
from weighd_drivers.sim_plan import PlanHands

#: A cook looks this often, seconds of the station's clock; and bounds in seconds of the wall.
LOOK_S = 0.03
FASTEST, SLOWEST = 0.002, 0.05

Look = Callable[[], Mapping[str, Any]]
Command = Callable[[dict[str, Any]], Mapping[str, Any]]
Speak = Callable[[str], None]


def perform(
    action: Action, bench: SimulatedBench, command: Command, say: Speak, by: str = ""
) -> None:
    """Do one thing. Raises what ``command`` raises where a key is refused."""
    match action:
        case Pour(rate):
            if rate > 0:
                bench.pour(rate)
            else:
                bench.stop()
        case Tap(grams):
            bench.tap(grams)
        case Take(grams):
            bench.take(grams)
        case SetDown(mass, contents):
            bench.vessel(mass, contents)
        case PourOut(grams):
            bench.pour_out(grams)
        case Lift():
            bench.lift()
        case PutBack():
            bench.put_back()
        case ZeroKey():
            bench.zero()
        case Press():
            command(action.command(by))
        case Say(text):
            say(text)


class Shift:
    """Runs a cook in a thread until stopped; ``working`` takes the jug away and gives it back.

    ``look``     the picture of the state, newest; any thread may call it.
    ``command``  a command as :meth:`Press.command` makes it; raises an error of weighd's when it
                 is refused. ``now`` is the station's clock.
    ``pans``     every scale by its name, where there are several: ``bench`` is the first.
    """

    def __init__(
        self,
        cook: Cook,
        bench: SimulatedBench,
        look: Look,
        command: Command,
        now: Now,
        say: Speak,
        by: str = "",
        pans: Mapping[str, SimulatedBench] | None = None,
    ) -> None:
        self._pans = pans or {}
        self._hands = PlanHands(self._pans) if len(self._pans) > 1 else None
        self._cook = cook
        self._bench = bench
        self._look = look
        self._command = command
        self._now = now
        self._say = say
        self._by = by
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="cook", daemon=True)

    @property
    def working(self) -> bool:
        """Whether the cook works; set ``False`` so that a person may."""
        return self._cook.working

    @working.setter
    def working(self, value: bool) -> None:
        # No lock: whoever switches may be the one the cook's command is waiting for. The jug is
        # put down at the next look.
        self._cook.working = value

    def start(self) -> None:
        """Begin the shift."""
        self._thread.start()

    def stop(self) -> None:
        """End the shift: the jug is put down. Waits for the thread, a second at the most."""
        self._stop.set()
        if self._thread.is_alive() and self._thread is not threading.current_thread():
            self._thread.join(1.0)

    def _run(self) -> None:
        speed, wall, station = 1.0, time.monotonic(), self._now()
        while not self._stop.wait(min(max(LOOK_S / speed, FASTEST), SLOWEST)):
            self._act_once()
            passed = time.monotonic() - wall
            if passed > 0.2:
                speed = max((self._now() - station) / passed, 0.01)
                wall, station = time.monotonic(), self._now()
        if self._cook.pouring:
            for bench in (self._bench, *self._pans.values()):
                bench.stop()

    def _act_once(self) -> None:
        t = self._now()
        try:
            state = self._look()
        except WeighdError:
            return  # the station is stopping, or has not begun
        if self._hands is not None and self._cook.working and self._hands.follow(state):
            return
        live = state.get("live") or {}
        bench = self._pans.get(live.get("scale", ""), self._bench)
        for action in self._cook.step(t, state, bench.picture()):
            try:
                perform(action, bench, self._command, self._say, self._by)
            except WeighdError as error:
                for said in self._cook.refused(t, str(error)):
                    perform(said, bench, self._command, self._say)
