"""``weighd solve``: amounts from targets."""

from __future__ import annotations

from pathlib import Path

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def solve(
        file: Path = typer.Argument(help="A formula, or a list of ingredients (TOML)."),
        targets: list[str] = typer.Argument(
            None, help='Like fat=5, total_solids=34..36, freezing_point=-2.4±0.1, "cream<=200 g".'
        ),
        from_file: Path | None = typer.Option(None, "--targets", help="A file of targets (TOML)."),
        kind: str = typer.Option("", "--class", help="The limits of this class are targets too."),
        limits: Path | None = typer.Option(None, "--limits", help="A file of limits (TOML)."),
        use: list[str] = typer.Option([], "--use", help="An ingredient more; may be repeated."),
        aim: str = typer.Option("", "--aim", help="nearest, cheapest or middle."),
        yield_g: str = typer.Option("", "--yield-g", help="Batch size in grams."),
        overrun: str = typer.Option("", "--overrun", help="Air in percent of the mix's volume."),
        text: bool = typer.Option(False, "--text", help="For people, instead of JSON."),
        save: Path | None = typer.Option(None, "--save", help="Write the formula to a new file."),
    ) -> None:
        """Find amounts that bring a mix to its targets: shares, freezing point, given amounts.

        Of all mixes that are as asked, the one nearest to the formula's present amounts is taken,
        or the cheapest, or the one in the middle of each range (--aim). Where nothing is as asked
        it says which targets fight, shows the nearest miss, and ends with exit code 1. Flavours and
        what is there for its salt, stabiliser or alcohol keep their amounts unless a target names
        them.
        """
        from weighd.cli.mixed import print_mix
        from weighd.main.files import read_limits_file
        from weighd.main.targets import (
            a_solver,
            chosen,
            read_grams,
            read_source,
            read_wanted,
            save_formula,
            targets_of,
        )
        from weighd.station import solving, solving_words
        from weighd.station.composing import composed, read_overrun

        source, wanted = read_source(file), read_wanted(from_file)
        pool = chosen(source, (*wanted.use, *use))
        if source.formula is not None:
            pool = {
                **{one.ingredient.id: one.ingredient for one in source.formula.additions},
                **pool,
            }
        kinds = read_limits_file(limits, beside=file)
        air = read_overrun(overrun or wanted.overrun)
        ask = solving.asked(
            source.formula,
            pool,
            targets_of(wanted, targets or [], pool),
            batch_g=read_grams(yield_g or wanted.batch_g, "--yield-g"),
            aim=aim or wanted.aim,
            kinds=kinds,
            kind=kind or wanted.kind,
            overrun_percent=air,
        )
        out = solving.solve(ask, a_solver())
        if save is not None:
            save_formula(save, out.formula)
        one = composed(out.formula, kinds, kind=kind or wanted.kind, overrun_percent=air)
        drawn = solving_words.draw_solved(out)
        print_mix(drawn, solving_words.tell(out), one, save, as_text=text)
        if not out.met:
            raise typer.Exit(1)
