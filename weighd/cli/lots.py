"""``weighd lots``: goods received, what is left of them, what is done to them."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import typer

from weighd.cli import places

_BY = typer.Option("", "--by", help="Who does it; the user's name otherwise.")
_URL = typer.Option("", "--url", help="Where the station is; as configured otherwise.")
_CONFIG = typer.Option(None, "--config", help="The configuration file.")
_DATABASE = places.database()
_REASON = typer.Option(..., "--reason", help="Why: it stays in the record.")
_LOT = typer.Argument(help="A lot's code, ours or the supplier's.")


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    lots = typer.Typer(help="Lots of goods: receive, list, open, block, count.")
    app.add_typer(lots, name="lots")
    _reads(lots)
    _changes(lots)


def _reads(lots: typer.Typer) -> None:
    @lots.command("list")
    def list_(
        word: str = typer.Argument("", help="Part of a code, an ingredient or a supplier."),
        gone: bool = typer.Option(False, "--gone", help="Also those that were used up."),
        as_json: bool = typer.Option(False, "--json", help="As JSON."),
        config: Path | None = _CONFIG,
        database: str | None = _DATABASE,
    ) -> None:
        """List the lots there are, soonest to expire first, with what is left of each."""
        from weighd.main.lot_files import list_lots

        found = list_lots(config, database, word, gone=gone)
        if as_json:
            print(json.dumps(found, ensure_ascii=False, indent=1))
            return
        for one in found:
            print(line(one))
        if not found:
            print("No lot is known." if not word else f'No lot has "{word}" in it.')

    @lots.command()
    def show(
        lot: str = _LOT,
        as_json: bool = typer.Option(False, "--json", help="As JSON."),
        config: Path | None = _CONFIG,
        database: str | None = _DATABASE,
    ) -> None:
        """Show one lot, with everything that was recorded of it."""
        from weighd.main.lot_files import show_lot

        one = show_lot(config, database, lot)
        if as_json:
            print(json.dumps(one, ensure_ascii=False, indent=1))
            return
        print(line(one))
        for entry in one["history"]:
            told = [entry.get("by", ""), entry.get("reason", "")]
            told += [f"{entry[key]} g" for key in ("count_g", "waste_g") if key in entry]
            told += [f"at {entry['station']}"] if "station" in entry else []
            told += [f"{entry['over_g']} g too much"] if "over_g" in entry else []
            print(f"  {entry['at'][:16].replace('T', ' ')}  {entry['kind']}: {_joined(told)}")

    @lots.command()
    def label(
        code: str = typer.Argument(help="A lot's code, or a batch, like kitchen-0007."),
        out: Path = typer.Option(
            ..., "--out", "-o", help="Write the labels here: as PDF, or one as SVG (NAME.svg)."
        ),
        size: str = typer.Option(
            "", "--size", help='In mm, like 62x40 or "70x37 on 210x297"; the usual one.'
        ),
        copies: int = typer.Option(1, "--copies", min=1, help="How many."),
        each: str = typer.Option("", "--each", help="Net of each, like 250g."),
        draws: bool = typer.Option(
            False, "--draws", help="Of a batch: one for each container that was drawn."
        ),
        config: Path | None = _CONFIG,
        database: str | None = _DATABASE,
    ) -> None:
        """Write labels with a QR code of the lot, as PDF.

        Its allergens are what the ingredients name: the labels of the goods decide, and what has to
        stand on a label your local rules say.
        """
        from weighd.main.labels import write_labels

        made, missing = write_labels(
            config,
            database,
            code,
            out,
            size=size,
            of="draws" if draws else "batch",
            copies=copies,
            each=each,
        )
        many = "" if len(made) == 1 else f", {len(made)} labels"
        print(f"{out}: {made[0].name}, {made[0].code}{many}")
        if missing:
            told = " ".join(missing[:20])
            print(
                f"The fonts have no picture of {told}: printed as numbers. The page prints them "
                "with the fonts of its browser.",
                file=sys.stderr,
            )


def _changes(lots: typer.Typer) -> None:
    @lots.command()
    def receive(
        ingredient: str = typer.Argument(help="The id of an ingredient."),
        quantity: str = typer.Argument("", help='How much, like "25 kg"; of a batch all of it.'),
        lot: str = typer.Option("", "--lot", help="Our code for it; one is made otherwise."),
        supplier: str = typer.Option("", "--supplier", help="Who it came from."),
        supplier_lot: str = typer.Option("", "--supplier-lot", help="The lot's code on the pack."),
        gtin: str = typer.Option("", "--gtin", help="Its trade number, 14 digits."),
        use_by: str = typer.Option("", "--use-by", metavar="DAY", help="Like 2026-11-30."),
        best_before: str = typer.Option("", "--best-before", metavar="DAY", help="The other one."),
        temperature: str = typer.Option("", "--temperature", help="As read at receipt, in °C."),
        document: str = typer.Option("", "--document", help="Delivery note or invoice."),
        note: str = typer.Option("", "--note", help="What else is to be known."),
        batch: str = typer.Option("", "--batch", help="The batch of ours that it is."),
        corrects: str = typer.Option("", "--corrects", help="The lot whose receipt was wrong."),
        reason: str = typer.Option("", "--reason", help="With --corrects: why."),
        by: str = _BY,
        url: str = _URL,
        config: Path | None = _CONFIG,
    ) -> None:
        """Receive a lot, at the station that runs; its code is printed."""
        from weighd.cli.reach import acting, station_at

        given = {
            "quantity_g": quantity,
            "lot": lot,
            "supplier": supplier,
            "supplier_lot": supplier_lot,
            "gtin": gtin,
            "use_by": use_by,
            "best_before": best_before,
            "temperature_c": temperature,
            "document": document,
            "note": note,
            "made_in": batch,
            "corrects": corrects,
            "reason": reason,
        }
        asked = {key: value for key, value in given.items() if value}
        station = station_at(url, config)
        told = station.post("lots", ingredient=ingredient, by=acting(by), **asked)
        print(f"Lot {told['lot']}.")

    @lots.command("open")
    def open_(
        lot: str = _LOT,
        keeps: int | None = typer.Option(None, "--keeps-days", help="How long it keeps open."),
        by: str = _BY,
        url: str = _URL,
        config: Path | None = _CONFIG,
    ) -> None:
        """Say that a lot is opened; from then on it keeps as its ingredient says."""
        more = {} if keeps is None else {"keeps_days": keeps}
        _do(url, config, lot, "open", by, **more)

    @lots.command()
    def block(
        lot: str = _LOT,
        reason: str = _REASON,
        by: str = _BY,
        url: str = _URL,
        config: Path | None = _CONFIG,
    ) -> None:
        """Block a lot: nobody can name it for an addition."""
        _do(url, config, lot, "block", by, reason=reason)

    @lots.command()
    def release(
        lot: str = _LOT,
        reason: str = _REASON,
        by: str = _BY,
        url: str = _URL,
        config: Path | None = _CONFIG,
    ) -> None:
        """Lift a block."""
        _do(url, config, lot, "release", by, reason=reason)

    @lots.command()
    def count(
        lot: str = _LOT,
        grams: str = typer.Argument(help='What is there, like "3.2 kg".'),
        reason: str = _REASON,
        by: str = _BY,
        url: str = _URL,
        config: Path | None = _CONFIG,
    ) -> None:
        """Say what was counted (or weighed) of a lot; the books follow."""
        _do(url, config, lot, "adjust", by, reason=reason, count_g=grams)

    @lots.command()
    def waste(
        lot: str = _LOT,
        grams: str = typer.Argument(help='What was thrown away, like "200 g".'),
        reason: str = _REASON,
        by: str = _BY,
        url: str = _URL,
        config: Path | None = _CONFIG,
    ) -> None:
        """Take out of stock what was thrown away."""
        _do(url, config, lot, "adjust", by, reason=reason, waste_g=grams)

    @lots.command("used-up")
    def used_up(
        lot: str = _LOT, by: str = _BY, url: str = _URL, config: Path | None = _CONFIG
    ) -> None:
        """Say that nothing is left of a lot; what the books still had is written off."""
        _do(url, config, lot, "use up", by)


def _do(url: str, config: Path | None, lot: str, do: str, by: str, **more: Any) -> None:
    from weighd.cli.reach import acting, station_at

    station = station_at(url, config)
    station.post("lots", lot, "commands", do=do, by=acting(by), **more)
    print(line(station.get("lots", lot)))


def line(one: dict[str, Any]) -> str:
    """A lot in a line: code, what, how much is left, until when, and what is the matter."""
    told = [f"{one['lot']:<12} {one['name']}: {one['left_g']} g left of {one['quantity_g']} g"]
    if one["use_by"]:
        told.append(f"use by {one['use_by']}")
    if one["best_before"]:
        told.append(f"best before {one['best_before']}")
    if one["opened"]:
        told.append(f"opened {one['opened'][:10]}")
    if one["blocked"]:
        told.append(f"BLOCKED: {one['blocked']}")
    elif one["fit"] != "good":
        told.append(one["fit"].upper())
    if one["over_g"] != "0" and one["elsewhere"]:
        drew = [_at(it) for it in one["elsewhere"]]
        told.append(f"OVERDRAWN by {one['over_g']} g: here {one['used_g']} g, {', '.join(drew)}")
    elif one["left_g"].startswith("-"):
        told.append("more was weighed than was there")
    elif one["elsewhere"]:
        told.append("drawn elsewhere: " + ", ".join(_at(it) for it in one["elsewhere"]))
    if one["station"]:
        told.append(f"received at {one['station']}")
    told += [one["supplier"], one["supplier_lot"]]
    return _joined(told)


def _at(one: dict[str, str]) -> str:
    return f"{one['station']} {one['g']} g"


def _joined(parts: list[str]) -> str:
    return ", ".join(part for part in parts if part)
