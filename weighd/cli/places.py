"""Where a command looks: a database's file, or the address of a shared store."""

from __future__ import annotations

from typing import Any

import typer

_HELP = "The database, if not the configured one: a file, or the address of a shared store."


def seen(place: str | None) -> str | None:
    """A place as it was typed. Raises :class:`ConfigError` for a password, which others can read
    on a command line, and for an address that is none."""
    from weighd.main.sending import typed_address
    from weighd.storage.address import is_address

    if place is not None and is_address(place):
        typed_address(place)
    return place


def database(text: str = _HELP) -> Any:
    """The option ``--database``, a text."""
    return typer.Option(None, "--database", metavar="DATABASE", help=text, callback=seen)
