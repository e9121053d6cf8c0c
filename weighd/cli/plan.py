"""``weighd plan``: which scale and vessel each amount of a formula is weighed with."""

from __future__ import annotations

import json
from pathlib import Path

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def plan(
        file: Path = typer.Argument(help="A formula file (TOML)."),
        yield_g: str = typer.Option("", "--yield-g", help="Batch size in grams."),
        size: str = typer.Option("", "--size", help='Like "5 L at 30 %"; see weighd size.'),
        rounded: bool = typer.Option(False, "--round", help="Targets at the steps of scales."),
        bowl_g: str = typer.Option("", "--bowl-g", help="Mass of the empty bowl."),
        dish_g: str = typer.Option("", "--dish-g", help="Mass of the empty dish."),
        dish_holds_g: str = typer.Option("", "--dish-holds-g", help="Most that the dish takes."),
        as_json: bool = typer.Option(False, "--json", help="Print JSON for a program."),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
    ) -> None:
        """Work out the weighing plan on the configured scales: the fewest moves that judge it all.

        Each amount goes to a scale that can judge its tolerance, into the bowl or into a dish that
        is tipped in; what is too much for a scale is split, and what is too little for any may be
        premixed with the ingredient that the formula names as its carrier. Exit code 1 tells that
        an amount cannot be judged here; the plan says which, and what would do.
        """
        from weighd.config import load
        from weighd.domain.sizing import by_mass
        from weighd.main.files import read_formula_file
        from weighd.main.judging import planned, sized
        from weighd.station.planning import draw_plan, read_vessels, tell
        from weighd.station.sizing import chosen_size

        settings = load(config)
        usual = settings.plan.as_text()
        given = {"bowl_g": bowl_g, "dish_g": dish_g, "dish_holds_g": dish_holds_g}
        formula = read_formula_file(file)
        grams, by = chosen_size(yield_g, size, formula)
        scaled = formula.scaled(grams)
        if rounded:
            scaled = sized(formula, by or by_mass(grams), settings).formula
        vessels = read_vessels(**{key: value or usual[key] for key, value in given.items()})
        best = planned(scaled, settings, vessels)
        if as_json:
            print(json.dumps(draw_plan(best, scaled), indent=2, ensure_ascii=False))
        else:
            for line in tell(best, scaled):
                print(line)
        if best.cost.unfit:
            raise typer.Exit(1)
