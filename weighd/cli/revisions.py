"""``weighd revisions``: what a formula was before, and what differs between two revisions of it."""

from __future__ import annotations

import json
from pathlib import Path

import typer

from weighd.cli import places


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def revisions(
        formula: str = typer.Argument(help="A formula's id, or its file (TOML)."),
        then: str = typer.Argument("", help="Compare this revision; four digits may do."),
        now: str = typer.Argument("now", help="With this one; the file as it is."),
        kind: str = typer.Option("", "--class", help="Hold both to the limits of this class."),
        as_json: bool = typer.Option(False, "--json", help="For programs."),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        database: str | None = places.database(),
    ) -> None:
        """List the revisions of a formula, or say what differs between two of them.

        They are known from batches in the record, from the shared store, and from what was saved
        on the page or met in the file, which is kept in .revisions beside the formulas. Compared
        are additions, tolerances, order, steps, ingredients, and what each comes to.
        """
        from weighd.main.revising import compared_in, history_of
        from weighd.station.revision_changes import draw_compared
        from weighd.station.revision_words import tell_compared, tell_history
        from weighd.station.revisions import draw_history

        found = history_of(config, database, formula)
        if then:
            drawn = draw_compared(compared_in(config, found, formula, then, now, kind))
        else:
            drawn = draw_history(found)
        if as_json:
            print(json.dumps(drawn, indent=2, ensure_ascii=False))
            return
        for line in tell_compared(drawn) if then else tell_history(drawn):
            print(line)
