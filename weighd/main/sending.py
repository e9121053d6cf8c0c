"""The sender: a station's entries go to the shared store, in a thread beside the daemon.

1. Nothing waits for it: it reads the journal by connections of its own, and a network that hangs
   holds up this thread and no other.
2. What goes wrong is tried again after a while that doubles, from a second to a minute, each time
   less a random part of it, so that a floor of stations does not come back all at once.
3. When all is there it calls at the store twice a minute, and each time goes through some of what
   was sent (:meth:`Outbox.compare`).
4. What the store had at the last contact is kept in ``shared.json`` beside the record, so that
   after a restart without a network it is known how far behind it is. It is for showing only: what
   is sent is decided by asking the store.
"""

from __future__ import annotations

import json
import random
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import structlog

from weighd.clock import SystemClock
from weighd.config import Config
from weighd.domain.errors import ConfigError, JournalError, WeighdError
from weighd.domain.record import Tail
from weighd.station.outgoing import STOPS, Outgoing
from weighd.storage.address import Address, read_address
from weighd.storage.journal import SqlJournal

if TYPE_CHECKING:
    from weighd.storage.outbox import Outbox
    from weighd.storage.postgres import PostgresStore

log = structlog.get_logger("weighd.shared")
KEPT_FILE = "shared.json"


@dataclass(frozen=True, slots=True)
class Pace:
    """Seconds: between two calls at a store that has all, after a first error, and at most."""

    call_s: float = 30.0
    first_s: float = 1.0
    longest_s: float = 60.0
    #: What the store had is written down no more often than this.
    keep_s: float = 5.0


def address_of(config: Config) -> Address | None:
    """The configured shared store; ``None`` where there is none. Raises :class:`ConfigError`."""
    text, file = config.shared.store, config.shared.password_file
    if not text:
        return None
    try:
        return read_address(text, None if file is None else config.place(file))
    except JournalError as error:
        key = "password_file" if error.code == "store-refused" else "store"
        raise config.wrong(("shared", key), error.message.rstrip("."), code=error.code) from error


def with_store(config: Config, address: str | None) -> Config:
    """The configuration with the shared store that the command line names.

    Raises :class:`ConfigError`.
    """
    if address is None:
        return config
    typed_address(address)
    shared = config.shared.model_copy(update={"store": address})
    return config.model_copy(update={"shared": shared})


def typed_address(address: str) -> Address:
    """An address out of a command line.

    Raises :class:`ConfigError`, also for a password in it: others on the machine can read that.
    """
    try:
        found = read_address(address)
    except JournalError as error:
        raise ConfigError(error.code, error.message, remedy=error.remedy) from error
    if found.secret:
        raise ConfigError(
            "password-on-command-line",
            "Everybody on this computer can read the password in a command.",
            where=found.shown,
            remedy="Leave it out here: name a shared.password_file in the configuration, or keep "
            "it in a file that PGPASSFILE names. Change the password, since it was shown.",
        )
    return found


def open_shared(address: Address, **options: Any) -> PostgresStore:
    """The store at an address. Raises :class:`JournalError`, ``needs-extra`` where psycopg is not
    installed, and else as :class:`PostgresStore` does."""
    try:
        from weighd.storage.postgres import PostgresStore
    except ImportError as error:
        raise JournalError(
            "needs-extra",
            "A shared store is named, but psycopg, which speaks with it, is not installed.",
            where=address.shown,
            remedy="Install it (pip install 'weighd[floor]'), or leave the shared store out.",
        ) from error
    return PostgresStore(address, **options)


