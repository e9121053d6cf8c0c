"""One batch in virtual time: the real station, a simulated bench, and a cook who goes by the page.

The cook is the demonstration's: it sees the picture that pages see and what stands on the pan,
and nothing else. Somebody else pulls the cable out (:class:`Pull`). What truly lies in the vessel
is known here and nowhere in the station.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from tests.station.scripted import formula
from weighd.domain.errors import OperatorError
from weighd.domain.record import Entry
from weighd.domain.verify import Verifier
from weighd.main.drivers import reread
from weighd.station.inputs import ClockSet, Command, Heard, Input, LinkFound, LinkLost, Tick
from weighd.station.picture import Picture
from weighd.station.ports import Bytes, Found, Lost, Signal
from weighd.station.runner import run_through
from weighd.station.scale import Setup
from weighd.station.station import Station
from weighd.storage.memory import MemoryJournal
from weighd_drivers.cook import Cook
from weighd_drivers.sim_handle import SimulatedBench
from weighd_drivers.sim_shift import perform
from weighd_drivers.simulated import DRIVER

#: A display shows about what lay there so long ago: half its filter, and its delay, seconds.
DISPLAY_S = 0.2
#: A net may be off by so many standard uncertainties.
K = 3
#: How often the cook looks, seconds.
LOOK_S = 0.05
#: A batch that takes longer does not go on, seconds: an undisturbed one takes about 50.
LONGEST_S = 400.0
FORMULA = """
name = "Test ice"
scenario = "Invented, for the tests."
[ingredients]
milk = { name = "Milk", allergens = ["milk"] }
sugar = { name = "Sugar" }
salt = { name = "Salt" }
[[additions]]
ingredient = "milk"
target = "500 g"
tolerance = "1 %"
[[additions]]
ingredient = "sugar"
target = "60 g"
tolerance = "1 g"
[[additions]]
ingredient = "salt"
target = "4 g"
tolerance = "0.4 g"
"""
ADDITIONS = 3


@dataclass(frozen=True)
class Pull:
    """When the cable is pulled out, and what becomes of it.

    ``moment``    a phase of ``addition``, ``"being written"``, or ``"any"`` for a time alone.
    ``after_s``   so long after that moment began (for ``"any"``: after the batch did), seconds.
    ``away_s``    so long it stays out.
    ``zero``      whether the scale loses its power by it, and is at zero when it comes back.
    """

    moment: str
    addition: int
    after_s: float
    away_s: float
    zero: bool


class Evening:
    """A batch from start to record, the cable pulled once by plan, and again if it is held by it.

    ``seen``  the phase in which each pull found the addition.
    """

    def __init__(self, seed: int, pull: Pull, again_s: float | None = None) -> None:
        self.pull = pull
        self.again_s = again_s
        self.t = 0.0
        self.seen: list[str] = []
        self.journal = MemoryJournal("kitchen")
        self.bench = SimulatedBench(seed=seed)
        self.station = Station(
            "kitchen",
            [Setup("bench", "simulated", DRIVER.decoder({}), Decimal("0.1"), Decimal(6000))],
            version="0",
        )
        self.picture = Picture(self.station)
        self.pressed: dict[str, int | None] = {}
        self._truth: list[tuple[float, float]] = []
        self._chance = random.Random(seed)
        self._cook = Cook(random.Random(seed))
        self._began: float | None = None
        self._replug: float | None = None
        self._pulled = False
        self._slipped = False
        self.bench.begin(lambda: self.t)

    # --- the evening --------------------------------------------------------------------------

    def run(self) -> None:
        """Weigh until the batch is closed."""
        self._take(ClockSet(0.0, "2026-11-25T18:00:00.000Z"))
        self._hear()
        self._take(Command(0.0, "start", "start", "Tester", formula=formula(FORMULA).content()))
        while self.station.batch is not None and self.station.batch.current is not None:
            assert self.t < LONGEST_S, (self.pull, self._state()["live"], self.seen)
            self.t = round(self.t + LOOK_S, 6)
            self._hear()
            self._take(Tick(self.t))
            self._truth.append((self.t, float(self.bench.picture()["contents_g"] or 0)))
            self._cable()
            state = self._state()
            self._nothing_stale(state)
            for action in self._cook.step(self.t, state, self.bench.picture()):
                try:
                    perform(action, self.bench, self._press, lambda _: None)
                except OperatorError as error:
                    self._cook.refused(self.t, str(error))

    def _hear(self) -> None:
        for signal in self.bench.collect():
            self._take(_input(signal))

    def _take(self, event: Input) -> Any:
        answer = run_through(self.station.handle(event), self._append)
        self.picture.refresh()
        return answer

    def _press(self, given: dict[str, Any]) -> dict[str, Any]:
        key = f"{given['do']} {given['addition']} {self.t}"
        answer = self._take(Command(self.t, key=key, by="Tester", **given))
        self.pressed[key] = answer.entry
        return {}

    def _append(self, entries: Sequence[Entry]) -> None:
        here = any(one.body.get("addition") == self.pull.addition for one in entries)
        if here and self.pull.moment == "being written" and entries[0].kind == "addition accepted":
            # The disk takes its time, and in the middle of it the cable goes.
            self.t += self.pull.after_s
            self._out("being written")
            self.t += 0.1
        self.journal.append(entries)

    # --- the cable ----------------------------------------------------------------------------

    def _cable(self) -> None:
        if self._replug is not None:
            if self.t >= self._replug:
                self._replug = None
                self.bench.plug(zero=self.pull.zero)
            return
        live = self._state()["live"]
        if self._pulled:
            held = ((live or {}).get("held") or {}).get("cause", "")
            if self.again_s is not None and held.startswith("scale"):
                self.again_s = None
                self._out(held)
            return
        here = live is not None and live["addition"] == self.pull.addition
        if self.pull.moment == "held" and here:
            self._slip(live)
        reached = here and live["phase"] == self.pull.moment
        if self._began is None and (reached or self.pull.moment == "any"):
            self._began = self.t
        if self._began is not None and self.t >= self._began + self.pull.after_s:
            self._out(live["phase"])

    def _slip(self, live: dict[str, Any]) -> None:
        """The jug slips in mid-pour: far too much goes in."""
        if not self._slipped and live["phase"] == "pouring" and float(live["net_g"] or 0) > 0.5:
            self._slipped = True
            target = float(live["net_g"]) + float(live["to_go_g"])
            self.bench.tap(float(live["to_go_g"]) + min(25.0, 0.5 * target))

    def _out(self, phase: str) -> None:
        self.seen.append(phase)
        self._pulled = True
        self.bench.unplug()
        self._replug = self.t + self.pull.away_s

    # --- what must hold -----------------------------------------------------------------------

    def _contents(self, t: float) -> float:
        """What truly lay in the vessel when the display of ``t`` was being made."""
        return next(grams for at, grams in reversed(self._truth) if at <= t - DISPLAY_S)

    def _state(self) -> dict[str, Any]:
        return self.picture.state()

    def _nothing_stale(self, state: dict[str, Any]) -> None:
        """While the cable is out, no number is shown as live and nothing can be accepted."""
        scale, live = state["scales"]["bench"], state["live"]
        if live is None or scale["link"] == "live":
            return
        assert scale["reading"] is None
        assert (live["gross_g"], live["net_g"], live["verdict"]) == (None, None, None)
        assert not {"accept", "accept with reason", "tare"} & set(live["can"])

    def check(self) -> None:
        """The record is whole, and each net is what truly went in."""
        entries = list(self.journal.entries())
        verifier = Verifier(whole=True, reread=reread)
        for one in entries:
            verifier.take(one)
        assert verifier.finish().weighings == ADDITIONS
        kinds = [one.kind for one in entries]
        accepted = [one.body for one in entries if one.kind == "addition accepted"]
        assert [one["addition"] for one in accepted] == [1, 2, 3], "none twice, none lost"
        assert kinds[-1] == "batch closed"
        assert kinds.count("batch closed") == 1
        before = 0.0
        for body in accepted:
            now = self._contents(body["evidence"]["gross"][-1]["t"])
            off = float(body["net_g"]) - (now - before)
            assert abs(off) <= K * float(body["u_g"]), (self.pull, body["addition"], off)
            before = now
        # Every press that was answered is in the record as it was answered, and acts once.
        for key, seq in self.pressed.items():
            assert seq is None or entries[seq - 1].body["key"] == key
            if seq is not None:
                again = self._take(Command(self.t, "accept", key))
                assert (again.again, again.entry) == (True, seq)
        assert len(list(self.journal.entries())) == len(entries)


def _input(signal: Signal) -> Input:
    match signal:
        case Bytes(t, data):
            return Heard(t, "bench", data)
        case Lost(t, why):
            return LinkLost(t, "bench", why)
        case Found(t, what, facts):
            return LinkFound(t, "bench", what, facts)
