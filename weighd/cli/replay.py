"""``weighd replay``: a whole station over a recorded session, as fast as it goes."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import typer

from weighd.cli import exits


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def replay(
        session: Path = typer.Argument(help="A recorded session (JSON lines)."),
        formula: Path | None = typer.Option(
            None, "--formula", help="The formula, where the session does not carry it."
        ),
        check: Path | None = typer.Option(
            None, "--check", help="Compare with this golden record; exit 1 on a difference."
        ),
        accept: Path | None = typer.Option(
            None, "--accept", help="Write the record as the new golden record."
        ),
    ) -> None:
        """Replay a session and print the as-weighed record of its last batch as JSON."""
        from weighd.main.files import replay_file, write_text

        def refused(text: str) -> None:
            print(f"refused: {text}", file=sys.stderr)

        record = replay_file(session, formula, refused)
        if accept is not None:
            write_text(accept, text_of(record))
        if check is not None:
            raise typer.Exit(compare(check, record))
        if accept is None:
            sys.stdout.write(text_of(record))


def text_of(record: dict[str, Any]) -> str:
    """A record as golden files hold it."""
    return json.dumps(record, ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def compare(golden: Path, record: dict[str, Any]) -> int:
    """Print what differs from the golden record; the exit code."""
    from weighd.station.replay import differences

    try:
        expected = json.loads(golden.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise typer.BadParameter(
            f"{golden} cannot be read: {error}", param_hint="--check"
        ) from error
    found = differences(expected, json.loads(text_of(record)))
    for line in found:
        print(line)
    print(f"{len(found)} differences from {golden}" if found else f"the same as {golden}")
    return exits.DOES_NOT_HOLD if found else exits.OK
