"""``weighd scales``: what is plugged in, and what each says."""

from __future__ import annotations

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def scales(
        listen: float = typer.Option(
            2.0, "--listen", min=0, max=60, help="Seconds to listen to each; 0 to only list."
        ),
        baud: int = typer.Option(9600, "--baud", help="Baud rate to listen to serial ports at."),
    ) -> None:
        """List serial ports and USB scales, show what each one says, and how to configure it."""
        from weighd.listing import listen_to_all

        for line in listen_to_all(listen, baud):
            print(line)
