"""``weighd publish``: a formula for every station that shares the store."""

from __future__ import annotations

from pathlib import Path

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def publish(
        formula: str = typer.Argument(help="A formula's id, or a file that holds one."),
        by: str = typer.Option("", "--by", help="Who publishes it; the user's name otherwise."),
        store: str | None = typer.Option(
            None, "--store", metavar="ADDRESS", help="The shared store, if not the configured one."
        ),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
    ) -> None:
        """Publish a formula as it is now to all stations that share a store.

        A revision is published whole, with the compositions and allergens of its ingredients. Every
        station takes it down and lists it beside its own formulas; no file is written over. What
        was published stays there: publish a better one, which is then the newest.
        """
        from weighd.cli.reach import acting
        from weighd.main.publishing import publish_formula

        one, new = publish_formula(config, store, formula, acting(by))
        if new:
            print(f"{one.name} was published as {one.id}, number {one.number}.")
        else:
            print(f"{one.id} is the newest already: {one.by} published it at {one.station}.")
