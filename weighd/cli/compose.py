"""``weighd compose``: what a formula's mix holds, and how it freezes."""

from __future__ import annotations

import json
from pathlib import Path

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def compose(
        file: Path = typer.Argument(help="A formula file (TOML)."),
        yield_g: str = typer.Option("", "--yield-g", help="Batch size in grams."),
        text: bool = typer.Option(False, "--text", help="For people, instead of JSON."),
        kind: str = typer.Option("", "--class", help="Hold it to the limits of this class."),
        overrun: str = typer.Option("", "--overrun", help="Air in percent of the mix's volume."),
        at: list[str] = typer.Option([], "--at", help="A temperature in °C; may be repeated."),
        limits: Path | None = typer.Option(None, "--limits", help="A file of limits (TOML)."),
    ) -> None:
        """Work out a formula's composition, sweetness, energy, cost, volume and freezing curve.

        What is known of each ingredient stands in the formula file or in ingredients.toml beside
        it. What is missing is named, and amounts it touches are "at least". Limits are taken from
        limits.toml beside the formula, else from those that ship.
        """
        from weighd.main.files import read_formula_file, read_limits_file
        from weighd.station.composing import (
            USUAL_C,
            composed,
            draw_composition,
            read_overrun,
            read_temperature,
        )
        from weighd.station.composing_words import tell
        from weighd.station.opening import batch_size

        air = read_overrun(overrun)
        temperatures = tuple(read_temperature(one) for one in at) or USUAL_C
        formula = read_formula_file(file)
        scaled = formula.scaled(batch_size(yield_g, formula))
        kinds = read_limits_file(limits, beside=file)
        one = composed(scaled, kinds, kind=kind, overrun_percent=air, at_c=temperatures)
        drawn = draw_composition(one)
        if text:
            for line in tell(drawn):
                print(line)
        else:
            print(json.dumps(drawn, indent=2, ensure_ascii=False))
