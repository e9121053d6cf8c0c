"""``weighd limits``: what mixes of a kind usually hold, each limit with its source."""

from __future__ import annotations

from pathlib import Path

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def limits(
        file: Path | None = typer.Argument(None, help="A file of limits (TOML); those that ship."),
        kind: str = typer.Option("", "--class", help="Only this class."),
    ) -> None:
        """List the classes of product with every limit and its source, or name what is wrong.

        None of them is a law for your kitchen: your local codes come first.
        """
        from weighd.domain.limits import read_limits
        from weighd.main.files import read_text
        from weighd.main.shipped import shipped_text
        from weighd.station.composing_words import tell_limit

        name = "limits.toml"
        known = read_limits(read_text(file) if file else shipped_text(name), str(file or name))
        if kind and kind not in known:
            raise typer.BadParameter(f'there is no class "{kind}"; there are {", ".join(known)}')
        for one in known.values():
            if kind in ("", one.id):
                print(f"{one.name} ({one.id})")
                for limit in one.limits:
                    print(f"  {tell_limit(limit)} [{limit.source}]")
