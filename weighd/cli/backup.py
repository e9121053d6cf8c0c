"""``weighd backup`` and ``weighd restore``: a record put away, and a station out of it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from weighd.storage.copies import Kept


PASSPHRASE = typer.Option(
    None, "--passphrase-file", metavar="FILE", help="A file whose first line is the passphrase."
)


def add_to(app: typer.Typer) -> None:
    """Add both commands."""

    @app.command()
    def backup(
        into: Path = typer.Argument(help="The folder to put copies in, best on another disk."),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        keep: int | None = typer.Option(
            None, "--keep", metavar="N", help="Take older copies away until N are left."
        ),
        with_key: bool = typer.Option(
            False,
            "--with-key",
            help="The station's private key too, sealed with a passphrase that is asked for.",
        ),
        passphrase_file: Path | None = PASSPHRASE,
    ) -> None:
        """Copy record, formulas and configuration, while the station runs; the copy is verified.

        A copy is a folder of its own, named by station and time. One that does not verify is not
        kept, and no older one is taken away for it.
        """
        from weighd.cli.verify import in_words
        from weighd.main.backing_up import back_up

        secret = _passphrase(passphrase_file, confirm=True) if with_key else None
        done = back_up(config, into, keep=keep, passphrase=secret)
        print(f"{done.copy.folder}: {done.copy.entries} entries, {_size(done.copy.files)}")
        print(in_words(done.report))
        if done.removed:
            print(f"Older copies taken away: {done.removed}.")

    @app.command()
    def restore(
        copy: Path = typer.Argument(help="A copy, as `weighd backup` made it."),
        to: Path = typer.Argument(help="A folder where there is no station yet."),
        with_key: bool = typer.Option(
            False, "--with-key", help="The private key too, by the passphrase it was sealed with."
        ),
        passphrase_file: Path | None = PASSPHRASE,
    ) -> None:
        """Put a copy back as a station: verified first, and nothing that is there is written over.

        Do so only where the old station is gone: two that go on from one record are two histories.
        """
        from weighd.cli.verify import in_words
        from weighd.main.backing_up import put_back

        secret = _passphrase(passphrase_file, confirm=False) if with_key else None
        done = put_back(copy, to, secret)
        print(f"Station {done.copy.station}, as of {done.copy.at}: {done.database}")
        print(in_words(done.report))
        for text in done.told:
            print(text)
        if done.config is not None:
            print(f"Start it with: weighd serve --config {done.config}")


def _passphrase(file: Path | None, *, confirm: bool) -> str:
    """The passphrase: the first line of a file, or asked for."""
    if file is not None:
        from weighd.main.files import read_text

        return read_text(file).split("\n", 1)[0].rstrip("\r")
    asked: str = typer.prompt(
        "Passphrase for the key", hide_input=True, confirmation_prompt=confirm, err=True
    )
    return asked


def _size(files: Iterable[Kept]) -> str:
    return f"{sum(one.size for one in files) / 1_000_000:.1f} MB"
