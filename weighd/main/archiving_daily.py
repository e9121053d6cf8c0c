"""Old batches put away while the station runs, once a day, into the folder that is configured.

1. Nothing here can stop a weighing: archives are written and verified in a thread of its own, and
   only while nothing is weighed; the change itself is one short transaction in the station's turn.
2. The order is that of ``archiving``: the archive is on the disk, read back and verified before a
   batch goes. What breaks in between leaves everything, or an archive too many. A batch is held to
   its hashes, signatures and verdicts; the whole record is not, which ``weighd verify`` is for.
3. The room is not given back to the disk, which would hold up the station: what comes next is
   written into it, so that the file grows no more than by stubs.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from pathlib import Path

import structlog

from weighd.clock import SystemClock
from weighd.config import Config
from weighd.domain.batch import Status
from weighd.domain.days import plus_days
from weighd.domain.errors import OperatorError, WeighdError
from weighd.domain.signing import Signer
from weighd.main.archiving import Said, plan_of, put_into
from weighd.main.sending import address_of, open_shared
from weighd.station.runner import Runner
from weighd.storage.journal import SqlJournal

log = structlog.get_logger("weighd")
#: Seconds from a start to the first look, between two looks, and until what failed is tried again.
FIRST_S, LOOK_S, AGAIN_S = 60.0, 600.0, 3600.0
#: Batches of one archive: some seconds of work.
MOST_AT_ONCE = 50
BY = "the station"


class DailyArchives:
    """Puts old batches away. ``run`` in a thread of its own.

    ``sent``  the newest entry that a shared store has, ``None`` where there is no such store.
              Raises :class:`JournalError` where it cannot be asked.
    """

    def __init__(
        self,
        folder: Path,
        days: int,
        journal: SqlJournal,
        key: Signer,
        clock: SystemClock,
        sent: Callable[[], int | None] = lambda: None,
        first_s: float = FIRST_S,
    ) -> None:
        self._folder, self._days = folder, days
        self._journal, self._key, self._clock, self._sent = journal, key, clock, sent
        self._first_s = first_s
        self._looked = ""
        self._runner: Runner | None = None
        self._loop: asyncio.AbstractEventLoop | None = None

    def begin(self, runner: Runner) -> None:
        """With the station that runs; called in its event loop."""
        self._runner, self._loop = runner, asyncio.get_running_loop()

    def run(self, stop: threading.Event) -> None:
        """Until ``stop``: once a day put away what is old enough."""
        wait = self._first_s
        while not stop.wait(wait):
            wait = LOOK_S
            try:
                today = self._clock.utc()[:10]
                while self._looked != today and self._idle() and not stop.is_set():
                    if not self.look() and self._idle():
                        self._looked = today
            except (WeighdError, OSError) as error:
                wait = AGAIN_S
                log.warning("old batches could not be put away", why=str(error))
                if self._runner is not None:
                    self._runner.tell("warn", "archive-failed", str(error))
            except Exception:
                wait = AGAIN_S
                log.exception("putting old batches away failed")

    def look(self) -> int:
        """Put some away, up to what a plan has; how many. Raises :class:`JournalError`,
        :class:`RecordError` and ``OSError``; what it raises for leaves the record as it was."""
        day = plus_days(self._clock.utc()[:10], -self._days)
        old = [one.id for one in plan_of(self._journal, day, self._sent()).batches]
        gone = 0
        while gone < len(old) and (gone == 0 or self._idle()):
            went = self._put(old[gone : gone + MOST_AT_ONCE], day)
            if not went:
                break
            gone += went
        return gone

    def _put(self, batches: Sequence[str], day: str) -> int:
        if not self._folder.is_dir():  # a disk that is not there: not made on another one
            raise FileNotFoundError(f"there is no folder {self._folder}")
        at = self._clock.utc()
        stamp = "".join(one for one in at if one.isdigit())
        out = self._folder / f"{self._journal.station}-{stamp}.archive"
        said = Said(BY, f"over for {self._days} days", at, day)
        body, stubs = put_into(self._journal, self._key, batches, out, said)
        runner, loop = self._runner, self._loop
        assert runner is not None
        assert loop is not None
        done: Future[None] = asyncio.run_coroutine_threadsafe(runner.put_away(body, stubs), loop)
        try:
            done.result()
        except OperatorError:  # somebody began to weigh, or put something right: later
            with contextlib.suppress(OSError):
                out.unlink()
            return 0
        log.info("old batches were put away", batches=len(batches), archive=str(out))
        return len(batches)

    def _idle(self) -> bool:
        batch = None if self._runner is None else self._runner.station.batch
        return self._runner is not None and (batch is None or batch.status is not Status.OPEN)


def daily_archives(
    config: Config, journal: SqlJournal, key: Signer, clock: SystemClock
) -> DailyArchives | None:
    """What puts old batches away; ``None`` where nothing is to go by itself."""
    retention = config.retention
    if retention.archives is None or retention.batches_days is None:
        return None
    folder, days = config.place(retention.archives), retention.batches_days

    def sent() -> int | None:
        address = address_of(config)
        if address is None:
            return None
        from weighd.storage.outbox import Outbox

        store = open_shared(address)
        try:
            return Outbox(journal, store, address.shown).there().seq
        finally:
            store.close()

    return DailyArchives(folder, days, journal, key, clock, sent)