class Sender:
    """Sends a station's journal until it is stopped.

    ``own``    the journal, which tells of what is appended (:attr:`SqlJournal.appended`).
    ``open``   reaches the shared store; raises :class:`WeighdError`.
    ``kept``   where it is kept what the store had; ``None`` for nowhere.
    """

    def __init__(
        self,
        own: SqlJournal,
        address: Address,
        clock: SystemClock,
        *,
        kept: Path | None = None,
        pace: Pace | None = None,
        dice: random.Random | None = None,
        open_store: Callable[[Address], PostgresStore] = open_shared,
    ) -> None:
        self._own = own
        self._address = address
        self._clock = clock
        self._kept = kept
        self._kept_at = float("-inf")
        self._pace = pace or Pace()
        self._dice = dice or random.Random()  # noqa: S311 - it only spreads calls
        self._open = open_store
        self._store: PostgresStore | None = None
        self._box: Outbox | None = None
        self._there = Tail()
        self._failures = 0
        self._compared = 0
        self._oldest: tuple[int, str] = (-1, "")
        self._told: Callable[[], None] = lambda: None
        self._news = threading.Event()
        self._over = threading.Event()
        self._thread: threading.Thread | None = None
        self._now = Outgoing(address.shown)
        self._remember()
        self._look(self._now)

    @property
    def now(self) -> Outgoing:
        """How far behind the shared store is; a whole value, from any thread."""
        return self._now

    def start(self, told: Callable[[], None]) -> None:
        """Begin. ``told`` is called in the sender's thread whenever :attr:`now` has changed."""
        self._told = told
        self._own.appended = self._news.set
        self._thread = threading.Thread(target=self._run, name="sender", daemon=True)
        self._thread.start()

    def stop(self, patience_s: float = 2.0) -> None:
        """End, after what is under way if that does not take long. What is left goes next time."""
        self._over.set()
        self._news.set()
        if self._thread is not None:
            self._thread.join(patience_s)
        self._keep(at_once=True)

    # --- the thread ---------------------------------------------------------------------------

    def _run(self) -> None:
        while not self._over.is_set():
            try:
                more = self._step()
            except WeighdError as error:
                self._failed(error)
            except Exception as error:
                log.exception("the sender failed")
                self._failed(JournalError("sender-failed", f"The sender failed: {error!r}."))
            else:
                self._pause(0.0 if more else self._pace.call_s, wakes=True)
                continue
            wait = min(self._pace.first_s * 2 ** min(self._failures - 1, 16), self._pace.longest_s)
            self._pause(wait * self._dice.uniform(0.5, 1.0), wakes=False)
        self._let_go()

    def _step(self) -> bool:
        """Send once; whether there is more to send."""
        if self._box is None:
            from weighd.storage.outbox import Outbox

            self._store = self._open(self._address)
            self._box = Outbox(self._own, self._store, self._address.shown)
        sent = self._box.send()
        self._went_well(sent.there)
        if self._now.behind:
            return True
        if not sent.entries:
            self._compared = self._box.compare(self._compared)
        return False

    def _went_well(self, there: Tail) -> None:
        if self._now.code:
            log.info("the shared store takes entries again", store=self._address.shown)
        self._failures, self._there = 0, there
        self._look(replace(self._now, contact=self._clock.utc(), code="", why=""))
        self._keep()

    def _failed(self, error: WeighdError) -> None:
        self._failures += 1
        if error.code != self._now.code:
            tell = log.error if error.code in STOPS else log.warning
            tell("nothing goes to the shared store", code=error.code, why=str(error))
        self._let_go()
        why = f"{error.message} {error.remedy}".strip()
        self._look(replace(self._now, code=error.code, why=why))

    def _pause(self, seconds: float, *, wakes: bool) -> None:
        """Wait; a new entry ends it where it ``wakes``, and is counted in any case."""
        end = self._clock.now() + seconds * self._clock.speed
        while not self._over.is_set() and (left := end - self._clock.now()) > 0:
            if self._news.wait(left / self._clock.speed):
                self._news.clear()
                if wakes:
                    return
                self._look(self._now)

    def _let_go(self) -> None:
        store, self._store, self._box = self._store, None, None
        if store is not None:
            store.close()

    def _look(self, now: Outgoing) -> None:
        """Count what is not there yet. Where the own record cannot be read, the count stands."""
        with suppress(JournalError):
            behind = max(self._own.tail().seq - self._there.seq, 0)
            if behind and self._oldest[0] != self._there.seq:
                oldest = next(iter(self._own.entries(after=self._there.seq, limit=1)))
                self._oldest = (self._there.seq, oldest.at)
            now = replace(now, behind=behind, since=self._oldest[1] if behind else "")
        if now != self._now:
            self._now = now
            self._told()

    # --- what is kept -------------------------------------------------------------------------

    def _remember(self) -> None:
        if self._kept is None:
            return
        with suppress(OSError, ValueError, KeyError, TypeError, JournalError):
            found = json.loads(self._kept.read_text("utf-8"))
            there = Tail(int(found["seq"]), str(found["hash"]))
            (mine,) = self._own.entries(after=there.seq - 1, limit=1)
            if (found["store"], mine.hash) == (self._address.shown, there.hash):
                self._there = there
                self._now = replace(self._now, contact=str(found["contact"]))

    def _keep(self, *, at_once: bool = False) -> None:
        now = self._clock.now()
        if self._kept is None or not self._now.contact:
            return
        if not at_once and now - self._kept_at < self._pace.keep_s * self._clock.speed:
            return
        self._kept_at = now
        text = {"store": self._address.shown, "seq": self._there.seq, "hash": self._there.hash}
        beside = self._kept.with_name(f".{self._kept.name}.new")
        with suppress(OSError):  # it is for showing only
            beside.write_text(json.dumps({**text, "contact": self._now.contact}), "utf-8")
            beside.replace(self._kept)


def open_sender(config: Config, own: SqlJournal, clock: SystemClock) -> Sender | None:
    """The sender of a configured station; ``None`` without a shared store. Raises ConfigError."""
    address = address_of(config)
    if address is None:
        return None
    return Sender(own, address, clock, kept=config.place(config.station.data) / KEPT_FILE)
