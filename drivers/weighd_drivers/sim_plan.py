"""Hands that carry vessels about as a plan says, between several simulated benches.

The cook (``cook``) looks at one scale and pours. What a plan asks for besides, setting the bowl or
an empty dish down, tipping a dish into the bowl, stirring a premix, is done here, once for each
weighing, before the cook sees the scale.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol


class Pan(Protocol):
    """What hands do at one scale (:class:`~weighd_drivers.sim_handle.SimulatedBench`)."""

    def picture(self) -> Mapping[str, Any]: ...
    def vessel(self, mass_g: float) -> None: ...
    def tap(self, grams: float) -> None: ...
    def lift(self) -> None: ...


class PlanHands:
    """Carries out the acts of a plan.

    ``pans``    the scales by name.
    ``bowl_g``  mass of the empty bowl; ``dish_g`` of a dish, in grams.
    """

    def __init__(
        self, pans: Mapping[str, Pan], *, bowl_g: float = 380.0, dish_g: float = 61.0
    ) -> None:
        self._pans = pans
        self._empty_g = bowl_g
        self._dish_g = dish_g
        self._bowl_g = bowl_g
        self._bowl_on: str | None = None
        self._batch = ""
        self._done: set[int] = set()

    def follow(self, state: Mapping[str, Any]) -> bool:
        """Do what comes before the present weighing, if it was not done yet; whether anything was.

        ``state``  the picture of the state.
        """
        batch = state.get("batch")
        if not batch or not batch.get("acts"):
            return False
        if batch["id"] != self._batch:
            self._batch, self._done = batch["id"], set()
            self._bowl_g, self._bowl_on = self._empty_g, None
            for pan in self._pans.values():
                if pan.picture()["vessel_on"]:
                    pan.lift()
        n = batch["current"]
        if n is None:  # over: what is still in a dish goes in
            n = len(batch["additions"]) + 1
        if n in self._done:
            return False
        self._done.add(n)
        todo = [one for one in batch["acts"] if one["n"] == n and one["scale"] in self._pans]
        for act in todo:
            self._do(act)
        return bool(todo)

    def _do(self, act: Mapping[str, Any]) -> None:
        pan, kind = self._pans[act["scale"]], act["vessel"].partition(" ")[0]
        match act["do"]:
            case "set down" if kind == "bowl":
                if self._bowl_on != act["scale"]:
                    self._take_bowl()
                    pan.vessel(self._bowl_g)
                    self._bowl_on = act["scale"]
            case "set down" if kind in ("dish", "premix"):
                pan.vessel(self._dish_g)
            case "take off" if kind == "bowl":
                self._take_bowl()
            case "tip in":
                self._tip(float(pan.picture()["contents_g"]))
                pan.lift()
            case "stir":
                pan.lift()

    def _take_bowl(self) -> None:
        """Off its scale, with what is in it."""
        if self._bowl_on is None:
            return
        pan = self._pans[self._bowl_on]
        seen = pan.picture()
        if seen["vessel_on"]:
            self._bowl_g = float(seen["vessel_g"]) + float(seen["contents_g"])
            pan.lift()
        self._bowl_on = None

    def _tip(self, grams: float) -> None:
        if grams <= 0:
            return
        if self._bowl_on is None:
            self._bowl_g += grams
        else:
            self._pans[self._bowl_on].tap(grams)
