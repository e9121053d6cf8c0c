"""``weighd yield``: what came of a batch; one more draw of it, or one put right."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from weighd.cli import places

if TYPE_CHECKING:
    from weighd.storage.address import Place


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("yield")
    def yield_(
        batch: str = typer.Argument(help="A batch, like kitchen-0007, or an export (JSON)."),
        draw: list[str] = typer.Option(
            [], "--draw", help="Weight, volume or both, like 1250g/1.4L; may be repeated."
        ),
        containers: str = typer.Option(
            "", "--containers", help="Containers filled to a mark, like 4x350mL, for the volume."
        ),
        scale: str = typer.Option("", "--scale", help="The draw stands there; its weight is read."),
        vessel: str = typer.Option("", "--vessel", help="The known vessel it stands in."),
        tare: str = typer.Option("", "--tare", help="What its container weighs, like 30g."),
        pieces: str = typer.Option(
            "", "--pieces", help="Put in after freezing: mass and density, like 120g/0.748."
        ),
        left: str = typer.Option("", "--left", help="Mix left over, like 35g."),
        portions: int | None = typer.Option(None, "--portions", help="Portions made of it."),
        cup: str = typer.Option(
            "", "--cup", help="One cup of mix and of product, net, like 110g/85g."
        ),
        sample: str = typer.Option(
            "", "--sample", help="Mix without air, for its density, like 549g/500mL."
        ),
        correct: int | None = typer.Option(
            None, "--correct", help="The draw in whose place this one stands; alone: take it back."
        ),
        reason: str = typer.Option("", "--reason", help="Why, for a correction."),
        by: str = typer.Option("", "--by", help="Who says so; the user's name otherwise."),
        url: str = typer.Option("", "--url", help="Where the station is; as configured otherwise."),
        as_json: bool = typer.Option(False, "--json", help="For programs."),
        as_csv: bool = typer.Option(False, "--csv", help="For a spreadsheet: a line a draw."),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        database: str | None = places.database("To show: the database, if not the configured one."),
        prices: Path | None = typer.Option(
            None, "--prices", help="To show: ingredients (TOML) with what they cost today."
        ),
    ) -> None:
        """Show what came of a batch: overrun, loss, portions and cost; or record a draw of it.

        A draw is recorded at the station that runs, of a batch that was all weighed. What is typed
        is kept as it was typed; a draw that was wrong is put right by another that names it.
        """
        from weighd.cli.reach import acting, station_at
        from weighd.domain.errors import OperatorError
        from weighd.station.yield_words import tell_yield

        given = _given(containers, pieces, left, portions, cup, sample)
        more = {"scale": scale, "vessel": vessel, "tare": tare, "reason": reason}
        given |= {key: value for key, value in more.items() if value}
        if correct is not None:
            given["corrects"] = correct
        draws = [_drawn(one) for one in draw]
        if correct is not None and len(draws) > 1:
            raise OperatorError("bad-draw", "One draw stands in the place of one.", where="--draw")
        if given or draws:
            station = station_at(url, config)
            # What else is told goes with the last draw.
            *first, last = draws or [{}]
            who = {"by": acting(by)}
            for one in (*first, {**last, **given}):
                station.post(
                    "batches", batch, "yield", **one, **{k: v for k, v in who.items() if v}
                )
            drawn = station.get("batches", batch, "yield")
        elif url:
            drawn = station_at(url, config).get("batches", batch, "yield")
        else:
            drawn = _read(batch, config, database, prices)
        if as_csv:
            from weighd.main.batch_files import csv_of_draws

            sys.stdout.write(csv_of_draws(drawn))
            return
        if as_json:
            print(json.dumps(drawn, indent=2, ensure_ascii=False))
            return
        for line in tell_yield(drawn):
            print(line)


def _read(
    batch: str, config: Path | None, database: Place | None, prices: Path | None
) -> dict[str, Any]:
    """The yield of a batch out of an export or a database."""
    from weighd.main import batch_files as of
    from weighd.station.yield_picture import draw_yield

    named = Path(batch)
    file = named if batch.endswith(".json") or named.is_file() else None
    folded, known, folder = of.batch_priced(file, batch, config, database, prices)
    return draw_yield(folded, of.kinds_for(None, folder), known)


def _given(
    containers: str, pieces: str, left: str, portions: int | None, cup: str, sample: str
) -> dict[str, Any]:
    out: dict[str, Any] = {}
    if containers:
        found = re.fullmatch(r"\s*([0-9]{1,6})\s*[xX×]\s*(.+)", containers, re.ASCII)
        if not found:
            raise _bad("--containers", containers, "4x350mL")
        out |= {"containers": int(found[1]), "fill": found[2].strip()}
    if pieces:
        grams, _, density = pieces.partition("/")
        out |= {"pieces": grams} | ({"pieces_density": density.strip()} if density else {})
    if left:
        out["left"] = left
    if portions is not None:
        out["portions"] = portions
    for name, text, keys, like in (
        ("--cup", cup, ("cup_mix", "cup_product"), "110g/85g"),
        ("--sample", sample, ("sample_weight", "sample_volume"), "549g/500mL"),
    ):
        if text:
            pair = text.split("/")
            if len(pair) != 2:
                raise _bad(name, text, like)
            out |= dict(zip(keys, pair, strict=True))
    return out


def _drawn(text: str) -> dict[str, str]:
    """``1250g/1.4L`` as weight and volume, in either order; one of them may be left out."""
    out: dict[str, str] = {}
    for one in text.split("/"):
        field = "volume" if one.strip().lower().endswith("l") else "weight"
        if field in out or not one.strip():
            raise _bad("--draw", text, "1250g/1.4L")
        out[field] = one
    return out


def _bad(name: str, text: str, like: str) -> Exception:
    from weighd.domain.errors import OperatorError

    return OperatorError(
        "bad-draw", f'"{text[:40]}" is not what it should be.', where=name, remedy=f"Like {like}."
    )
