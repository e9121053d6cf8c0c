"""``weighd loss``: readings in, one line each: how fast a load wastes away, what to weigh out."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import IO, Any

import typer

from weighd.cli import exits
from weighd.cli.conversation import converse, standard_input
from weighd.domain.reading import Reading
from weighd.domain.sublimation import LossWatch
from weighd.station.loss import ForLater, draw_loss, read_for_later
from weighd.station.reading_lines import grams_of


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def loss(
        want_g: str = typer.Option("", "--want-g", help="Grams wanted at the moment of use."),
        wait_s: str = typer.Option("", "--in-s", help="Seconds until it is used."),
        tare_g: str = typer.Option("", "--tare-g", help="The empty vessel, if it was not tared."),
        interval_g: str = typer.Option("0.1", "--interval-g", help="Interval of the scale."),
        scale: str = typer.Option("", "--scale", help="Listen to this configured scale instead."),
        seconds: float = typer.Option(0, "--for", min=0, help="Listen for so many seconds."),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
    ) -> None:
        """Say how fast dry ice on a scale wastes away, and how much more to weigh out for later.

        Lines in on standard input: {"t", "grams"}; one line out for each. With --scale a line a
        second of that scale, while no station runs on it. "rate_g_min" is its loss, with standard
        uncertainty; "weigh_out_g" what should be on the scale now, so that "want_g" are left when
        it is used. A load that is touched begins anew.
        """
        from weighd.domain.errors import OperatorError

        asked = read_for_later(want_g, wait_s, tare_g)
        if scale:
            _listen(scale, asked, config, seconds)
            return
        try:
            watch = LossWatch(grams_of(interval_g))
        except (ValueError, ArithmeticError) as error:
            raise OperatorError(
                "bad-number",
                f'"{interval_g[:40]}" is no interval of a scale.',
                where="interval_g",
                remedy="Give it in grams, like 0.1.",
            ) from error
        if not run(standard_input(), sys.stdout, watch, asked):
            raise typer.Exit(exits.BAD_INPUT)


def run(lines: IO[str], out: IO[str], watch: LossWatch, asked: ForLater) -> bool:
    """Answer every line; whether all of them could be read."""
    return converse(lines, out, _Loss(watch, asked))


class _Loss:
    """The answers of the command."""

    def __init__(self, watch: LossWatch, asked: ForLater) -> None:
        self._watch, self._asked = watch, asked

    def reset(self, row: Mapping[str, Any]) -> None:
        told = row.get("interval_g")
        self._watch = LossWatch(self._watch.interval_g if told is None else grams_of(told))

    def answer(self, reading: Reading) -> dict[str, Any]:
        self._watch.feed(reading.t, reading.grams)
        return _line(reading.t, self._watch, self._asked, reading.grams)

    def unreadable(self) -> dict[str, Any]:
        return {"t": None, **draw_loss(None, self._watch.interval_g, self._asked, None)}


def _line(
    t: float | None, watch: LossWatch, asked: ForLater, grams: Decimal | None
) -> dict[str, Any]:
    return {"t": t, **draw_loss(watch.waste(), watch.interval_g, asked, grams)}


def _listen(scale: str, asked: ForLater, config: Path | None, seconds: float) -> None:
    """A line a second of a configured scale, until Ctrl-C or for so long."""
    from weighd.main.listening import listen

    watch: LossWatch | None = None
    told = 0.0

    def take(reading: Reading, interval_g: Decimal) -> None:
        nonlocal watch, told
        if watch is None or watch.interval_g != interval_g:
            watch = LossWatch(interval_g)
        watch.feed(reading.t, reading.grams)
        if reading.t - told >= 1:
            told = reading.t
            line = _line(round(reading.t, 3), watch, asked, reading.grams)
            print(json.dumps(line), flush=True)

    listen(scale, config, seconds, take)
