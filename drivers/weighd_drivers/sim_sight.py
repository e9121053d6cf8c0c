"""What a cook sees of the station's picture, read once into plain numbers (grams)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from weighd_drivers.sim_habits import Press

#: With nobody looking at the pan, more than this on the display counts as a vessel, grams.
A_VESSEL_G = 20.0


@dataclass(frozen=True, slots=True)
class Sight:
    """The addition being weighed, as seen; ``None`` where the picture shows no number."""

    batch: str
    n: int
    phase: str
    verdict: str | None
    held: str
    cans: tuple[str, ...]
    lot: str
    half_g: float
    interval_g: float
    gross_g: float | None
    tare_g: float | None
    net_g: float | None
    to_go_g: float | None
    sum_g: float | None
    vessel_on: bool
    lifted: bool
    spilled: bool
    #: It was said that some is taken out, and it still stands there.
    takes_out: bool
    target_g: float = 0.0
    #: What leaves its own vessel counts; what the addition before left still stands there.
    out: bool = False
    left: bool = False

    def can(self, do: str) -> bool:
        """Whether this may be pressed now."""
        return do in self.cans

    def may(self, press: Press) -> bool:
        """Whether a press that was planned before still goes with what is seen."""
        if (press.batch, press.addition) != (self.batch, self.n):
            return False
        return self.can("accept with reason" if press.reason else press.do)

    def press(self, do: str, *, reason: str = "", lot: str = "") -> Press:
        """A press meant for this addition."""
        return Press(do, self.batch, self.n, reason, lot)

    @property
    def near_g(self) -> float:
        """Nearer to the target than this, a cook lets it settle before adding more."""
        return max(0.4 * self.half_g, 0.6 * self.interval_g)

    @property
    def scale_is_gone(self) -> bool:
        """Held until the scale is back by itself."""
        return self.held in ("scale lost", "scale silent")

    @property
    def mark(self) -> tuple[object, ...]:
        """What changes when anything moves: masses to two intervals."""
        masses = (self.gross_g, self.net_g)
        coarse = [None if one is None else round(one / (2 * self.interval_g)) for one in masses]
        doing = (self.phase, self.verdict, self.held, self.cans, self.lot)
        return (self.batch, self.n, *doing, *coarse, self.vessel_on, self.lifted)


def see(state: Mapping[str, Any], pan: Mapping[str, Any] | None = None) -> Sight | None:
    """The addition being weighed; ``None`` when no batch is open.

    ``state``  the picture of the state. ``pan``  what is seen of the scale itself, if anything.
    """
    batch, live = state.get("batch"), state.get("live")
    if not batch or not live or batch["status"] != "open":
        return None
    if live.get("checking"):
        return None  # the scale is somebody's who checks it: hands off
    n = live["addition"]
    planned = next(one for one in batch["additions"] if one["n"] == n)
    scale = state["scales"][live["scale"]]
    gross = _number(live["gross_g"])
    if gross is None and scale["reading"]:
        gross = _number(scale["reading"]["grams"])
    held = live["held"] or {}
    on = (gross or 0.0) > A_VESSEL_G if pan is None else bool(pan["vessel_on"])
    total = live.get("sum_g") or held.get("sum_g")
    return Sight(
        batch=live["batch"],
        n=n,
        phase=live["phase"],
        verdict=live["verdict"],
        held=held.get("cause", ""),
        cans=tuple(live["can"]),
        lot=planned["lot"],
        half_g=(float(planned["high_g"]) - float(planned["low_g"])) / 2,
        interval_g=float(scale["interval_g"] or 0.1),
        gross_g=gross,
        tare_g=_number(live["tare_g"]),
        net_g=_number(live["net_g"]),
        to_go_g=_number(live["to_go_g"]),
        sum_g=_number(total),
        vessel_on=on,
        lifted=True if pan is None else bool(pan["lifted"]),
        spilled=pan is not None and float(pan["spilled_g"]) > 0,
        target_g=(float(planned["low_g"]) + float(planned["high_g"])) / 2,
        out=planned.get("method") == "by difference",
        left=bool(live.get("left")),
        takes_out=bool(live.get("taking_out")) and live["verdict"] == "over",
    )


def _number(value: str | None) -> float | None:
    return None if value is None else float(value)
