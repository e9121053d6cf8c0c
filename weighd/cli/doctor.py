"""``weighd doctor``: what is wrong with a station, and how to mend it."""

from __future__ import annotations

import json
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from weighd.main.doctor_finding import Finding

_SIGNS = {"ok": "ok", "note": "..", "warn": "!", "bad": "!!"}


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def doctor(
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        host: str | None = typer.Option(None, "--host", help="As for weighd serve."),
        port: int | None = typer.Option(None, "--port", help="As for weighd serve."),
        data: Path | None = typer.Option(None, "--data", help="As for weighd serve."),
        listen: float = typer.Option(
            2.0,
            "--listen",
            min=0,
            max=60,
            help="Seconds to listen to the scales; 0 not to.",
        ),
        as_json: bool = typer.Option(False, "--json", help="Print JSON, one finding a line."),
    ) -> None:
        """Look whether the station can run: its configuration, formulas, record, key, clock, page,
        scales, shared store and broker. Says what is wrong and how to mend it, and changes nothing.

        Exit code 1 where something keeps it from weighing (!!), else 0.
        """
        from weighd.main.doctor import examine
        from weighd.main.said import with_port

        bad = False
        for one in examine(config, lambda it: with_port(it, host, port, data), listen):
            bad = bad or one.level == "bad"
            print(json.dumps(one.as_json()) if as_json else in_words(one), flush=True)
        if bad:
            raise typer.Exit(1)


def in_words(one: Finding) -> str:
    """A finding for a terminal: how it stands, what it is about, what is the case, what to do."""
    head = f"{_SIGNS[one.level]:>2}  {one.about}: "
    what = one.what + (f" ({one.where})" if one.where else "")
    lines = textwrap.wrap(head + what, 96, subsequent_indent=" " * 6, break_on_hyphens=False)
    if one.remedy:
        lines += textwrap.wrap(
            f"-> {one.remedy}",
            96,
            initial_indent=" " * 6,
            subsequent_indent=" " * 9,
            break_on_hyphens=False,
        )
    return "\n".join(lines)
