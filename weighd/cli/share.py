"""``weighd share``: how far behind the shared store is; send now; set it up."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from weighd.main.sharing import Status


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def share(
        store: str | None = typer.Argument(
            None, metavar="[ADDRESS]", help="The shared store, if not the configured one."
        ),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        now: bool = typer.Option(False, "--now", help="Send until all is there."),
        check: bool = typer.Option(
            False, "--check", help="Send, then compare all that is there with this record."
        ),
        set_up: bool = typer.Option(
            False, "--set-up", help="Make the tables, or bring older ones up to date."
        ),
        grant: list[str] = typer.Option(
            [], "--grant", metavar="ROLE", help="With --set-up: let this role send; repeatable."
        ),
        as_json: bool = typer.Option(False, "--json", help="For programs."),
    ) -> None:
        """Tell how far the shared store is behind this station's record.

        A running station sends by itself; --now does it without one, or beside it. Exit code 1
        where something is not there yet, or where the two do not go together.
        """
        from weighd.cli import exits
        from weighd.main import sharing

        if set_up:
            made = sharing.set_up(config, store, grant)
            print(f"{made.shown} is ready.")
            for role in grant:
                print(f"{role} may add to the record there, and change nothing of it.")
            return
        if grant:
            raise typer.BadParameter("belongs to --set-up", param_hint="--grant")

        def told(there: int, left: int) -> None:
            if not as_json:
                print(f"{there} entries are there, {left} wait", file=sys.stderr)

        if now or check:
            found = sharing.send_now(config, store, told, check=check)
        else:
            found = sharing.status(config, store)
        if as_json:
            told_so = {
                "store": found.store,
                "station": found.station,
                "there": found.there.seq,
                "here": found.here.seq,
                "behind": found.behind,
                "since": found.since or None,
            }
            print(json.dumps(told_so, ensure_ascii=False))
        else:
            print(line(found))
        if found.behind:
            raise typer.Exit(exits.DOES_NOT_HOLD)


def line(found: Status) -> str:
    """How both stand, in a sentence."""
    head = f"{found.station}: {found.here.seq} entries here, {found.there.seq} in {found.store}"
    if not found.behind:
        return f"{head}. All is there."
    return f"{head}. {found.behind} are not there yet, the oldest of {found.since}."
