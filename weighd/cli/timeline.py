"""``weighd timeline``: what the detector saw in a recording, as lines and as a plot."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import typer

from weighd.domain.errors import OperatorError


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def timeline(
        sessions: list[Path] = typer.Argument(
            metavar="SESSION...",
            help="Recorded sessions, or logs of readings as `weighd settle` takes them.",
        ),
        scale: str | None = typer.Option(
            None, "--scale", help="The scale to look at; without it, the one weighed on."
        ),
        out: Path | None = typer.Option(
            None,
            "-o",
            "--out",
            help="Where the plot goes, .svg or .png, or a folder for it; without it, "
            "SESSION.timeline.svg in the working folder.",
        ),
        start: float | None = typer.Option(
            None, "--from", metavar="S", help="Only from this second on."
        ),
        end: float | None = typer.Option(None, "--to", metavar="S", help="Only to this second."),
        formula: Path | None = typer.Option(
            None, "--formula", help="The formula, where the session does not carry it."
        ),
    ) -> None:
        """Show what the detector saw in a recording, so that a puzzling verdict can be looked at.

        Prints a line for each change of what the detector says (seconds, its word, the display
        claimed as settled, what that makes net, standard uncertainty, whether a record could take
        it, what disturbs) and for each entry of the record, and draws all of it beside the
        readings.
        """
        from weighd.main.timelines import draw, scale_of, trace_of
        from weighd.reports.timeline_text import lines

        since, until = start or 0.0, math.inf if end is None else end
        if not since < until:
            raise typer.BadParameter(f"{since:g} s is not before {until:g} s", param_hint="--from")
        for path, plot in zip(sessions, plots(sessions, out), strict=True):
            trace = trace_of(path, formula)
            name = scale_of(trace, scale)
            trace = trace.between(since, until)
            if not trace.scales[name].points:
                raise OperatorError(
                    "nothing-then",
                    f"The scale {name} sent no reading in that time.",
                    where=str(path),
                    remedy="Without --from and --to, all of it is shown.",
                )
            for text in lines(trace, name):
                print(text)
            draw(trace, name, plot)
            print(f"plot: {plot}", file=sys.stderr)


def plots(sessions: list[Path], out: Path | None) -> list[Path]:
    """Where each plot goes. Raises :class:`OperatorError` where two would go to one file."""
    from weighd.main.timelines import check_format

    if out is not None and not out.is_dir():
        check_format(out)
        if len(sessions) > 1:
            raise OperatorError(
                "one-plot-a-file",
                f"{len(sessions)} recordings do not go into one plot.",
                where=str(out),
                remedy="Name a folder with -o.",
            )
        return [out]
    folder = out or Path()
    found = [folder / f"{one.stem}.timeline.svg" for one in sessions]
    twice = next((one for one in found if found.count(one) > 1), None)
    if twice is not None:
        raise OperatorError(
            "one-plot-a-file",
            "Two of the recordings have the same name.",
            where=str(twice),
            remedy="Look at them one after the other, with -o.",
        )
    return found
