"""``weighd swap``: one ingredient for another, the rest brought back to the same composition."""

from __future__ import annotations

from pathlib import Path

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def swap(
        file: Path = typer.Argument(help="A formula file (TOML)."),
        old: str = typer.Argument(help="The ingredient to be replaced, by its id."),
        new: str = typer.Argument(help="The ingredient to take instead, by its id."),
        ratio: str = typer.Option("", "--ratio", help="Grams of the new for a gram of the old."),
        alone: bool = typer.Option(False, "--alone", help="Do not rebalance the rest."),
        text: bool = typer.Option(False, "--text", help="For people, instead of JSON."),
        save: Path | None = typer.Option(None, "--save", help="Write the formula to a new file."),
    ) -> None:
        """Swap an ingredient, and rebalance the rest to the same fat, solids, sugars and cold.

        How much of the new one: as given, else by the rule of either ingredient, and then it stays;
        without any it is found with the rest. Flavours, salt and alcohol keep their amounts.
        Exit code 1 tells that it cannot be the same; what is shown is as near as it can be.
        """
        from weighd.cli.mixed import print_mix
        from weighd.domain.errors import FormulaError
        from weighd.main.files import read_limits_file
        from weighd.main.targets import a_solver, chosen, read_source, save_formula
        from weighd.station import swapping, swapping_words
        from weighd.station.composing import composed

        source = read_source(file)
        if source.formula is None:
            raise FormulaError("no-formula", "This is no formula.", where=str(file))
        taken = chosen(source, (new,))[new]
        out = swapping.swap(
            source.formula,
            old,
            taken,
            a_solver(),
            ratio=swapping.read_ratio(ratio),
            rebalance=not alone,
        )
        if save is not None:
            save_formula(save, out.formula)
        one = composed(out.formula, read_limits_file(None, beside=file))
        drawn = swapping_words.draw_swap(out)
        print_mix(drawn, swapping_words.tell(out), one, save, as_text=text)
        if out.same is swapping.Same.NO:
            raise typer.Exit(1)
