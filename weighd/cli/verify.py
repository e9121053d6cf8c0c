"""``weighd verify``: does a record hold?"""

from __future__ import annotations

from pathlib import Path

import typer

from weighd.domain.verify import Report


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def verify(
        record: Path = typer.Argument(help="An exported record (JSON) or a station's database."),
    ) -> None:
        """Check chain, batches and re-derived verdicts; exit 1 naming the first that fails.

        Needs nothing but the file. A chain shows that something was changed only against a hash
        kept elsewhere: keep exports, or the printed head, in another place than the database.
        """
        from weighd.main.files import verify_file

        report, head = verify_file(record)
        print(in_words(report))
        if head:
            print(f"Head of the chain: entry {report.entries}, {head}")


def in_words(report: Report) -> str:
    """A verification that went well, in a sentence or two."""
    text = (
        f"The record holds: {report.entries} entries, {report.batches} "
        f"{'batch' if report.batches == 1 else 'batches'}, {report.weighings} weighings "
        "re-derived from their evidence."
    )
    if report.checks:
        text += f" {report.checks} {'check' if report.checks == 1 else 'checks'} of scales hold."
    if report.flagged:
        text += (
            f" {report.flagged} of the weighings were made on a scale whose check had failed, was "
            "overdue or was never made."
        )
    if report.doubted:
        text += (
            f" {report.doubted} of the weighings are in doubt: their scale failed the next check."
        )
    if report.open_batches:
        text += (
            f" {report.open_batches} of the batches {'is' if report.open_batches == 1 else 'are'} "
            "not closed: still being weighed, or cut short."
        )
    if report.unread:
        text += (
            " The bytes of these scales could not be read again, for want of a driver: "
            + ", ".join(sorted(report.unread))
            + "."
        )
    return text
