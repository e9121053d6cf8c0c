"""``weighd export``: records out of the database, for verification, for people, for tables."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from weighd.cli import places

if TYPE_CHECKING:
    from weighd.main.outputs import Days
    from weighd.storage.address import Place


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def export(
        batch: str | None = typer.Argument(
            None, help="A batch, like kitchen-0007; or a record that was exported as json."
        ),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        database: str | None = places.database(),
        proof: bool = typer.Option(
            False, "--proof", help="With the proof that it belongs to the station's journal."
        ),
        form: str = typer.Option("json", "--format", help="json, csv, pdf or parquet."),
        every: bool = typer.Option(
            False,
            "--all",
            help="All batches, instead of one, as csv or parquet; or, with a folder named instead "
            "of a batch, everything that was ever recorded into that folder.",
        ),
        sheets: bool = typer.Option(
            True, "--sheets/--no-sheets", help="With everything: each batch as a sheet too."
        ),
        table: str = typer.Option(
            "weighings",
            "--table",
            help="With csv: weighings, batches, deviations, corrections, steps, draws, yields, "
            "lots; or all of them, into the folder that --out names.",
        ),
        first: str = typer.Option(
            "", "--from", metavar="DAY", help="With --all: opened on this day (UTC) or later."
        ),
        last: str = typer.Option(
            "", "--to", metavar="DAY", help="With --all: opened on this day (UTC) or before."
        ),
        schema: bool = typer.Option(
            False, "--schema", help="The JSON Schema of the records, instead of a record."
        ),
        archive: Path | None = typer.Option(
            None, "--archive", help="As json: out of this archive, where the batch was put away."
        ),
        out: Path | None = typer.Option(None, "--out", "-o", help="Write to this file."),
    ) -> None:
        """Write the as-weighed record of a batch, complete on its own; or a sheet, or a table.

        As json it can be verified. As pdf it is a sheet to sign and put away; exit code 1 where
        the record does not hold, and the sheet says so. As csv or parquet it has a row for each
        addition, or for what else --table names.
        """
        if every and batch is not None and form == "json" and not schema:
            _everything(Path(batch), config, database, sheets=sheets)
            return
        _check(batch, form, every=every, days=first or last, schema=schema, proof=proof)
        _check_table(table, form, batch, out)
        if archive is not None:
            _out_of(archive, batch, form, out)
            return
        if schema:
            from weighd.main.shipped import record_schema

            _write(record_schema(), out, "the JSON Schema of a record")
        elif form == "json":
            assert batch is not None
            _json(batch, config, database, out, proof=proof)
        elif form == "pdf":
            assert batch is not None
            _pdf(batch, config, database, out)
        else:
            from weighd.main.files import database_of
            from weighd.main.outputs import Days

            place, days = database or database_of(config), Days(first, last)
            _table(table, place, batch, days, form, out)


def _everything(folder: Path, config: Path | None, database: str | None, *, sheets: bool) -> None:
    from weighd.main.everything import write_everything
    from weighd.storage.address import is_address

    if database is not None and is_address(database):
        raise typer.BadParameter("everything is of a station's own record", param_hint="--database")
    place = None if database is None else Path(database)
    done = write_everything(config, place, folder, sheets=sheets)
    print(
        f"{done.folder}: {done.entries} entries, {done.batches} "
        f"{'batch' if done.batches == 1 else 'batches'}, {done.files} files, "
        f"{done.size / 1_000_000:.1f} MB"
    )
    print(f"Whether it holds by itself: weighd verify {done.folder}")


def _table(
    table: str, place: Place, batch: str | None, days: Days, form: str, out: Path | None
) -> None:
    from weighd.main.outputs import write_table
    from weighd.main.tables import EVERY, write_all, write_one

    if table == EVERY:
        assert out is not None
        for name, rows in write_all(place, batch, days, out).items():
            print(f"{out / f'{name}.csv'}: {rows} {'row' if rows == 1 else 'rows'}")
    elif table != "weighings":
        rows = write_one(table, place, batch, days, out)
        if out is not None:
            print(f"{out}: {rows} {'row' if rows == 1 else 'rows'}")
    else:
        rows = write_table(place, batch, days, form, out)
        if out is not None:
            print(f"{out}: {rows} {'addition' if rows == 1 else 'additions'}")


def _check_table(table: str, form: str, batch: str | None, out: Path | None) -> None:
    """Whether there is such a table. Raises typer's error for a bad parameter."""
    from weighd.main.tables import EVERY, NAMES

    if table == "weighings":
        return
    if table not in (*NAMES, EVERY):
        raise typer.BadParameter(f"one of {', '.join(NAMES)}, {EVERY}", param_hint="--table")
    if form != "csv":
        raise typer.BadParameter("goes with --format csv", param_hint="--table")
    if table == "lots" and batch is not None:
        raise typer.BadParameter("lots are of no batch: ask for --all", param_hint="--table")
    if table == EVERY and out is None:
        raise typer.BadParameter("all tables go into a folder: name it", param_hint="--out")


