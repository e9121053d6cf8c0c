"""``weighd settle``: readings in, one line each; what the load does, line by line."""

from __future__ import annotations

import json
import math
import sys
from decimal import Decimal
from typing import IO, Any

import typer

from weighd.cli import exits
from weighd.domain import mass
from weighd.domain.reading import Reading
from weighd.domain.watch import Watch, Watched

#: A number above this is no mass in grams on any scale.
_LARGEST_G = 1e9


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
                interval = watch.interval_g if told is None else _number(told)
                watch.reset(interval, forget=bool(row.get("forget")))
                continue
            answer = watch.feed(_reading(row))
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


def _reading(row: dict[str, Any]) -> Reading:
    grams = row.get("grams")
    value: Decimal | None = None
    if isinstance(grams, float) and abs(grams) < _LARGEST_G:
        value = Decimal(str(grams))  # a program may write a small number with an exponent
    elif grams is not None:
        value = mass.parse(str(grams))
    stable, t = row.get("stable"), float(row["t"])
    if not math.isfinite(t):
        raise ValueError("t is no time")
    over = bool(row.get("over", False))
    return Reading(
        t,
        None if over else value,
        mass.Unit.G,
        None if stable is None else bool(stable),
        over,
    )


def _number(told: str | float) -> Decimal:
    """A mass written as text, or as a JSON number (whose small ones may have an exponent)."""
    if isinstance(told, float):
        return mass.parse(format(Decimal(str(told)), "f"))
    return mass.parse(str(told))


def _answer(watched: Watched) -> dict[str, Any]:
    return {
        "t": watched.t,
        "phase": watched.phase,
        "grams": None if watched.grams is None else mass.text(watched.grams),
        "sigma_g": None if watched.sigma_g is None else mass.text(watched.sigma_g),
        "why": watched.why,
    }
