"""The kitchen itself: vessels, pours, cables and time. It knows nothing of the station.

Times are whole milliseconds. What scales send goes out as the cable delivers it; whatever is to be
told to a station goes through ``deliver``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from tests.simulation.chance import Chance
from tests.simulation.scales import Scale, Vessel
from tests.simulation.setting import Setting
from weighd.station.inputs import Heard, Input, LinkFound, LinkLost, Tick

#: An idle scale is heard this often, so that it is not silent: milliseconds.
IDLE_MS = 1400
TICK_MS = 1000
_DAMAGES = ("bit flipped", "digit misread", "bytes lost", "report lost", "noise", "sent twice")
#: Amounts less than this are nothing, grams.
DUST_G = 1e-9
#: A key pressed so soon after a report was damaged is told from no lift, milliseconds.
MISREAD_MS = 1000


@dataclass(eq=False)
class Flow:
    """Something being poured: into a vessel, out of another."""

    into: Vessel
    ingredient: str
    left_g: float
    g_per_ms: float
    out_of: Vessel | None = None


class World:
    """Scales, vessels and whatever is poured.

    ``busy``    the scales that somebody works at: the others report seldom.
    ``chance``  of the present turn.
    """

    def __init__(self, setting: Setting, deliver: Callable[[Input], object]) -> None:
        self.setting, self.deliver = setting, deliver
        #: When a report was last damaged.
        self.damaged_ms = -MISREAD_MS
        #: Until then cables damage and hold up nothing; and when something began to flow last.
        self.calm_ms = self.began_ms = 0
        self.chance = Chance(setting.seed)
        #: Milliseconds since it all began, and since when the present life of the station goes on.
        self.ms = self.base_ms = 0
        self.scales = {one.name: Scale(one, self.chance) for one in setting.makes}
        self.busy: str = setting.makes[0].name
        self.vessels: dict[str, Vessel] = {}
        self.flows: list[Flow] = []
        self._flowed = 0
        self._tick = TICK_MS
        self._held: dict[str, bytes] = dict.fromkeys(self.scales, b"")
        #: What cables did, for the tally.
        self.told: list[str] = []

    @property
    def t(self) -> float:
        """The station's clock, seconds."""
        return (self.ms - self.base_ms) / 1000

    # --- vessels --------------------------------------------------------------------------------

    def vessel(self, name: str, empty_g: float) -> Vessel:
        """A vessel by its name; a new one the first time."""
        if name not in self.vessels:
            self.vessels[name] = Vessel(name, empty_g)
        return self.vessels[name]

    def where(self, vessel: Vessel) -> Scale | None:
        """The scale that a vessel stands on."""
        return next((one for one in self.scales.values() if one.on is vessel), None)

    def put(self, vessel: Vessel, scale: str) -> None:
        """Set a vessel down on a scale, from wherever it is; what stood there goes."""
        was = self.where(vessel)
        if was is not None:
            was.on = None
        self.scales[scale].on = vessel

    def pour(
        self, into: Vessel, ingredient: str, grams: float, g_per_s: float, out_of: Vessel | None
    ) -> Flow:
        """Begin to pour; it ends by itself."""
        flow = Flow(into, ingredient, grams, g_per_s / 1000, out_of)
        self.flows.append(flow)
        self.began_ms = self.ms
        return flow

    # --- time -----------------------------------------------------------------------------------

    def advance(self, ms: int) -> None:
        """Let time pass: pours go on, scales report, the station's clock ticks."""
        until = self.ms + ms
        scales = list(self.scales.values())
        while True:
            first = scales[0]
            for one in scales:
                if one.due < first.due:
                    first = one
            if self._tick < first.due:
                if self._tick > until:
                    break
                self.ms = self._tick
                self._tick += TICK_MS
                self.deliver(Tick(self.t))
                continue
            if first.due > until:
                break
            self.ms = max(first.due, self.ms)
            self._pour_on()
            self._report(first)
        self.ms = until
        for one in scales:
            one.ms = until
        self._pour_on()

    def holds_back(self, scale: str) -> bool:
        """Whether a report of the scale is still on its way."""
        return bool(self._held[scale])

    def sleep(self, ms: int) -> None:
        """A long time in which nobody looks: scales report once at its end, if at all."""
        self.ms += ms
        self._pour_on()
        self._tick = self.ms + TICK_MS
        self.deliver(Tick(self.t))
        for one in self.scales.values():
            one.ms = self.ms
            one.due = self.ms + self.chance.randint(1, one.period)

    def _pour_on(self) -> None:
        past, self._flowed = self.ms - self._flowed, self.ms
        if not self.flows or past <= 0:
            return
        for flow in self.flows:
            grams = min(flow.left_g, flow.g_per_ms * past)
            flow.left_g -= grams
            if flow.out_of is not None:
                for name, one in flow.out_of.take(grams).items():
                    flow.into.add(name, one)
            else:
                flow.into.add(flow.ingredient, grams)
        self.flows = [one for one in self.flows if one.left_g > DUST_G]

    def _report(self, scale: Scale) -> None:
        work = scale.name == self.busy
        scale.due += scale.period if work else max(IDLE_MS, scale.period)
        if scale.asleep:
            return
        data = scale.report(self.ms, self.chance)
        if not scale.plugged:
            return
        if self.setting.dirt and self.chance.often(self.setting.dirt) and self.ms >= self.calm_ms:
            data = self._damaged(data)
        self._send(scale.name, data)

    # --- cables ---------------------------------------------------------------------------------

    def _damaged(self, data: bytes) -> bytes:
        chance = self.chance
        at = chance.randrange(len(data))
        how = chance.randrange(6)
        self.told.append(_DAMAGES[how])
        self.damaged_ms = self.ms
        match how:
            case 0:
                return data[:at] + bytes([data[at] ^ 1 << chance.randrange(8)]) + data[at + 1 :]
            case 1:
                digits = [n for n, code in enumerate(data) if 48 <= code <= 57]
                at = chance.choice(digits) if digits else at
                return data[:at] + bytes([chance.choice(b"0123456789")]) + data[at + 1 :]
            case 2:
                return data[:at] + data[at + chance.randint(1, 6) :]
            case 3:
                return b""
            case 4:
                return data + chance.randbytes(chance.randint(1, 12))
            case _:
                return data + data

    def _send(self, name: str, data: bytes) -> None:
        """What the cable delivers of it, and when."""
        how, chance = self.setting.chunks, self.chance
        if how == "mixed":
            how = chance.choice(("whole", "pieces", "late"))
        held = self._held[name]
        if how == "late" and len(held) < 60 and chance.often(0.4) and self.ms >= self.calm_ms:
            self._held[name] = held + data
            return
        data, self._held[name] = held + data, b""
        if not data:
            return
        if how == "pieces" and len(data) > 1:
            at = chance.randrange(1, len(data))
            self.deliver(Heard(self.t, name, data[:at]))
            data = data[at:]
        elif how == "bytes" and chance.often(0.1):
            for n in range(len(data) - 1):
                self.deliver(Heard(self.t, name, data[n : n + 1]))
            data = data[-1:]
        self.deliver(Heard(self.t, name, data))

    def unplug(self, name: str, why: str = "unplugged") -> None:
        """Pull its cable; what was on its way is lost."""
        scale = self.scales[name]
        if scale.plugged:
            scale.plugged = False
            self._held[name] = b""
            self.deliver(LinkLost(self.t, name, why))

    def plug(self, name: str) -> None:
        """Put it back in."""
        scale = self.scales[name]
        if not scale.plugged:
            scale.plugged = True
            self.deliver(LinkFound(self.t, name, "a simulated scale"))
