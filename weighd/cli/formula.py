"""``weighd formula``: read a formula file and say what is in it, or what is wrong with it."""

from __future__ import annotations

from pathlib import Path

import typer

from weighd.domain import mass


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def formula(
        file: Path = typer.Argument(help="A formula file (TOML)."),
        batch: str = typer.Option("", "--batch", help='Scale to this size, like "3 kg".'),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
    ) -> None:
        """Check a formula file: print its additions, or the file, line and field that is wrong.

        Ingredients are taken from the file and from ingredients.toml beside it. Where scales are
        configured, it also says which additions each of them can judge, and from which amount up.
        """
        from weighd.config import load
        from weighd.domain.formula import read_amount
        from weighd.domain.process import limits_in_words
        from weighd.main.files import read_formula_file
        from weighd.main.judging import prospects

        settings = load(config)
        read = read_formula_file(file)
        if batch:
            try:
                read = read.scaled(read_amount(batch))
            except ValueError as error:
                raise typer.BadParameter(str(error)) from error
        print(f"{read.name} ({read.id}, revision {read.revision}), {mass.text(read.batch_g)} g")
        for n, one in enumerate(read.additions, start=1):
            low, high = one.band
            print(
                f"{n:3}. {one.ingredient.name:<32} {mass.text(one.target_g):>9} g"
                f"   {mass.text(low)} to {mass.text(high)} g"
            )
        for n, step in enumerate(read.steps, start=1):
            told = limits_in_words(step)
            print(f"Step {n}: {step.name}" + (f", {told}" if told else ""))
        if read.allergens:
            print("Allergens: " + ", ".join(read.allergens))
        for line in prospects(read, settings):
            print(line)
