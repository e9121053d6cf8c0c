"""What the command line does with a shared store: how far behind it is, send, set it up."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from weighd.config import Config, load
from weighd.domain.errors import ConfigError, JournalError
from weighd.domain.record import Tail
from weighd.main.files import database_of
from weighd.main.sending import address_of, open_shared, with_store
from weighd.storage.address import Address
from weighd.storage.journal import SqlJournal, open_read_only
from weighd.storage.outbox import Outbox

#: How often, and for how long, sending is tried again when the line breaks: seconds.
AGAIN_S, TRIES = 1.0, 5


@dataclass(frozen=True, slots=True)
class Status:
    """How a station's record and the shared store stand: entries there, here, and what waits."""

    store: str
    station: str
    there: Tail
    here: Tail
    since: str

    @property
    def behind(self) -> int:
        """Entries that the shared store does not have."""
        return self.here.seq - self.there.seq


def status(config: Path | None, store: str | None) -> Status:
    """How far behind the shared store is, asked now.

    Raises :class:`ConfigError` where there is none, :class:`JournalError` where it or the own
    record cannot be read, and where it does not end as the own record goes.
    """
    settings, address = asked_store(config, store)
    with _both(config, settings, address) as (own, box):
        return _status(own, address, box.there())


def send_now(
    config: Path | None, store: str | None, told: Callable[[int, int], None], *, check: bool = False
) -> Status:
    """Send until all is there; also beside a running station, which takes turns with this.

    ``told``   called with how many entries went and how many wait.
    ``check``  go through everything that was sent before as well.

    A line that breaks is tried some times more. Raises as :func:`status` does.
    """
    settings, address = asked_store(config, store)
    tries = 0
    while True:
        try:
            with _both(config, settings, address) as (own, box):
                while (sent := box.send()).entries:
                    tries = 0
                    told(sent.there.seq, own.tail().seq - sent.there.seq)
                after = box.compare(0) if check else 0
                while after:
                    after = box.compare(after)
                return _status(own, address, sent.there)
        except JournalError as error:
            tries += 1
            if error.code != "store-away" or tries >= TRIES:
                raise
            time.sleep(AGAIN_S)


def set_up(config: Path | None, store: str | None, roles: Sequence[str]) -> Address:
    """Make the tables of a shared store, or bring older ones up to date, and grant roles what a
    station needs. Raises :class:`ConfigError` and :class:`JournalError`."""
    _, address = asked_store(config, store)
    shared = open_shared(address)
    try:
        from weighd.storage.grants import grant

        for role in roles:
            grant(shared, role)
    finally:
        shared.close()
    return address


def asked_store(config: Path | None, store: str | None) -> tuple[Config, Address]:
    """The configuration with ``store`` in it, and its shared store. Raises :class:`ConfigError`."""
    settings = with_store(load(config), store)
    address = address_of(settings)
    if address is None:
        raise ConfigError(
            "no-shared-store",
            "No shared store is configured.",
            where=str(settings.file or ""),
            remedy="Name one as store under [shared], or give its address.",
        )
    return settings, address


@contextmanager
def _both(
    config: Path | None, settings: Config, address: Address
) -> Iterator[tuple[SqlJournal, Outbox]]:
    own = open_read_only(database_of(config), settings.station.name)
    try:
        shared = open_shared(address)
        try:
            yield own, Outbox(own, shared, address.shown)
        finally:
            shared.close()
    finally:
        own.close()


def _status(own: SqlJournal, address: Address, there: Tail) -> Status:
    here = own.tail()
    oldest = next(iter(own.entries(after=there.seq, limit=1)), None)
    return Status(address.shown, own.station, there, here, "" if oldest is None else oldest.at)
