"""Addresses of shared stores: ``postgresql://USER@HOST:PORT/DATABASE``.

What stands after ``?`` is for the database's own library, but for ``station``: whose record is
meant where a question is of one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from weighd.storage.postgres_faults import fault

_BEGINS = ("postgresql://", "postgres://")


#: Where records are: a file, or an address.
Place = Path | str


def is_address(place: object) -> bool:
    """Whether a place is the address of a shared store, and not a file."""
    return isinstance(place, str) and place.startswith(_BEGINS)


def shown(place: Place) -> str:
    """A place as it stands in messages: never with a password."""
    if isinstance(place, Path) or not is_address(place):
        return str(place)
    return read_address(place).shown


@dataclass(frozen=True)
class Address:
    """Where a shared store is.

    ``shown``   for messages and logs: without the password and without options.
    ``options`` what the database's own library takes, the password among them.
    ``station`` whose record is meant; empty where it does not say.
    """

    shown: str
    options: Mapping[str, str] = field(repr=False)
    station: str = ""

    @property
    def secret(self) -> str:
        """The password; empty where the library finds it by itself, or none is needed."""
        return self.options.get("password", "")


def read_address(text: str, password_file: Path | None = None) -> Address:
    """Take an address apart.

    ``password_file``  holds the password in its first line, where the address has none.

    Raises :class:`JournalError` ``store-address``; it never repeats the text, which may hold a
    password.
    """
    if not is_address(text):
        raise fault("store-address", "")
    from sqlalchemy import make_url  # noqa: PLC0415  (for many commands this file is all they need)
    from sqlalchemy.exc import ArgumentError  # noqa: PLC0415

    try:
        url = make_url(text)
    except (ArgumentError, ValueError) as error:
        raise fault("store-address", "") from error
    options = {key: value for key, value in url.query.items() if isinstance(value, str)}
    parts = {
        "host": url.host,
        "port": None if url.port is None else str(url.port),
        "user": url.username,
        "password": None if url.password is None else str(url.password),
        "dbname": url.database,
    }
    options = {key: value for key, value in parts.items() if value} | options
    if password_file is not None and "password" not in options:
        options["password"] = _first_line(password_file)
    user = f"{url.username}@" if url.username else ""
    port = f":{url.port}" if url.port else ""
    shown = f"postgresql://{user}{url.host or ''}{port}/{url.database or ''}"
    station = options.pop("station", "")
    return Address(shown, options, station)


def _first_line(file: Path) -> str:
    try:
        lines = file.read_text("utf-8").splitlines()
    except (OSError, UnicodeError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise fault("store-refused", str(file), f"its password cannot be read: {why}") from error
    return lines[0] if lines else ""
