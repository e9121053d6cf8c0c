"""``weighd compose``: what a formula's mix holds, and how it freezes; or a batch as weighed."""

from __future__ import annotations

import json
from pathlib import Path

import typer

from weighd.cli import places


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def compose(
        file: Path | None = typer.Argument(None, help="A formula (TOML) or an export (JSON)."),
        yield_g: str = typer.Option("", "--yield-g", help="Batch size in grams."),
        size: str = typer.Option("", "--size", help='Like "5 L at 30 %"; see weighd size.'),
        text: bool = typer.Option(False, "--text", help="For people, instead of JSON."),
        kind: str = typer.Option("", "--class", help="Hold it to the limits of this class."),
        overrun: str = typer.Option("", "--overrun", help="Air in percent of the mix's volume."),
        pieces: str = typer.Option(
            "", "--pieces", help="With --overrun: put in after freezing, like 120g/0.748."
        ),
        cup: str = typer.Option(
            "", "--cup", help="What a cup holds of mix and weighs empty, like 110g/30g."
        ),
        at: list[str] = typer.Option([], "--at", help="A temperature in °C; may be repeated."),
        limits: Path | None = typer.Option(None, "--limits", help="A file of limits (TOML)."),
        batch: str = typer.Option("", "--batch", help="A batch as weighed, like kitchen-0007."),
        prices: Path | None = typer.Option(
            None, "--prices", help="For a batch: ingredients (TOML) with what they cost today."
        ),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        database: str | None = places.database(),
    ) -> None:
        """Work out a formula's composition, sweetness, energy, cost, volume and freezing curve.

        What is known of each ingredient stands in the formula file or in ingredients.toml beside
        it. What is missing is named, and amounts it touches are "at least". Limits are taken from
        limits.toml beside the formula, else from those that ship.

        With --batch, or for an exported record, the batch as weighed beside what was planned: what
        is in and what is still to come, by the composition that its record keeps, and whether
        what differs is more than weighing can tell.
        """
        from weighd.cli.composing_batch import print_batch
        from weighd.domain.errors import OperatorError
        from weighd.main.files import is_export, read_formula_file, read_limits_file
        from weighd.station.composing import (
            USUAL_C,
            composed,
            draw_composition,
            read_overrun,
            read_temperature,
        )
        from weighd.station.composing_words import tell
        from weighd.station.product import (
            draw_cup,
            draw_with_pieces,
            read_cup,
            read_pieces,
            tell_product,
        )
        from weighd.station.sizing import chosen_size

        air = read_overrun(overrun)
        if pieces and air is None:
            raise OperatorError(
                "bad-option",
                "Pieces are told with an overrun.",
                where="--pieces",
                remedy="Give --overrun too.",
            )
        bits, held = read_pieces(pieces) if pieces else None, read_cup(cup) if cup else None
        asked = tuple(read_temperature(one) for one in at)
        if (file is None) == (not batch):
            raise OperatorError(
                "no-formula",
                "Name one: a formula file, an exported record, or a batch with --batch.",
            )
        if file is None or is_export(file):
            if pieces or cup:
                raise OperatorError(
                    "bad-option",
                    "--pieces and --cup are for a formula.",
                    remedy="What came out of a batch is told by weighd yield.",
                )
            if yield_g or size:
                raise OperatorError(
                    "bad-option", "A batch has its size.", where="--yield-g", remedy="Leave it out."
                )
            print_batch(
                file, batch, config, database, prices, limits, kind, air, asked, as_text=text
            )
            return
        if prices or config or database:
            raise OperatorError(
                "bad-option",
                "--prices, --config and --database are for a batch.",
                remedy="A formula has its prices in its ingredients.",
            )
        temperatures = asked or USUAL_C
        formula = read_formula_file(file)
        scaled = formula.scaled(chosen_size(yield_g, size, formula)[0])
        kinds = read_limits_file(limits, beside=file)
        one = composed(scaled, kinds, kind=kind, overrun_percent=air, at_c=temperatures)
        drawn = draw_composition(one)
        if bits is not None and air is not None:
            drawn["with_pieces"] = draw_with_pieces(one.mix, air, bits)
        if held is not None:
            drawn["cup"] = draw_cup(held)
        if text:
            for line in (*tell(drawn), *tell_product(drawn)):
                print(line)
        else:
            print(json.dumps(drawn, indent=2, ensure_ascii=False))
