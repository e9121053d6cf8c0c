"""``weighd trends``: how well things are weighed, across batches."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import typer

from weighd.cli import places
from weighd.station.trends import MOST, USUAL


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def trends(
        by: str = typer.Option("ingredient", "--by", help="ingredient, scale or operator."),
        of: str = typer.Option("", "--of", metavar="NAME", help="Only this one, with its chart."),
        since: str = typer.Option("", "--since", help="From this day on (UTC), like 2026-11-01."),
        until: str = typer.Option("", "--until", help="To the end of this day."),
        last: int = typer.Option(
            USUAL, "--last", min=2, max=MOST, help="Look at no more than the newest so many."
        ),
        plot: Path | None = typer.Option(
            None, "--plot", help="With --of: draw the chart into this file, SVG or PNG."
        ),
        as_json: bool = typer.Option(False, "--json", help="For programs."),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        database: str | None = places.database(),
    ) -> None:
        """Show bias, scatter and what stands out, by ingredient, scale or operator.

        Over batches of any size: how far each weighing lay from its target, as a share of what was
        allowed. What is not steady comes first.
        """
        from weighd.main.trending import draw, trends_of
        from weighd.station.trends_words import lines

        if plot is not None and not of:
            raise typer.BadParameter("belongs to --of", param_hint="--plot")
        found = trends_of(config, database, by=by, of=of, since=since, until=until, last=last)
        if plot is not None:
            draw(found[0], plot)
            print(f"plot: {plot}", file=sys.stderr)
        if as_json:
            print(json.dumps(found[0] if of else found, ensure_ascii=False, indent=2))
            return
        for line in lines(found, by):
            print(line)
