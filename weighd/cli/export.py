"""``weighd export``: a batch's record out of the database."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def export(
        batch: str = typer.Argument(help="A batch, like kitchen-0007."),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        database: Path | None = typer.Option(
            None, "--database", help="The database, if not the configured one."
        ),
        proof: bool = typer.Option(
            False, "--proof", help="With the proof that it belongs to the station's journal."
        ),
        form: str = typer.Option("json", "--format", help="json"),
        out: Path | None = typer.Option(None, "--out", help="Write to this file."),
    ) -> None:
        """Write the as-weighed record of a batch; it can be verified on its own."""
        from weighd.main.files import database_of, write_text
        from weighd.main.proving import export_batch, head_of

        if form != "json":
            raise typer.BadParameter('only "json" is written', param_hint="--format")
        head = head_of(config, database) if proof else None
        document = export_batch(database or database_of(config), batch, proof=head)
        text = json.dumps(document, ensure_ascii=False, indent=1) + "\n"
        if out is None:
            sys.stdout.write(text)
        else:
            write_text(out, text)
            print(f"{out}: {len(document['entries'])} entries of batch {batch}")
