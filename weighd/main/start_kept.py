"""What a station has to know of its whole record to begin, kept beside it from start to start.

It is written at a stop, and while the station runs whenever some hundred entries were added, so
that after a kill as well only those are read. What goes wrong with it costs time and nothing else.
"""

from __future__ import annotations

import threading
from collections.abc import Collection
from pathlib import Path

import structlog

from weighd.domain.errors import WeighdError
from weighd.station.folded import Folded, fold, folded_of
from weighd.storage.journal import SqlJournal
from weighd.storage.keys import StationKey
from weighd.storage.start_file import START_FILE, StartFile

log = structlog.get_logger("weighd")
#: So many entries are read one by one at a start; more are folded meanwhile.
MOST_LEFT = 500
#: Seconds between two looks whether there are more.
LOOK_S = 20.0


class StartKept:
    """For one journal, in whose folder the file is."""

    def __init__(self, journal: SqlJournal, folder: Path, key: StationKey) -> None:
        self._journal = journal
        self._file = StartFile(folder / START_FILE, key)
        self._upto = 0
        self._turn = threading.Lock()

    def begin(self, scales: Collection[str]) -> Folded:
        """What the record comes to now, with the checks of these scales; nobody else writes to it.

        Raises as :func:`fold`.
        """
        found = self._kept()
        if found is None:
            found = fold(self._journal, scales)
            self._write(found)
        found.ask(self._journal, scales)
        return found

    def run(self, stop: threading.Event) -> None:
        """Until ``stop``: keep up with a record that grows; in a thread of its own."""
        while not stop.wait(LOOK_S):
            self.keep_up()

    def keep_up(self, at_least: int = MOST_LEFT) -> None:
        """Keep what the record comes to now, where so many entries were added.

        The journal may be written to meanwhile: what was kept goes on entry by entry. Where nothing
        was kept the next start begins anew.
        """
        with self._turn:
            try:
                if self._journal.tail().seq - self._upto < at_least:
                    return
                found = self._kept()
            except WeighdError as error:
                log.warning("what a start needs could not be kept", why=str(error))
                return
            if found is not None and found.tail.seq > self._upto:
                self._write(found)

    def _kept(self) -> Folded | None:
        """What was kept, as far as it is of this record, and what came after it."""
        lines = self._file.read()
        if lines is None:
            return None
        try:
            found = folded_of(lines, self._journal.station)
            if found is None or not self._is_ours(found):
                return None
            self._upto = found.tail.seq
            found.go_on(self._journal)
        except (AttributeError, IndexError, KeyError, TypeError, ValueError):
            log.warning("what was kept for a start cannot be used, and is made anew")
            return None
        return found

    def _is_ours(self, found: Folded) -> bool:
        seq = found.tail.seq
        return list(self._journal.hashes(seq, after=seq - 1)) == [found.tail.hash]

    def _write(self, found: Folded) -> None:
        try:
            self._file.write(found.as_lines(self._journal.station))
        except OSError as error:
            log.warning("what a start needs could not be kept", why=str(error))
        else:
            self._upto = found.tail.seq
