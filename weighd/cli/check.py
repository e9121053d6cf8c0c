"""``weighd check``: a scale checked with weights, guided in the terminal; its history, and a plot.

It works against the station that runs: only that one has the scale's port and writes the record.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from weighd.cli import places

if TYPE_CHECKING:
    from weighd.storage.address import Place

from weighd.domain import mass

DEFAULT_SHOWN = 20


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def check(
        scale: str = typer.Argument(help="A configured scale, like bench."),
        by: str = typer.Option("", "--by", help="Who is checking; the user's name otherwise."),
        url: str = typer.Option("", "--url", help="Where the station is; as configured otherwise."),
        history: bool = typer.Option(
            False, "--history", help="Show the checks that were made, and make none."
        ),
        plot: Path | None = typer.Option(
            None, "--plot", help="With --history: draw them into this file, SVG or PNG."
        ),
        show: int = typer.Option(
            DEFAULT_SHOWN, "--show", min=1, max=1000, help="With --history: how many at most."
        ),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        database: str | None = places.database(
            "With --history: the database, if not the configured one."
        ),
    ) -> None:
        """Check a scale with weights, as its configuration says, at the station that runs.

        Says what to put on and what to take off; no key need be pressed in between. Exit code 1
        where the scale did not pass.
        """
        if plot is not None and not history:
            raise typer.BadParameter("belongs to --history", param_hint="--plot")
        if history:
            _history(scale, config, database, plot, show)
            return
        from weighd.cli import exits
        from weighd.cli.checking import Guided
        from weighd.cli.reach import acting, station_at

        guided = Guided(station_at(url, config), scale, acting(by), print)
        if guided.go() != "pass":
            raise typer.Exit(exits.DOES_NOT_HOLD)


def _history(
    scale: str, config: Path | None, database: Place | None, plot: Path | None, show: int
) -> None:
    from weighd.main.check_reports import checks_of, draw

    found = checks_of(scale, config, database, show)
    if not found:
        print(f"The scale {scale} was never checked.")
        return
    for one in found:
        for line in lines(one):
            print(line)
    if plot is not None:
        draw(scale, found, plot)
        print(f"plot: {plot}", file=sys.stderr)


def lines(one: dict[str, Any]) -> list[str]:
    """A check of the history, in lines."""
    out = [f"{one['at'][:16].replace('T', ' ')} UTC  {one['outcome']}  by {one['by']}"]
    out += [f"    {found(step)}" for step in one["steps"] if step["part"] != "repeatability"]
    if one["repeatability"]:
        out.append(f"    {repeated(one['repeatability'], one['steps'])}")
    if one["left_out"]:
        out.append(f"    left out: {', '.join(one['left_out'])}")
    out += [
        f"    in doubt: batch {each['batch']}, "
        f"addition {', '.join(str(n) for n in each['additions'])}"
        for each in one["doubted"]
    ]
    return out


def found(step: dict[str, Any]) -> str:
    """What one placement showed."""
    what = "empty" if step["weight"] is None else f"{_name(step)}"
    if step["part"] == "corner":
        what += f", {step['place']}"
    error = _signed(step["error_g"])
    return f"{what:<28} {error:>9} g of ±{step['limit_g']} g, u {step['u_g']} g: {step['outcome']}"


def repeated(one: dict[str, Any], steps: list[dict[str, Any]]) -> str:
    """What one weight, put on again and again, showed."""
    last = next(step for step in reversed(steps) if step["part"] == "repeatability")
    what = f"{_name(last)}, {one['n']} times"
    return (
        f"{what:<28} {one['range_g']:>9} g apart, {one['limit_g']} g allowed, "
        f"standard deviation {one['s_g']} g: {one['outcome']}"
    )


def _name(step: dict[str, Any]) -> str:
    weight = step["weight"]
    return str(weight["name"] if isinstance(weight, dict) else weight)


def _signed(grams: str) -> str:
    value = mass.parse(grams)
    return f"+{mass.text(value)}" if value > 0 else mass.text(value)
