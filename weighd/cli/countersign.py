"""``weighd countersign``: a second person signs a batch that is over; or see who did."""

from __future__ import annotations

import json
from pathlib import Path

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def countersign(
        batch: str = typer.Argument(help="A batch, like kitchen-0007."),
        by: str = typer.Option("", "--by", help="Who signs; the user's name otherwise."),
        note: str = typer.Option("", "--note", help="What is to stand beside it."),
        upto: int | None = typer.Option(
            None, "--upto", metavar="N", help="The newest entry that was looked at."
        ),
        show: bool = typer.Option(
            False, "--list", help="Only list who signed, and what it covers."
        ),
        url: str = typer.Option("", "--url", help="Where the station is; as configured otherwise."),
        as_json: bool = typer.Option(False, "--json", help="For programs."),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
    ) -> None:
        """Sign a batch that is over as a second person, who had no part in it.

        Look at its record first: what is signed is all of it up to now, and nothing that is put
        right afterwards. Where people are listed, it needs the right to countersign and a PIN.
        """
        from weighd.cli.reach import acting, station_at
        from weighd.station.countersigned import tell_countersigned

        station = station_at(url, config)
        drawn = station.get("batches", batch, "countersigned")
        if not show:
            station.post(
                "batches",
                batch,
                "commands",
                do="countersign",
                entry=drawn["entries"] if upto is None else upto,
                by=acting(by),
                note=note,
            )
            drawn = station.get("batches", batch, "countersigned")
        if as_json:
            print(json.dumps(drawn, indent=2, ensure_ascii=False))
            return
        for text in tell_countersigned(drawn):
            print(text)
