"""``weighd cue``: readings in, one cue each: pour, slow or stop, and where it would land."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import IO, Any

import typer

from weighd.cli import exits
from weighd.cli.conversation import converse, standard_input, text
from weighd.domain.pouring import Aim, Cue
from weighd.domain.pouring_alone import Alone
from weighd.domain.reading import Reading
from weighd.station.reading_lines import grams_of

_LONGEST_NAME = 200


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def cue(
        slow: bool = typer.Option(True, help="Whether to say slow before stop."),
    ) -> None:
        """Say, for every reading on standard input, whether to pour, slow down or stop.

        A line {"reset": true, "interval_g", "tolerance_g", "target_g", "ingredient", "cook"}
        begins a pour and has no answer. Then lines {"t", "grams", "stable", "over"}; one line
        out for each, before the next is read: {"t", "cue", "landing_g", "sigma_g"}, where the
        landing is the addition in grams if the cook is told to stop now. What was learned of the
        scale, the cook and the ingredient is kept unless a reset says "forget": true.
        """
        if not run(standard_input(), sys.stdout, slow=slow):
            raise typer.Exit(exits.BAD_INPUT)


def run(lines: IO[str], out: IO[str], *, slow: bool = True) -> bool:
    """Answer every line; whether all of them could be read."""
    return converse(lines, out, Cues(slow=slow))


class Cues:
    """The answers of the command."""

    def __init__(self, *, slow: bool) -> None:
        self.alone = Alone(slow=slow)
        self._cue = Cue.STOP

    def reset(self, row: Mapping[str, Any]) -> None:
        self._cue = Cue.STOP
        self.alone.end()  # a reset that cannot be used leaves nothing to pour for
        told = row.get("interval_g")
        interval = self.alone.interval_g if told is None else grams_of(told)
        target = grams_of(row["target_g"])
        tolerance = grams_of(row.get("tolerance_g", 0))
        if tolerance < 0:
            raise ValueError(f"a tolerance is not below zero, as {tolerance} is")
        aim = Aim(
            target, target - tolerance, interval, _name(row, "ingredient"), _name(row, "cook")
        )
        self.alone.begin(aim, forget=bool(row.get("forget")))

    def answer(self, reading: Reading) -> dict[str, Any]:
        guidance = self.alone.feed(reading)
        if guidance is None:
            raise ValueError("no reset line has named a target")
        self._cue = guidance.cue
        return {
            "t": guidance.t,
            "cue": guidance.cue,
            "landing_g": text(guidance.landing_g),
            "sigma_g": text(guidance.sigma_g),
        }

    def unreadable(self) -> dict[str, Any]:
        """The cue stands: one line that cannot be read decides nothing."""
        return {"t": None, "cue": self._cue, "landing_g": None, "sigma_g": None}


def _name(row: Mapping[str, Any], key: str) -> str:
    """Who or what; two that differ after so many characters are taken for one."""
    value = row.get(key)
    return "" if value is None else str(value)[:_LONGEST_NAME]
