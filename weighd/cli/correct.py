"""``weighd correct``: put right what somebody typed or named; or list what can be."""

from __future__ import annotations

import json
from pathlib import Path

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def correct(
        batch: str = typer.Argument(help="A batch, like kitchen-0007."),
        entry: int | None = typer.Option(
            None, "--entry", metavar="N", help="The entry, by its number in the batch."
        ),
        field: str = typer.Option(
            "",
            "--field",
            help="lot (lot 1, lot 2 where one ran out), operator, reason, note, vessel.",
        ),
        to: str | None = typer.Option(None, "--to", help="What stands there from now on."),
        reason: str = typer.Option("", "--reason", help="Why: it stays in the record."),
        by: str = typer.Option("", "--by", help="Who says so; the user's name otherwise."),
        confirm: bool = typer.Option(
            False, "--confirm", help="That lot did go in, although it was not to be used."
        ),
        url: str = typer.Option("", "--url", help="Where the station is; as configured otherwise."),
        as_json: bool = typer.Option(False, "--json", help="For programs."),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
    ) -> None:
        """Put right a lot, a name, a reason or a note in a batch; without options, list them.

        The station that runs writes a new entry; what stood there stays in the record. What follows
        from the scale, a thermometer or the clock cannot be put right by hand.
        """
        from weighd.cli.reach import acting, station_at
        from weighd.station.corrected import tell_written

        station = station_at(url, config)
        asked = {"--field": field, "--to": to, "--reason": reason, "--confirm": confirm}
        if entry is None and (idle := [name for name, value in asked.items() if value]):
            raise typer.BadParameter("belongs to --entry N", param_hint=idle[0])
        if entry is not None and (not field or to is None):
            raise typer.BadParameter("needs --field and --to", param_hint="--entry")
        drawn = station.get("batches", batch, "corrections")
        if entry is not None:
            stands = next((one for one in drawn["written"] if one["entry"] == entry), None)
            old = (stands or {"fields": {}})["fields"].get(field, "")
            station.post(
                "batches",
                batch,
                "commands",
                do="correct",
                entry=entry,
                field=field,
                old=old,
                new=to,
                reason=reason,
                by=acting(by),
                confirm=confirm,
            )
            drawn = station.get("batches", batch, "corrections")
        if as_json:
            print(json.dumps(drawn, indent=2, ensure_ascii=False))
            return
        if entry is None:
            for text in tell_written(drawn):
                print(text)
            return
        done = drawn["corrections"][-1]
        print(f"Entry {entry}, {field}: {done['old'] or '(none)'} -> {done['new'] or '(none)'}.")
