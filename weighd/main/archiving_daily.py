"""Old batches put away while the station runs, once a day, into the folder that is configured.

1. Nothing here can stop a weighing: archives are written and verified in a thread of its own, and
   only while nothing is weighed; the change itself is one short transaction in the station's turn.
2. The order is that of ``archiving``: the archive is on the disk, read back and verified before a
   batch goes. A batch is held to its hashes, signatures and verdicts; for the whole record there is
   ``weighd verify``.
3. What breaks in between leaves everything. The archive that was made is then used by the next
   attempt, where it still fits, or taken away; never one that the record tells of. Only where the
   process ends in between it stays, one too many.
4. The room is not given back to the disk, which would hold up the station: what comes next is
   written into it, so that the file grows no more than by stubs.
"""

from __future__ import annotations

import asyncio
import contextlib
import sys
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, replace
from pathlib import Path

import structlog

from weighd.clock import SystemClock
from weighd.config import Config
from weighd.domain.batch import Status
from weighd.domain.days import plus_days
from weighd.domain.errors import OperatorError, WeighdError
from weighd.domain.record import Body, Entry
from weighd.domain.signing import Signer
from weighd.main.archiving import Said, plan_of, put_into
from weighd.main.sending import address_of, open_shared
from weighd.station.runner import Runner
from weighd.storage.copies import digest
from weighd.storage.journal import SqlJournal
from weighd.storage.putting_away import tells_of

log = structlog.get_logger("weighd")
#: Seconds from a start to the first look, between two looks, and until what failed is tried again.
FIRST_S, LOOK_S, AGAIN_S = 60.0, 600.0, 3600.0
#: Batches of one archive: some seconds of work.
MOST_AT_ONCE = 50
BY = "the station"


@dataclass(frozen=True, slots=True)
class _Made:
    """An archive that is on the disk, of which the record does not tell as far as is known.

    ``tried``  the newest entry when writing that it is used failed; 0 where nothing was written.
    """

    path: Path
    batches: Sequence[str]
    body: Body
    stubs: Sequence[Entry]
    tried: int = 0


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
        self._made: _Made | None = None
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
        made = self._again(batches) or self._write(batches, day)
        runner, loop = self._runner, self._loop
        assert runner is not None
        assert loop is not None
        put = runner.put_away(made.body, made.stubs)
        done: Future[None] = asyncio.run_coroutine_threadsafe(put, loop)
        try:
            done.result()
        except OperatorError:  # somebody began to weigh, or put something right: later
            self._take_away()
            return 0
        except WeighdError:
            self._made = replace(made, tried=self._newest())
            raise
        self._made = None
        log.info("old batches were put away", batches=len(batches), archive=str(made.path))
        return len(batches)

    def _write(self, batches: Sequence[str], day: str) -> _Made:
        at = self._clock.utc()
        stamp = "".join(one for one in at if one.isdigit())
        out = self._folder / f"{self._journal.station}-{stamp}.archive"
        said = Said(BY, f"over for {self._days} days", at, day)
        there = out.exists()
        try:
            body, stubs = put_into(self._journal, self._key, batches, out, said)
        except BaseException:
            if not there:  # written, and then found not to hold: the record cannot tell of it
                out.unlink(missing_ok=True)
            raise
        self._made = _Made(out, tuple(batches), body, stubs)
        return self._made

    def _again(self, batches: Sequence[str]) -> _Made | None:
        """The archive that an earlier attempt made, where it fits these batches as they are now;
        else it is taken away."""
        made = self._made
        if made is None:
            return None
        now = (one.hash for name in batches for one in self._journal.batch(name))
        if (
            made.batches == tuple(batches)
            and made.path.is_file()
            and digest(made.path) == made.body["sha256"]
            and {one.hash for one in made.stubs} == set(now)
        ):
            return made
        self._take_away()
        return None

    def _take_away(self) -> None:
        """Take away what was made in vain, where that is certain: a write that failed may have come
        to the disk all the same, until another one did, and then the batches are nowhere else."""
        made = self._made
        if made is None:
            return
        written_since = made.tried == 0 or self._newest() > made.tried
        if written_since and not tells_of(self._journal, made.path.name):
            with contextlib.suppress(OSError):
                made.path.unlink(missing_ok=True)
        self._made = None

    def _newest(self) -> int:
        """The number of the newest entry; where it cannot be asked, one that no entry has."""
        try:
            return self._journal.tail().seq
        except WeighdError:
            return sys.maxsize

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
