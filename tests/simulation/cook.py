"""A cook who does what comes next, sees what pages show, and tells the truth.

``Cook.next`` is one sensible act. Whatever happened before, so many of them end the batch: no phase
is a dead end. Where the only way left is to give the batch up, that is counted.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from tests.simulation.hands import Hands
from tests.simulation.scales import Scale, Vessel
from weighd.domain.acts import Handle, before
from weighd.domain.addition import Phase
from weighd.domain.batch import Batch, Cause, Planned
from weighd.station.inputs import Answer

#: Nothing has come of it for so long, milliseconds: something is wrong with the zero.
LONG_MS = 9000


class Cook(Hands):
    """One cook."""

    # --- one sensible act -------------------------------------------------------------------------

    def next(self) -> bool:
        """Do what comes next; whether there was anything to do."""
        if self.unanswered is not None:
            self.retry()
            return True
        batch = self.batch
        if batch is None:
            return False
        planned = batch.current
        assert planned is not None
        scale, station = self.scale_of(planned), self.house.station
        self.world.busy = scale.name
        if not scale.plugged or scale.asleep:
            self.world.plug(scale.name)
            scale.asleep = False
            self.wait()
            return True
        if station.checking.holds(scale.name):
            self.press("stop check", scale=scale.name)
            self.clear(scale)
            if station.checking.holds(scale.name):  # it shows something all the same
                self.zeroed(scale)
                self.rest(scale)
            return True
        if batch.held is not None and batch.held.cause.of_the_scale:
            self._heal(batch, planned, scale)
            return True
        if self._handle(batch, planned):
            return True
        self._weigh(batch, planned, scale)
        return True

    def _handle(self, batch: Batch, planned: Planned) -> bool:
        """What a plan says is done with vessels before a weighing; once for each."""
        if planned.step is None or self._handled.get(batch.id, 0) >= planned.n:
            return False
        self._handled[batch.id] = planned.n
        self.handle(batch, planned.n)
        return True

    def handle(self, batch: Batch, n: int) -> None:
        """Vessels set down, tipped in, stirred, cleared."""
        bowl = self.world.vessel(f"{batch.id} bowl", self.setting.bowl_g)
        for act in before(batch.additions, n):
            vessel = self.world.vessel(
                f"{batch.id} {act.vessel}", self.setting.bowl_g if act.vessel == "bowl" else 61.283
            )
            scale = self.world.scales[act.scale]
            match act.do:
                case Handle.SET:
                    pass  # as it is weighed
                case Handle.TIP:
                    for name, grams in vessel.take(vessel.contents_g).items():
                        bowl.add(name, grams)
                    scale.on = None if scale.on is vessel else scale.on
                case _:
                    scale.on = None if scale.on is vessel else scale.on
        self.wait()

    def _weigh(self, batch: Batch, planned: Planned, scale: Scale) -> None:
        station = self.house.station
        now, vessel = station.now, self.vessel_of(batch, planned)
        if batch.tare is None:
            self._tare(batch, planned, scale, vessel)
            return
        if scale.on is not vessel or scale.extra_g:
            self.set_down(vessel, scale)
            return
        if scale.display_g > scale.make.max_g:
            self._too_heavy(batch, planned, scale, vessel)
            return
        if now.claim is None:
            waited = self._waited(batch, planned)
            off = abs(scale.zero_g) > 0.4 * scale.d
            if waited > LONG_MS and off:
                self._anew(scale)
                self.rest(scale)
                return
            if waited > 2 * LONG_MS and "tare" in station.can():
                # It stands there otherwise than it was tared, or is empty, and nothing went in yet.
                if planned.by_difference:
                    self._fill_up(planned, scale, vessel)
                self.press("tare", addition=planned.n, batch=batch.id, confirm=True)
                return
            if now.phase is not Phase.HELD:
                if now.sum_g is None or now.sum_g < planned.low_g:
                    self._fill(planned, scale, batch)
                self.rest(scale)
                return
        else:
            self.waiting = None
        self._decide(batch, planned, scale)

    def _waited(self, batch: Batch, planned: Planned) -> int:
        """How long nothing has come of this addition, milliseconds."""
        here = (batch.id, planned.n, self.house.station.now.phase)
        if self.waiting is None or self.waiting[0] != here:
            self.waiting = (here, self.world.ms)
        return self.world.ms - self.waiting[1]

    def _tare(self, batch: Batch, planned: Planned, scale: Scale, vessel: Vessel) -> None:
        if scale.zero_g and abs(scale.zero_g) > 0.4 * scale.d:
            # The empty scale is off: zeroed before anything is set on it.
            self.clear(scale)
            scale.zero()
            self.wait()
        if scale.on is not vessel or scale.extra_g:
            if scale.on is not None:
                self.clear(scale)
            self.set_down(vessel, scale)
        elif self.house.station.now.level is None:
            self.rest(scale)
        if scale.load_g > scale.make.max_g:
            self._too_heavy(batch, planned, scale, vessel)
            return
        if planned.by_difference:
            self._fill_up(planned, scale, vessel)
        answer = self.press("tare", addition=planned.n, batch=batch.id, by=self.somebody())
        self.emptied.discard(scale.name)
        if answer is None and self.code in ("same-vessel", "other-vessel", "not-as-expected"):
            self.press("tare", addition=planned.n, batch=batch.id, confirm=True)
        elif answer is None and self.code == "no-vessel":
            if self.press("tare", addition=planned.n, confirm=True) is None:
                self.rest(scale)  # it was only just set down
        elif answer is None and self.code == "zero-is-off":
            self.clear(scale)
            scale.zero()
            self.wait()
        elif answer is None and self.code not in ("", "not-settled") and self.chance.often(0.5):
            self.press("tare", addition=planned.n, confirm=True)

    def _anew(self, scale: Scale) -> None:
        """Everything off, the empty scale zeroed, and the vessel set back."""
        vessel = scale.on
        self.clear(scale)
        scale.zero()
        self.emptied.add(scale.name)  # whatever becomes of the station meanwhile
        self.rest(scale)
        if vessel is not None:
            self.set_down(vessel, scale)

    def _too_heavy(self, batch: Batch, planned: Planned, scale: Scale, vessel: Vessel) -> None:
        """The scale cannot bear it: on another one, or not at all."""
        more = float(planned.high_g) if not planned.by_difference else 0.0
        for other in self.world.scales.values():
            room = other.make.max_g - vessel.mass_g - more
            if other is not scale and room > 0 and "use scale" in self.house.station.can():
                if self.press("use scale", batch=batch.id, scale=other.name) is not None:
                    self.clear(scale)
                elif self.code == "scale-not-checked":
                    self.check(other)
                elif self.code == "scale-being-checked":
                    self.press("stop check", scale=other.name)
                return
        self.give_up("no scale bears the vessel")

    def _fill_up(self, planned: Planned, scale: Scale, vessel: Vessel) -> None:
        """A source is filled before it is tared, never after."""
        most = float(scale.make.max_g) - 230
        least = min(float(planned.high_g) * 1.3 + 60, most)
        if vessel.contents_g < float(planned.high_g):
            vessel.add(planned.ingredient, least - vessel.contents_g)
            self.wait()

    def _fill(self, planned: Planned, scale: Scale, batch: Batch, least_g: float = 0.0) -> None:
        """Pour what the page says is to go: ``least_g`` of it, as long as the display says so."""
        tare = batch.tare
        assert tare is not None
        middle = float(planned.low_g + planned.high_g) / 2
        half = float(planned.high_g - planned.low_g) / 2
        net = float(planned.net_g(Decimal(repr(scale.display_g)), tare.level.grams))
        if net < -max(6 * scale.d, 1.0):
            self._anew(scale)  # less than nothing: its zero is not what it was
            return
        self.pour(max(middle + half * self.chance.uniform(-0.4, 0.4) - net, least_g))

    def _decide(self, batch: Batch, planned: Planned, scale: Scale) -> None:
        """Judged or held: accept it, or put it right."""
        can = self.house.station.can()
        given: dict[str, Any] = {"addition": planned.n, "batch": batch.id}
        empty = planned.by_difference and self.vessel_of(batch, planned).contents_g < 1e-6
        claim = self.house.station.now.claim
        barred = claim is not None and not {"accept", "accept with reason"} & set(can)
        if scale.name in self.emptied and "weigh again" in can:
            if self.press("weigh again", **given) is not None:
                self.emptied.discard(scale.name)
        elif "accept" in can:
            if self.accept(**given) is None:
                self.wait(400)  # the clock was set: the next reading is judged by the new one
        elif barred:
            self.check(scale)
        elif empty and "accept with reason" in can:
            self.accept(reason="there was no more", **given)
        elif "top up" in can and self._short(planned):
            if self.press("top up", **given) is not None:
                self._fill(planned, scale, batch, scale.d / 4)
        elif claim is None and "take out" in can:
            self.press("take out", **given)  # all of it is out, or back, already
        elif "take out" in can and self.chance.often(0.6) and not planned.by_difference:
            if self.press("take out", **given) is not None:
                self._take_out(batch, planned, scale)
        elif "accept with reason" in can:
            self.accept(reason="it will do", **given)
        elif self._short(planned):
            self._fill(planned, scale, batch)
        else:
            self.wait()

    def _short(self, planned: Planned) -> bool:
        claim = self.house.station.now.claim
        return claim is not None and claim.net_g < planned.low_g

    def _take_out(self, batch: Batch, planned: Planned, scale: Scale) -> None:
        vessel, tare = self.vessel_of(batch, planned), batch.tare
        assert tare is not None
        net = float(planned.net_g(Decimal(repr(scale.display_g)), tare.level.grams))
        grams = max(net - float(planned.low_g + planned.high_g) / 2, 0.0)
        if grams > 0:
            bin_ = self.world.vessel("the bin", 1.0)
            self.world.pour(bin_, planned.ingredient, grams, max(grams / 0.6, 1.0), vessel)
        self.wait()

    # --- a scale that went ------------------------------------------------------------------------

    def _heal(self, batch: Batch, planned: Planned, scale: Scale) -> None:
        """The scale is back: what stands on it is looked at, and questions are answered truly."""
        station, vessel = self.house.station, self.vessel_of(batch, planned)
        held = batch.held
        assert held is not None
        given: dict[str, Any] = {"addition": planned.n, "batch": batch.id}
        if scale.load_g > scale.make.max_g:
            self._too_heavy(batch, planned, scale, vessel)
            return
        if held.cause is not Cause.SCALE_AT_ZERO:
            if scale.on is not vessel:
                self.set_down(vessel, scale)
            self.rest(scale)
            still = self.house.station.batch
            if still is batch and "weigh again" in station.can():
                self.press("weigh again", **given)
            return
        if self._as_told(batch, planned, scale) and "resume" in station.can():
            self.press("resume", **given)
            return
        self.clear(scale)
        scale.zero()
        self.emptied.add(scale.name)
        self.rest(scale)
        self.set_down(vessel, scale)
        if self.house.station.batch is not batch:
            return
        if "weigh again" in self.house.station.can():
            if self.press("weigh again", **given) is not None:
                self.emptied.discard(scale.name)
        elif self.house.station.batch is batch:
            code = (self.press("weigh again", **given) and "") or self.code
            if code == "zero-unknown":
                self.give_up("the vessel was tared by the scale's own key")

    def _as_told(self, batch: Batch, planned: Planned, scale: Scale) -> bool:
        """Whether the vessel stands there and holds what the page says was in."""
        held, tare, vessel = batch.held, batch.tare, self.vessel_of(batch, planned)
        assert held is not None
        assert tare is not None
        if scale.on is not vessel or scale.extra_g or scale.name in self.emptied:
            return False
        then = self.truth.load_g(scale.name, tare.evidence)
        sign = -1 if planned.by_difference else 1
        told = self.house.station.now.sum_g or held.sum_g or Decimal(0)
        return then is not None and abs(sign * (vessel.mass_g - then) - float(told)) <= 2 * scale.d

    def give_up(self, why: str) -> None:
        """Abandon the batch, where nothing else is left."""
        self.tally.saw("given up", why)
        self.press("abandon", reason=why)

    def check(self, scale: Scale) -> None:
        """Check a scale with its weight, as is asked for."""
        self.world.plug(scale.name)
        self.clear(scale)
        if abs(scale.zero_g) > 0.4 * scale.d:
            self.zeroed(scale)
            self.rest(scale)
        if self.press("start check", scale=scale.name, by=self.somebody()) is None:
            return
        self.rest(scale)
        scale.extra_g = 500.0
        self.rest(scale)
        scale.extra_g = 0.0
        self.rest(scale)

    # --- starting ---------------------------------------------------------------------------------

    def start(self) -> Answer | None:
        """Start the next batch."""
        chance, setting = self.chance, self.setting
        given: dict[str, Any] = {"formula": setting.content, "by": self.somebody()}
        first = setting.makes[0]
        if setting.planned:
            given |= {"plan": True, "bowl_g": str(setting.bowl_g), "dish_g": "61"}
            if chance.often(0.5) and setting.formula.additions[0].target_g < first.max_g:
                given["dish_holds_g"] = "300"
        else:
            given["scale"] = first.name
        if chance.often(0.3):
            share = chance.uniform(0.4, 1.0)
            whole = sum(one.target_g for one in setting.formula.additions)
            given["batch_g"] = str(round(float(whole) * share, 1))
        if setting.shelf and chance.often(0.5):
            given["vessel"] = "bowl"
        for scale in self.world.scales.values():
            self.world.plug(scale.name)
            if abs(scale.zero_g) > 0.4 * scale.d or scale.on is not None:
                self.clear(scale)
                scale.zero()
        self.wait(800)
        answer = self.press("start", **given)
        if answer is None and self.code in ("scale-not-checked", "scale-check-failed"):
            self.check(self.world.scales[setting.makes[0].name])
        if answer is not None:
            self.started += 1
        return answer
