"""``weighd size``: how large a batch is made, and what rounding to the scales does to it."""

from __future__ import annotations

import json
from pathlib import Path

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def size(
        file: Path = typer.Argument(help="A formula file (TOML)."),
        how: str = typer.Argument(
            help='"3 kg", "5 L at 30 %", "40 servings of 80 g", "cream=900 g, sucrose=1 kg".'
        ),
        rounded: bool = typer.Option(
            False, "--round", help="Targets at the steps of the scales that judge them."
        ),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        as_json: bool = typer.Option(False, "--json", help="Print JSON for a program."),
    ) -> None:
        """Scale a formula by mass, by volume at an overrun, by servings, or by what is on hand.

        With --round, each target is moved to the nearest step of the scale that the plan gives it,
        unless that would take too much of its tolerance; the change of the mix is shown.
        """
        from weighd.config import load
        from weighd.domain.sizing import read_size
        from weighd.main.files import read_formula_file
        from weighd.main.judging import sized
        from weighd.station.sizing import draw_sized, tell

        formula = read_formula_file(file)
        one = sized(formula, read_size(how, formula), load(config) if rounded else None)
        if as_json:
            print(json.dumps(draw_sized(one), indent=2, ensure_ascii=False))
        else:
            for line in tell(one):
                print(line)
