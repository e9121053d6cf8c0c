"""``weighd settle``: readings in, one line each; what the load does, line by line."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import IO, Any

import typer

from weighd.cli import exits
from weighd.cli.conversation import converse, standard_input, text
from weighd.domain.reading import Reading
from weighd.domain.watch import Watch
from weighd.station.reading_lines import grams_of


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def settle() -> None:
        """Say, for every reading on standard input, what the load on the scale is doing.

        Lines in: {"t", "grams", "stable", "over"}; one line out for each, before the next is
        read: {"t", "phase", "grams", "sigma_g", "why"}. A line {"reset": true, "interval_g",
        "tolerance_g"} begins an addition and has no answer; what was learned of the scale is
        kept unless it says "forget": true, or another interval. The tolerance changes nothing:
        a claim is as good as the scale allows. A load that slowly creeps or wastes away while
        settled has its rate told as one more key, "drift_g_min".
        """
        if not run(standard_input(), sys.stdout):
            raise typer.Exit(exits.BAD_INPUT)


def run(lines: IO[str], out: IO[str]) -> bool:
    """Answer every line; whether all of them could be read."""
    return converse(lines, out, _Settle())


class _Settle:
    """The answers of the command."""

    def __init__(self) -> None:
        self._watch = Watch()

    def reset(self, row: Mapping[str, Any]) -> None:
        told = row.get("interval_g")
        interval = self._watch.interval_g if told is None else grams_of(told)
        self._watch.reset(interval, forget=bool(row.get("forget")))

    def answer(self, reading: Reading) -> dict[str, Any]:
        watched = self._watch.feed(reading)
        told = {
            "t": watched.t,
            "phase": watched.phase,
            "grams": text(watched.grams),
            "sigma_g": text(watched.sigma_g),
            "why": watched.why,
        }
        drift = self._watch.drift_g_min
        return told if drift is None else {**told, "drift_g_min": text(drift)}

    def unreadable(self) -> dict[str, Any]:
        return {
            "t": None,
            "phase": "disturbed",
            "grams": None,
            "sigma_g": None,
            "why": "unreadable",
        }
