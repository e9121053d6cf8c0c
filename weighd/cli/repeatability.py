"""``weighd repeatability``: how well a scale repeats itself, out of a recording."""

from __future__ import annotations

from pathlib import Path

import typer

from weighd.domain import mass


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def repeatability(
        session: Path = typer.Argument(help="A session, as weighd record writes it."),
        scale: str | None = typer.Option(None, "--scale", help="Which of its scales."),
    ) -> None:
        """Work out a scale's repeatability from one weight put on and taken off ten times.

        Run `weighd record SCALE FILE` meanwhile, and wait each time until the display stands.
        Prints every weighing, their standard deviation, and the line for the configuration.
        """
        from weighd.domain.repeatability import ENOUGH
        from weighd.main.repeating import measured

        name, interval, found = measured(session, scale)
        print(f"{session.name}: scale {name}, interval {mass.text(interval)} g")
        for n, net in enumerate(found.nets, start=1):
            print(f"{n:3}. {mass.text(net):>9} g")
        for net in found.others:
            print(f"left out, another load: {mass.text(net)} g")
        low, high = min(found.nets), max(found.nets)
        told = found.stated_g()
        if not told:
            print(
                f"{len(found.nets)} weighings, all {mass.text(low)} g: the scale repeats finer "
                "than it shows, and rounding accounts for that; repeatability_g is not needed."
            )
        else:
            print(
                f"{len(found.nets)} weighings, {mass.text(low)} to {mass.text(high)} g, standard "
                f"deviation {mass.text(told)} g (rounded up). For the configuration:"
            )
            print(f'    [scales.{name}]\n    repeatability_g = "{mass.text(told)}"')
        if len(found.nets) < ENOUGH:
            print(f"Fewer than {ENOUGH} weighings show little; repeat it with more.")
