"""A check guided in the terminal: what to do next, a line each time that it changes."""

from __future__ import annotations

import select
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

from weighd.cli.check import found, lines
from weighd.cli.reach import Reached
from weighd.domain.errors import OperatorError

#: How often the station is asked, in seconds.
LOOK_S = 0.2


class Guided:
    """One check at a station. ``say`` prints a line."""

    def __init__(self, station: Reached, scale: str, by: str, say: Callable[[str], None]) -> None:
        self._station = station
        self._scale = scale
        self._by = by
        self._say = say
        self._said = ""
        self._told = 0

    def go(self) -> str:
        """Make the check; its outcome. Ctrl-C stops it: then nothing is recorded.

        Raises :class:`OperatorError` for what the station refuses, and where the check was broken
        off.
        """
        before = self._check()["last"]
        for text in self._check()["doubts"]:
            self._say(f"Note: {text}")
        self._station.post("scales", self._scale, "check", do="start", by=self._by)
        try:
            with _asked_to_stop() as stop:
                check = self._guided(stop)
        except KeyboardInterrupt:
            self._station.post("scales", self._scale, "check", do="stop")
            self._say("The check was stopped. Nothing is recorded of it.")
            raise
        if check["last"] == before:
            raise OperatorError(
                "check-broken-off",
                "The check was broken off: the scale went away, or somebody stopped it.",
                where=f"scale {self._scale}",
                remedy="Nothing is recorded of it. Begin again.",
            )
        return self._result(check["last"]["seq"])

    def _guided(self, stop: Callable[[], None]) -> dict[str, Any]:
        while (check := self._check())["running"] is not None:
            self._tell(check["running"])
            if self._pressed() and check["running"]["odd_g"] is not None:
                self._station.post("scales", self._scale, "check", do="it is right")
            stop()
        return check

    def _check(self) -> dict[str, Any]:
        scales = self._station.get("scales")["scales"]
        if self._scale not in scales:
            raise OperatorError(
                "unknown-scale",
                f'No scale is called "{self._scale}".',
                remedy="There is: " + (", ".join(scales) or "none") + ".",
            )
        check: dict[str, Any] | None = scales[self._scale]["check"]
        if check is None:
            raise OperatorError(
                "no-check",
                f"No check is configured for the scale {self._scale}.",
                remedy=f"Write [scales.{self._scale}.check] into the configuration.",
            )
        return check

    def _tell(self, run: dict[str, Any]) -> None:
        for step in run["steps"][self._told :]:
            self._say(f"    {found(step)}")
        self._told = len(run["steps"])
        said = instruction(run)
        if said != self._said:
            self._said = said
            self._say(said)

    def _pressed(self) -> bool:
        """Whether Enter was pressed meanwhile; this is also the pause between two looks."""
        try:
            ready, _, _ = select.select([sys.stdin], [], [], LOOK_S)
        except (OSError, ValueError):  # no standard input that could be waited for
            time.sleep(LOOK_S)
            return False
        if not ready:
            return False
        if sys.stdin.readline() == "":  # its end: nobody is there to press
            time.sleep(LOOK_S)
            return False
        return True

    def _result(self, seq: int) -> str:
        made = self._station.get("scales", self._scale, f"checks?limit=1&before={seq + 1}")
        one: dict[str, Any] = made["checks"][0]
        for line in lines(one):
            self._say(line)
        self._say(f"The scale {self._scale}: {one['outcome']} (entry {seq} of the record).")
        return str(one["outcome"])


@contextmanager
def _asked_to_stop() -> Iterator[Callable[[], None]]:
    """What is yielded raises ``KeyboardInterrupt`` where Ctrl-C was pressed and came to nothing:
    Python drops it where it comes while something is being let go of."""
    pressed = False

    def press(_number: int, _frame: FrameType | None) -> None:
        nonlocal pressed
        pressed = True
        raise KeyboardInterrupt

    def stop() -> None:
        if pressed:
            raise KeyboardInterrupt

    before = signal.signal(signal.SIGINT, press)
    try:
        yield stop
    finally:
        signal.signal(signal.SIGINT, before)


def instruction(run: dict[str, Any]) -> str:
    """What is to be done next, in a sentence or two."""
    current, odd = run["current"], run["odd_g"]
    if current is None:
        return "One moment: it is being recorded."
    where = "" if current["part"] != "corner" else f" at the {current['place']}"
    if current["part"] == "corner" and current["place"] == "centre":
        where = " in the centre"
    weight = f"the weight {current['weight']} ({current['nominal_g']} g)"
    count = f"{current['n']} of {run['of']}: "
    if run["wanted"] == "empty":
        if run["note"] == "zero moved":
            return f"{count}The scale's zero has moved. Take everything off, and zero it."
        text = f"{count}Take everything off the scale."
        return text if odd is None else f"{text} It shows {odd} g; if it is empty, press Enter."
    if run["wanted"] == "put":
        text = f"{count}Put {weight} on the scale{where}."
        if odd is None:
            return text
        return f"{text} It shows {odd} g: is it the right one? If so, press Enter."
    shown = run["found"]
    return f"{count}It shows {run['net_g']} g: {shown['outcome']}. Take it off."
