"""``weighd steps``: what was and is to be made of a batch after weighing."""

from __future__ import annotations

import sys
from pathlib import Path

import typer

from weighd.cli import places


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def steps(
        batch: str = typer.Argument(
            "", help="A batch, like kitchen-0007, or an export; all in process without one."
        ),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        database: str | None = places.database(),
        as_csv: bool = typer.Option(
            False, "--csv", help="A row for everything done, with times, values and persons."
        ),
        tables: bool = typer.Option(
            False, "--tables", help="The published heat treatments that a formula can follow."
        ),
    ) -> None:
        """Show the steps of a batch after weighing: how each stands, with times, values, persons.

        What was entered is read, and nothing changed; a running station may go on meanwhile. Steps
        are begun, measured and ended on its page, under In process, or over REST.
        """
        from weighd.cli.step_lines import batch_lines, table_lines
        from weighd.main.files import database_of, entries_of_file, entries_to_show
        from weighd.storage.shelf import heat_tables

        if tables:
            print("\n".join(table_lines(heat_tables())))
            return
        if batch and Path(batch).is_file():
            shown = [entries_of_file(Path(batch))]
        else:
            shown = entries_to_show(database or database_of(config), batch)
        if as_csv:
            from weighd.reports.steps_csv import steps_csv

            for line in steps_csv(shown):
                sys.stdout.write(line)
            return
        if not shown:
            print("No batch is in process.")
        for n, entries in enumerate(shown):
            print("\n" * (n > 0) + "\n".join(batch_lines(entries)))
