"""``weighd settle``: readings in, one line each; what the load does, line by line."""

from __future__ import annotations

import json
import sys
from typing import IO, Any

import typer

from weighd.cli import exits
from weighd.domain import mass
from weighd.domain.watch import Watch, Watched
from weighd.station.reading_lines import grams_of, reading_of


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def settle() -> None:
        """Say, for every reading on standard input, what the load on the scale is doing.

        Lines in: {"t", "grams", "stable", "over"}; one line out for each, before the next is
        read: {"t", "phase", "grams", "sigma_g", "why"}. A line {"reset": true, "interval_g",
        "tolerance_g"} begins an addition and has no answer; what was learned of the scale is
        kept unless it says "forget": true, or another interval. The tolerance changes nothing:
        a claim is as good as the scale allows.
        """
        if hasattr(sys.stdin, "reconfigure"):
            sys.stdin.reconfigure(errors="replace")  # bytes that are no text are no reading either
        if not run(sys.stdin, sys.stdout):
            raise typer.Exit(exits.BAD_INPUT)


def run(lines: IO[str], out: IO[str]) -> bool:
    """Answer every line; whether all of them could be read."""
    watch, clean = Watch(), True
    for number, text in enumerate(lines, start=1):
        if not text.strip():
            continue
        reset = False
        try:
            row = json.loads(text)
            reset = bool(row.get("reset"))
            if reset:
                told = row.get("interval_g")
                interval = watch.interval_g if told is None else grams_of(told)
                watch.reset(interval, forget=bool(row.get("forget")))
                continue
            answer = watch.feed(reading_of(row))
        except (
            ValueError,
            KeyError,
            TypeError,
            AttributeError,
            ArithmeticError,
            RecursionError,
        ) as error:
            clean = False
            print(f"line {number} is not a reading: {error}", file=sys.stderr)
            if reset:
                continue
            # Exactly one answer to each reading, so that the two sides stay in step.
            out.write('{"t": null, "phase": "disturbed", "grams": null, "sigma_g": null, ')
            out.write('"why": "unreadable"}\n')
        else:
            out.write(json.dumps(_answer(answer)) + "\n")
        out.flush()
    return clean


def _answer(watched: Watched) -> dict[str, Any]:
    return {
        "t": watched.t,
        "phase": watched.phase,
        "grams": None if watched.grams is None else mass.text(watched.grams),
        "sigma_g": None if watched.sigma_g is None else mass.text(watched.sigma_g),
        "why": watched.why,
    }
