"""``weighd key`` and ``weighd head``: what a record is signed with, and where it stands."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import typer

from weighd.cli import places


def add_to(app: typer.Typer) -> None:
    """Add both commands."""

    @app.command()
    def key(
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        out: Path | None = typer.Option(
            None, "--out", "-o", help="Write the public key there, as PEM."
        ),
    ) -> None:
        """Show the station's public key, for whoever is to verify its records.

        The private half is made on first start and stands beside the record. Copy it to where a
        backup is kept, and nowhere else: who has it can sign as the station.
        """
        from weighd.domain.signing import short
        from weighd.main.files import write_new
        from weighd.main.proving import station_key_of

        path, station = station_key_of(config)
        print(f"Key {short(station.key)}")
        print(f"Public: {station.key}")
        print(f"Private: {path}")
        if out is not None:
            write_new(out, station.public_pem)
            print(f"{out}: the public key")

    @app.command()
    def head(
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        database: str | None = places.database(),
        out: Path | None = typer.Option(
            None, "--out", "-o", help="Write it to this file, as JSON."
        ),
        check: str = typer.Option(
            "",
            "--check",
            metavar="SHORT",
            help="Instead: whether the journal still holds a head, by its short form as it was "
            "copied down.",
        ),
    ) -> None:
        """Sign how far the journal goes: one line that stands for every entry so far.

        Print it or mail it away each day. `weighd verify DATABASE --head FILE` then shows whether
        anything before it was changed or taken out since, whoever changed it. Its short form is
        for a book or the telephone: groups of digits, the last two of which tell a slip.
        `\\[heads]` in the configuration has the station make one each day by itself.
        """
        if check:
            from weighd.main.proving import check_short

            size = check_short(check, config, database)
            print(f"The journal still holds it: its first {size} entries are as they were.")
            return
        from weighd.domain.short_head import short_head
        from weighd.main.files import write_new
        from weighd.main.proving import head_of

        signed = head_of(config, database)
        digits = short_head(signed.station, signed.entries, signed.root)
        text = json.dumps(signed.as_json(), ensure_ascii=False, indent=1) + "\n"
        if out is None:
            print(text, end="")
            print(f"Short form: {digits}", file=sys.stderr)
            return
        write_new(out, text)
        print(f"{out}: {signed.entries} entries of {signed.station}, root {signed.root}")
        print(f"Short form: {digits}")
