"""``weighd paste``: a list of ingredients as people write it becomes a formula."""

from __future__ import annotations

import sys
from pathlib import Path

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def paste(
        file: Path = typer.Argument(help="The list, an ingredient to a line; - is standard input."),
        ingredients: Path = typer.Option(
            Path("ingredients.toml"), "--ingredients", help="The kitchen's ingredients (TOML)."
        ),
        name: str = typer.Option("", "--name", help="What the formula is called."),
        means: list[str] = typer.Option(
            [], "--means", help='What a name means: "cream=cream-30"; may be repeated.'
        ),
        save: Path | None = typer.Option(None, "--save", help="Write the formula to a new file."),
        leave_out: bool = typer.Option(
            False, "--leave-out", help="Save it without what was not understood."
        ),
    ) -> None:
        """Make a formula of a list such as "820 g buttermilk", a line for each ingredient.

        Each line is told with what it was taken for: + taken, ? not understood, with the reason.
        Nothing is guessed: cups and spoons, numbers that can be read in two ways and names that
        only resemble one of the kitchen's are left to you. Ends with exit code 1, and saves
        nothing, where a line was not understood, unless it is to be left out.
        """
        from weighd.domain.formula_text import read_ingredients
        from weighd.domain.pasted import Outcome
        from weighd.main.files import read_text
        from weighd.main.targets import save_formula
        from weighd.station.pasting import formula_of, of_outcome, pasted, said, tell

        text = sys.stdin.read() if str(file) == "-" else read_text(file)
        known = read_ingredients(read_text(ingredients), str(ingredients))
        read = pasted(text, known, said(means, known))
        for line in tell(read, known):
            print(line)
        missed = of_outcome(read, Outcome.NOT_UNDERSTOOD)
        if missed and not leave_out:
            raise typer.Exit(1)
        if save is not None:
            save_formula(save, formula_of(read, known, save.stem, name))
            print(f"The formula is in {save}.")
