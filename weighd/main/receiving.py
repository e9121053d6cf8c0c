"""The receiver: what the shared store holds of other stations comes down, in a thread beside.

1. Lots, blocks and counts become entries of this station's own record, in its own turn; what others
   drew is kept beside it; formulas go into a folder of their own. All of it can be used cut off.
2. Nothing waits for it. What goes wrong is tried again with the next call; that the store is away
   is told by the sender, which speaks with it too.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Coroutine, Mapping, Sequence
from concurrent.futures import CancelledError, Future
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import structlog

from weighd.clock import SystemClock
from weighd.config import Config
from weighd.domain.errors import JournalError, OperatorError, WeighdError
from weighd.domain.formula import Formula
from weighd.domain.formula_shared import Chosen, Published
from weighd.domain.lot_shared import Sum, is_long_gone, is_overdrawn
from weighd.domain.lots import Lot, LotBook
from weighd.domain.record import Entry
from weighd.http.ports import Shelf
from weighd.main.sending import address_of, open_shared
from weighd.station.everywhere import Traced
from weighd.station.lot_history import shared_in
from weighd.station.runner import Runner
from weighd.station.sharing import Shared
from weighd.storage.address import Address
from weighd.storage.journal import SqlJournal
from weighd.storage.received import Received, SharedShelf

if TYPE_CHECKING:
    from weighd.storage.postgres import PostgresStore

log = structlog.get_logger("weighd.shared")
FOLDER = "shared-formulas"
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Pace:
    """Seconds: between two calls at the store, and at most after an error."""

    call_s: float = 2.0
    longest_s: float = 60.0
    #: That the others were heard is written down no more often than this.
    keep_s: float = 300.0


class Receiver:
    """Brings down what other stations did, until it is stopped.

    ``own``       the journal; ``received``, the folder of formulas, ``None`` to leave them out.
    ``lots``      the lots that the journal holds.
    """

    def __init__(
        self,
        own: SqlJournal,
        address: Address,
        clock: SystemClock,
        book: LotBook,
        *,
        received: Received | None = None,
        pace: Pace | None = None,
        open_store: Callable[..., PostgresStore] = open_shared,
    ) -> None:
        self._own = own
        self._address = address
        self._clock = clock
        self._pace = pace or Pace()
        self._open = open_store
        self._heard = own.heard()
        self._received = received
        self._store: PostgresStore | None = None
        self._opening = threading.Lock()
        self._over = threading.Event()
        self._thread: threading.Thread | None = None
        self._runner: Runner | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._shelf: SharedShelf | None = None
        self._said = ""
        self._sums, heard_at = self._heard.last()
        self._kept_at = float("-inf")
        #: What is known of the others, for the station to start with.
        self.shared: Shared = shared_in(book, self._sums, heard_at)

    def shelf(self, own: Shelf) -> Shelf:
        """The kitchen's own formulas, with those that came down."""
        if self._received is None:
            return own
        self._shelf = SharedShelf(own, self._received)
        return self._shelf

    def start(self, runner: Runner) -> None:
        """Begin; called in the event loop of the station that runs."""
        self._runner, self._loop = runner, asyncio.get_running_loop()
        self._thread = threading.Thread(target=self._run, name="receiver", daemon=True)
        self._thread.start()

    def stop(self, patience_s: float = 2.0) -> None:
        """End, after what is under way if that does not take long."""
        self._over.set()
        if self._thread is not None:
            self._thread.join(patience_s)
        self._let_go()

    # --- what is asked of the store by people --------------------------------------------------

    @property
    def cut_off(self) -> str:
        """Why nothing came down at the last call; empty where it did, or before the first."""
        return self._said

    def trace(self, lot: str, station: str = "") -> Traced:
        """A trace across all stations, of a lot received at ``station``. Blocks.

        Raises :class:`JournalError`.
        """
        from weighd.storage.everywhere import Everywhere

        return Everywhere(self._reach()).traced(lot, station)

    def formulas(self) -> list[dict[str, Any]]:
        """What came down, as JSON values, newest first."""
        return [] if self._shelf is None else self._shelf.drawn()

    def revisions(self, formula: str) -> list[Published]:
        """What came down of one formula."""
        return [] if self._received is None else self._received.of(formula)

    def choose(self, identity: str, chosen: Chosen) -> Published:
        """Take a formula that came down, or leave it. Raises as :meth:`Received.choose` does."""
        if self._received is None:
            raise OperatorError(
                "not-now",
                "Formulas of other stations are left out here.",
                remedy='Set formulas = "take" or "ask" under [shared].',
            )
        return self._received.choose(identity, chosen)

    def publish(self, formula: Formula, by: str) -> tuple[Published, bool]:
        """Publish a formula to all stations; and whether it is new. Blocks. Raises as above."""
        from weighd.storage.formula_revisions import FormulaRevisions

        made = FormulaRevisions(self._reach())
        return made.publish(formula, self._own.station, by, self._clock.utc())

    # --- the thread ---------------------------------------------------------------------------

    def _run(self) -> None:
        failures = 0
        while not self._over.is_set():
            try:
                more = self._step()
            except WeighdError as error:
                if error.code == "stopping":
                    return
                failures += 1
                self._failed(error)
            except (CancelledError, RuntimeError):
                if self._loop is None or not self._loop.is_running():
                    return  # the station has ended
                failures += 1
                log.exception("the receiver failed")
            except Exception:
                failures += 1
                log.exception("the receiver failed")
            else:
                failures, self._said = 0, ""
                if more:
                    continue
            wait = min(self._pace.call_s * 2 ** min(failures, 8), self._pace.longest_s)
            self._over.wait(wait / self._clock.speed if failures == 0 else wait)

    def _step(self) -> bool:
        """Ask once; whether there is more to come."""
        from weighd.storage.everywhere import Everywhere

        assert self._runner is not None
        store = self._reach()
        at = self._clock.utc()
        marks, lots, refused = self._in_loop(self._known(at))
        news = Everywhere(store).news(self._own.station, marks, lots)
        fresh = _fresh(news.entries, refused)
        if fresh or news.sums != self._sums or any(map(is_overdrawn, lots)):
            entries = tuple(one.as_json() for one in fresh)
            sums = tuple(one.as_json() for one in news.sums)
            self._in_loop(self._runner.came_down(at, entries, sums))
        self._keep(news.sums, at)
        after = self._in_loop(self._noted(at))
        return self._formulas(store) or after != marks

    async def _known(self, at: str) -> tuple[dict[str, int], list[Lot], dict[str, Entry]]:
        """Up to where others are known, the lots that they may still draw from, and of each station
        the entry that was refused."""
        assert self._runner is not None
        book = self._runner.station.stock.book
        lots = [one for one in book if not is_long_gone(one, at)]
        return dict(book.known), lots, dict(self._runner.station.stock.refused)

    async def _noted(self, at: str) -> dict[str, int]:
        """Have it known that the others were heard: no input, since nothing follows from it."""
        assert self._runner is not None
        stock = self._runner.station.stock
        stock.heard_at = at
        return dict(stock.book.known)

    def _keep(self, sums: tuple[Sum, ...], at: str) -> None:
        """Keep what was heard where it is news, or was not written down for a while."""
        now = self._clock.now()
        if sums == self._sums and now - self._kept_at < self._pace.keep_s * self._clock.speed:
            return
        self._heard.keep(sums, at)
        self._sums, self._kept_at = sums, now

    def _formulas(self, store: PostgresStore) -> bool:
        from weighd.storage.formula_revisions import MOST, FormulaRevisions

        if self._received is None:
            return False
        found = FormulaRevisions(store).after(self._received.newest)
        new = [one for one in self._received.put(found) if one.station != self._own.station]
        for one in new:
            log.info("a formula came down", formula=one.id, station=one.station)
        if new and self._runner is not None:
            names = ", ".join(dict.fromkeys(one.name for one in new))
            self._runner.tell("info", "formula-came-down", names)
        return len(found) == MOST

    def _in_loop(self, asked: Coroutine[Any, Any, T]) -> T:
        """Have the station's own thread do it. Raises what it raises."""
        assert self._loop is not None
        try:
            future: Future[T] = asyncio.run_coroutine_threadsafe(asked, self._loop)
        except RuntimeError:
            asked.close()
            raise
        while True:
            try:
                return future.result(1.0)
            except TimeoutError:
                if self._over.is_set() and not future.done():
                    future.cancel()
                    raise OperatorError("stopping", "The station is stopping.") from None

    def _failed(self, error: WeighdError) -> None:
        if str(error) != self._said:
            self._said = str(error)
            log.warning("nothing comes down from the shared store", why=str(error))
        if isinstance(error, JournalError):
            self._let_go()

    def _reach(self) -> PostgresStore:
        with self._opening:
            if self._store is None:
                self._store = self._open(self._address)
            return self._store

    def _let_go(self) -> None:
        with self._opening:
            store, self._store = self._store, None
        if store is not None:
            store.close()


def _fresh(entries: Sequence[Entry], refused: Mapping[str, Entry]) -> list[Entry]:
    """What is new: nothing of a station whose next entry is still the one that was refused."""
    first: dict[str, Entry] = {}
    for one in entries:
        first.setdefault(one.station, one)
    stuck = {name for name, one in first.items() if refused.get(name) == one}
    return [one for one in entries if one.station not in stuck]


def open_receiver(
    config: Config, own: SqlJournal, clock: SystemClock, book: LotBook
) -> Receiver | None:
    """The receiver of a configured station; ``None`` without a shared store.

    Raises :class:`ConfigError` and :class:`JournalError`.
    """
    address = address_of(config)
    if address is None:
        return None
    return Receiver(own, address, clock, book, received=received_of(config))


def received_of(config: Config) -> Received | None:
    """The folder of formulas that came down; ``None`` where they are left out."""
    way = config.shared.formulas
    if way == "off":
        return None
    return Received(config.place(config.station.data) / FOLDER, take=way == "take")
