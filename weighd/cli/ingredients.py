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
        out: Path | None = typer.Option(None, "--out", help="Write it here, not to the terminal."),
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
        from weighd.main.files import read_shipped_table

        known = read_shipped_table()
        if which:
            if which not in known:
                raise typer.BadParameter(f'there is no "{which}" in the table')
            print(as_toml({which: known[which]}), end="")
            return
        for one in known.values():
            source = one.facts.source if one.facts else ""
            print(f"{one.id:<28} {one.name:<44} {source}")
