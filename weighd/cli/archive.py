"""``weighd archive``: old batches put away."""

from __future__ import annotations

from pathlib import Path

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def archive(
        before: str = typer.Option(
            "",
            "--before",
            metavar="DAY",
            help="Batches that were over, with nothing recorded since, before this day (UTC); by "
            "\\[retention] batches_days otherwise.",
        ),
        out: Path | None = typer.Option(
            None, "-o", "--out", help="The archive to make. Without it, only what would go."
        ),
        by: str = typer.Option("", "--by", help="Who puts them away."),
        reason: str = typer.Option("", "--reason", help="Why; it goes into the record."),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
    ) -> None:
        """Put old batches away into a signed archive, and give their room back.

        Without -o nothing is changed: it says what would go. In the record a stub stays for each
        entry, so that the chain, every head, stock and traces go on as before; an entry says who
        put what away where. Stop the station first. Keep the archive: what was put away is only
        there. `weighd verify DATABASE --archive FILE` verifies both together.
        """
        from weighd.main.archiving import plan_archive

        if out is not None:
            _put_away(config, before, out, by, reason)
            return
        plan = plan_archive(config, before)
        for one in plan.batches:
            print(f"{one.id}: opened {one.opened[:10]}, {one.entries} entries, {_size(one.size)}")
        for name, why in plan.kept.items():
            print(f"{name} stays: {why}.")
        count = len(plan.batches)
        print(
            f"{count} {'batch' if count == 1 else 'batches'} over before {plan.before} would go: "
            f"{_size(plan.size)}. Nothing was changed; name an archive with -o."
        )


def _put_away(config: Path | None, before: str, out: Path, by: str, reason: str) -> None:
    from weighd.main.archiving import archive as put_away

    done = put_away(config, before, out, by, reason)
    count = len(done.plan.batches)
    print(f"{done.archive}: {count} {'batch' if count == 1 else 'batches'}, SHA-256 {done.sha256}")
    for name, why in done.plan.kept.items():
        print(f"{name} stays: {why}.")
    print(f"The record has {_size(max(done.freed, 0))} less.")
    print("Keep the archive, best twice: what was put away is nowhere else.")


def _size(count: int) -> str:
    return f"{count / 1_000_000:.1f} MB" if count >= 100_000 else f"{count / 1000:.1f} kB"