def _check(
    batch: str | None, form: str, *, every: bool, days: str, schema: bool, proof: bool
) -> None:
    """Whether what was asked for goes together. Raises typer's error for a bad parameter."""
    from weighd.main.outputs import FORMATS

    if form not in FORMATS:
        raise typer.BadParameter(f"one of {', '.join(FORMATS)}", param_hint="--format")
    if schema and not (batch or every):
        return
    if schema:
        raise typer.BadParameter("is of all records: leave the batch out", param_hint="--schema")
    if (batch is None) is not every:
        told = "Name a batch, or ask for --all" if batch is None else "a batch or --all, not both"
        raise typer.BadParameter(told, param_hint="BATCH")
    if every and form not in ("csv", "parquet"):
        raise typer.BadParameter(f"only csv and parquet take --all, not {form}", param_hint="--all")
    if days and not every:
        raise typer.BadParameter("belong to --all", param_hint="--from, --to")
    if form == "json" and batch is not None and batch.endswith(".json"):
        raise typer.BadParameter("it is exported as json already", param_hint="BATCH")
    if proof and form != "json":
        raise typer.BadParameter("goes with json only", param_hint="--proof")


def _out_of(archive: Path, batch: str | None, form: str, out: Path | None) -> None:
    """A batch that was put away, as json; other forms are made of that."""
    from weighd.main.archiving import batch_in

    if form != "json" or batch is None:
        raise typer.BadParameter(
            "takes one batch as json; a sheet or a table is made of that file",
            param_hint="--archive",
        )
    document = batch_in(archive, batch)
    text = json.dumps(document, ensure_ascii=False, indent=1) + "\n"
    _write(text, out, f"{len(document['entries'])} entries of batch {batch}")


def _json(
    batch: str, config: Path | None, database: Place | None, out: Path | None, *, proof: bool
) -> None:
    from weighd.main.files import database_of
    from weighd.main.proving import export_batch, head_of

    head = head_of(config, database) if proof else None
    document = export_batch(database or database_of(config), batch, proof=head)
    text = json.dumps(document, ensure_ascii=False, indent=1) + "\n"
    _write(text, out, f"{len(document['entries'])} entries of batch {batch}")


def _pdf(batch: str, config: Path | None, database: Place | None, out: Path | None) -> None:
    from weighd.main.files import database_of
    from weighd.main.outputs import write_sheet

    write_sheet(database or database_of(config), batch, out)
    if out is not None:
        print(f"{out}: the record sheet of batch {batch}")


def _write(text: str, out: Path | None, what: str) -> None:
    from weighd.main.files import write_text

    if out is None:
        sys.stdout.write(text)
    else:
        write_text(out, text)
        print(f"{out}: {what}")
