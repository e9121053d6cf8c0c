"""``weighd ingredients``: what is known of ingredients; a supplier's table turned into TOML."""

from __future__ import annotations

from pathlib import Path

import typer


def add_to(app: typer.Typer) -> None:
    """Add the commands."""
    group = typer.Typer(no_args_is_help=True)
    app.add_typer(
        group,
        name="ingredients",
        help="Compositions of ingredients: import a table, or look into the one that ships.",
    )

    @group.command(name="import")
    def import_csv(
        file: Path = typer.Argument(help="A table (CSV) whose first row names the columns."),
        out: Path | None = typer.Option(
            None, "--out", "-o", help="Write it here, not to the terminal."
        ),
    ) -> None:
        """Turn a table of ingredients into TOML for ingredients.toml.

        Decimal commas are understood; an empty cell is missing. What cannot be is named with its
        line and column, and then nothing is written. A file that is there is never overwritten.
        """
        from weighd.domain.ingredient_csv import as_toml, read_csv
        from weighd.main.files import read_text, write_new

        read = read_csv(read_text(file), str(file))
        if out is None:
            print(as_toml(read), end="")
            return
        write_new(out, as_toml(read))
        print(f"{len(read)} ingredients are in {out}.")

    @group.command(name="table")
    def table(
        which: str = typer.Argument("", help="An id of the table: print it as TOML to copy."),
    ) -> None:
        """List the compositions that ship, each with its source; or print one as TOML."""
        from weighd.domain.ingredient_csv import as_toml
        from weighd.main.shipped import read_shipped_table

        known = read_shipped_table()
        if which:
            if which not in known:
                raise typer.BadParameter(f'there is no "{which}" in the table')
            print(as_toml({which: known[which]}), end="")
            return
        for one in known.values():
            source = one.facts.source if one.facts else ""
            print(f"{one.id:<28} {one.name:<44} {source}")

    @group.command(name="check")
    def check(
        file: Path = typer.Argument(Path("ingredients.toml"), help="A list of ingredients (TOML)."),
    ) -> None:
        """Check a list of ingredients: name the line and field that is wrong, or what is missing.

        Missing is no fault: what it touches is told as "at least" and "at most". Formulas beside
        the list are not looked into; `weighd formula FILE` checks one.
        """
        from weighd.domain.formula_text import read_ingredients
        from weighd.main.files import read_text
        from weighd.station.drafting import draw_gaps

        read = read_ingredients(read_text(file), str(file))
        for one in read.values():
            gaps = draw_gaps(one)["missing"]
            told = f"missing: {', '.join(gaps)}" if gaps else "complete"
            rules = [f"{rule.ratio} g of {rule.ingredient} for 1 g" for rule in one.instead]
            print(f"{one.id:<28} {told}" + (f"; instead {', '.join(rules)}" if rules else ""))
        print(f"{len(read)} ingredients can be used.")
