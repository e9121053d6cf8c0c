"""``weighd trace``: where a lot went, what it was made of, and a mock recall."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import typer

from weighd.cli import places

_PUT_RIGHT = "; another lot was named first, and that was put right"


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def trace(
        lot: str = typer.Argument(
            help="A lot's code, ours or the supplier's, or a batch: what it made is a lot."
        ),
        as_json: bool = typer.Option(False, "--json", help="As JSON."),
        form: str = typer.Option("", "--format", help="pdf or csv: a recall sheet, into --out."),
        out: Path | None = typer.Option(None, "--out", "-o", help="The file of the sheet."),
        sheet: Path | None = typer.Option(None, "--csv", help="The same as --format csv --out."),
        drill: bool = typer.Option(
            False, "--drill", help="A mock recall: the time it took, and whether it adds up."
        ),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        database: str | None = places.database(),
        here: bool = typer.Option(
            False, "--here", help="What this station recorded, where it shares with others."
        ),
    ) -> None:
        """Trace a lot forwards into batches and what was made of them, and back.

        Where stations share a store, at all of them; cut off, a line says what is not shown.
        Amounts are shares by mass of what was weighed in. Exit code 1 where a drill's mass balance
        does not add up.
        """
        from weighd.cli import exits
        from weighd.main.lot_files import trace_lot, write_recall

        if form not in ("", "pdf", "csv") or bool(form) is not bool(out):
            raise typer.BadParameter("pdf or csv, with --out FILE", param_hint="--format")
        found = trace_lot(config, database, lot, here=here)
        told = {**found.drawn, "drill": drill}
        if as_json:
            print(json.dumps(told, ensure_ascii=False, indent=1))
        else:
            for text in [*lines(told), *(drilled(told) if drill else ())]:
                print(text)
        if sheet is not None:
            write_recall(told, "csv", sheet)
        if out is not None:
            write_recall(told, form, out)
        if drill and (told["balance"] or {}).get("adds_up") is False:
            raise typer.Exit(exits.DOES_NOT_HOLD)


def lines(told: dict[str, Any]) -> list[str]:
    """A trace for people."""
    from weighd.cli.lots import line

    out = [line(told["known"]) if told["known"] else f"{told['lot']}: made here, or not received."]
    out.append("")
    out.append("It went into:" if told["forward"] else "It went into nothing yet.")
    for one in told["forward"]:
        by = ", ".join(f"{it['lot']} ({it['g']} g)" for it in one["through"])
        way = f", by way of {by}" if one["depth"] > 1 else ""
        pad = "  " * one["depth"]
        out.append(
            f"{pad}{one['batch']}: {one['g']} g in {one['batch_g']} g, {one['percent']} %{way}"
            f"{_PUT_RIGHT if one['corrected'] else ''}"
        )
    if told["back"]:
        out += ["", "It was made of:"]
        out += [
            f"{'  ' * one['depth']}{one['lot'] or 'no lot named'}: {one['ingredient']}, "
            f"{one['g']} g{' (made here)' if one['made'] else ''}"
            f"{_PUT_RIGHT if one['corrected'] else ''}"
            for one in told["back"]
        ]
    if told.get("everywhere"):
        out += ["", f"Looked at: {', '.join(told['stations'])}."]
        if len(told["owners"]) > 1:
            where = " and ".join(told["owners"])
            out.append(f"Lots of this code were received at {where}: CODE@STATION is one of them.")
    elif "said" in told:
        out += ["", told["said"]]
    out += [f"Leads back to itself: {one}. A code was mistyped." for one in told["circles"]]
    return out


def drilled(told: dict[str, Any]) -> list[str]:
    """A mock recall in words."""
    deep = max((one["depth"] for one in told["forward"]), default=0)
    batches = "1 batch" if len(told["forward"]) == 1 else f"{len(told['forward'])} batches"
    out = [
        "",
        f"Mock recall: {batches} found in {told['took_ms']} ms, {deep} deep.",
    ]
    sums = told["sums"]
    out.append(
        f"Of what was used, {sums['in_stock_g']} g are still here in what was made, "
        f"{sums['wasted_g']} g were thrown away, {sums['out_g']} g are out."
    )
    one = told["balance"]
    if one is None:
        out.append("It was not received as a lot here, so there is no stock to balance.")
        return out
    out.append(
        f"Received {one['received_g']} g; used {one['used_g']} g (u {one['u_used_g']} g), "
        f"thrown away {one['wasted_g']} g, left {one['left_g']} g by the books."
    )
    if one["difference_g"] is None:
        out.append("Nobody counted what is left, so that no difference can show. Count it.")
        return out
    doubt = 2 * Decimal(one["u_used_g"])
    verdict = "adds up" if one["adds_up"] else "does not add up"
    out.append(
        f"Counts found {one['difference_g']} g missing (below zero: too much); what was weighed "
        f"is known to ±{doubt} g (2 u): it {verdict}."
    )
    return out
