"""``weighd verify``: does a record hold?"""

from __future__ import annotations

from pathlib import Path

import typer

from weighd.cli import places
from weighd.domain.signing import short
from weighd.domain.verify import Report


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def verify(
        record: str = typer.Argument(
            help="An exported record (JSON), a station's database, the folder that weighd export "
            "--all made, or the address of a shared store: all stations, or with ?station=NAME "
            "one.",
            callback=places.seen,
        ),
        key: list[str] = typer.Option(
            [],
            "--key",
            metavar="KEY",
            help="A public key that is trusted: its 64 digits, or a PEM file; may be repeated. "
            "Every batch that is over must then be signed by one of them.",
        ),
        head: list[Path] = typer.Option(
            [], "--head", metavar="FILE", help="A head that was kept elsewhere (weighd head)."
        ),
        chain: bool = typer.Option(
            False,
            "--chain",
            help="Of a database, only that no entry was changed, taken out or put in, and that "
            "signatures and heads hold. Quick; no verdict is made again.",
        ),
        redraw: bool = typer.Option(
            False,
            "--redraw",
            help="First draw the lists of batches and lots anew from the entries. The station must "
            "be stopped.",
        ),
        archive: list[Path] = typer.Option(
            [],
            "--archive",
            metavar="FILE",
            help="An archive that batches were put away in: they are verified with the rest.",
        ),
    ) -> None:
        """Check chain, verdicts, signatures and heads; exit 1 naming the first that fails.

        Needs nothing but the file, and the station's public key, had from the station itself.
        Whoever can write the database can write all of it anew, and sign with another key: only
        a key or a head kept elsewhere shows that.
        """
        from weighd.main import proving
        from weighd.main.archiving import is_archive, verify_archive_file, verify_with
        from weighd.main.everything import verify_folder

        folder = Path(record)
        alone = is_archive(folder)
        if archive and (alone or folder.is_dir()):
            raise typer.BadParameter("goes with a database", param_hint="--archive")
        if redraw:
            count = proving.redraw(record)
            print(f"The lists were drawn anew: {count} {'batch' if count == 1 else 'batches'}.")
        if folder.is_dir() and not chain:
            found = verify_folder(folder, key, head)
        elif alone:
            found = verify_archive_file(folder, key, head)
        elif archive:
            found = verify_with(record, key, head, archive)
        else:
            found = proving.verify_file(record, key, head, chain_only=chain)
        only_chain = chain and not (alone or archive)  # archives are always verified whole
        print(chain_in_words(found.report) if only_chain else in_words(found.report))
        print(signed_in_words(found.report, trusted=bool(key)))
        for station, entries, last in found.ends:
            print(f"The chain of {station} ends with entry {entries}, {last}")
        if head:
            them = "The head that was kept holds" if len(head) == 1 else "The kept heads hold"
            print(f"{them}: nothing before was changed since.")


def signed_in_words(report: Report, *, trusted: bool) -> str:
    """Who signed what, in a sentence or two."""
    if not report.signed:
        return "Nothing in it is signed."
    whose = "by a trusted key" if trusted else "by a key that you should know from elsewhere"
    told = [
        f"Signed {whose}: {count} {'batch' if count == 1 else 'batches'}, key {short(key)}."
        for key, count in report.signed.items()
    ]
    if report.unsigned:
        told.append(f"{report.unsigned} ends of batches, from before there was a key, are not.")
    if report.under is not None:
        told.append(
            f"It belongs to the journal of {report.under.station}, as signed with "
            f"{report.under.entries} entries on {report.under.at}."
        )
    return " ".join(told)


def _away_in_words(report: Report) -> str:
    """What was put away, in a sentence that follows others; nothing where nothing was."""
    if not report.away:
        return ""
    return (
        f" {report.away} {'batch is' if report.away == 1 else 'batches are'} put away: the chain, "
        "heads and lots go on over them, and what they held is in "
        + ", ".join(sorted(report.archives))
        + " (verify with --archive)."
    )


def chain_in_words(report: Report) -> str:
    """A verification of the chain alone that went well."""
    if not report.entries:
        return in_words(report)
    return (
        f"No entry was changed, taken out or put in: {report.entries} entries. Whether their "
        "verdicts follow from their evidence was not looked at." + _away_in_words(report)
    )


def in_words(report: Report) -> str:
    """A verification that went well, in a sentence or two."""
    text = (
        f"The record holds: {report.entries} entries, {report.batches} "
        f"{'batch' if report.batches == 1 else 'batches'}, {report.weighings} weighings "
        "re-derived from their evidence."
    )
    if report.steps:
        text += f" {report.steps} {'step' if report.steps == 1 else 'steps'} judged again."
    if report.checks:
        text += f" {report.checks} {'check' if report.checks == 1 else 'checks'} of scales hold."
    if report.lots:
        text += (
            f" {report.lots} {'lot follows' if report.lots == 1 else 'lots follow'} from entries."
        )
    if report.countersigned:
        times = "time" if report.countersigned == 1 else "times"
        text += (
            f" Countersigned {report.countersigned} {times}, each by somebody with no part in it."
        )
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
    if report.in_process:
        text += (
            f" {report.in_process} of the batches {'is' if report.in_process == 1 else 'are'} in "
            "process: steps are still to come."
        )
    text += _away_in_words(report)
    if report.set_back:
        text += (
            f" The clock was set back {report.set_back} "
            f"{'time' if report.set_back == 1 else 'times'}: the order of the entries is that of "
            "their numbers."
        )
    if report.clock_doubted:
        who = "entry says" if report.clock_doubted == 1 else "entries say"
        text += f" {report.clock_doubted} {who} that the clock it has its time from was in doubt."
    if report.unread:
        text += (
            " The bytes of these scales could not be read again, for want of a driver: "
            + ", ".join(sorted(report.unread))
            + "."
        )
    return text
