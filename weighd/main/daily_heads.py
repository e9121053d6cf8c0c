"""The head of each day, written while the station runs, and handed to whom it is for.

1. Once a day, at ``heads.at_utc``, the journal's head is signed and written into ``heads.folder``:
   as JSON, as text with its short form, and as one page to print. Days on which the station did not
   run are made up for at the next start: one head stands for all of them, and says so.
2. Nothing here can stop a weighing: it happens in a thread of its own, and what goes wrong (no
   folder, no room, a command that fails) is told on the page and in the log, and tried again.
3. The command is run as it is written, without a shell; the text of the head is its input.
"""

from __future__ import annotations

import json
import subprocess
import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import structlog

from weighd.domain import merkle
from weighd.domain.errors import RecordError, WeighdError
from weighd.domain.short_head import short_head
from weighd.domain.signing import Head, Signer, read_head, signed_head
from weighd.main.head_days import due_day, missed, next_due
from weighd.reports.head_sheet import head_lines, head_pdf
from weighd.storage.replacing import replace_file, tag_of

if TYPE_CHECKING:
    from weighd.config import Config
    from weighd.config.sections import HeadsSection

log = structlog.get_logger("weighd")
#: Seconds between looks at the clock, at most, so that a stepped clock is met, and a
#: machine that slept.
LOOK_S = 30.0
#: Seconds until what failed is tried again.
RETRY_S = 600.0
#: Seconds that the kitchen's command is given.
COMMAND_S = 120.0
#: Hashes are read so many at a time; between two pages others get the processor.
PAGE = 5_000
LARGEST = 64 * 1024

#: Tells whoever looks at the page: level, code, particulars.
Tell = Callable[[str, str, str], None]


class Hashes(Protocol):
    """The part of a journal that a head is made of."""

    station: str

    def tail(self) -> Any: ...

    def hashes(self, upto: int, *, after: int = 0) -> Iterable[str]: ...


def daily_heads(
    config: Config,
    journal: Hashes,
    signer: Signer,
    clock: Clock,
    tell: Tell = lambda _level, _code, _text: None,
) -> DailyHeads | None:
    """What writes the configured heads; ``None`` where none are asked for."""
    folder = config.heads.folder
    if folder is None:
        return None
    return DailyHeads(config.heads, config.place(folder), journal, signer, clock, tell)


class Clock(Protocol):
    """Wall time."""

    def utc(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Daily:
    """The head of a day, as it was written."""

    day: date
    head: Head
    missed: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """As the page and REST have it."""
        short = short_head(self.head.station, self.head.entries, self.head.root)
        return {
            "day": self.day.isoformat(),
            "short": str(short),
            "entries": self.head.entries,
            "at": self.head.at,
            "key": self.head.key,
            "missed": list(self.missed),
        }


class DailyHeads:
    """Writes a head a day. ``run`` in a thread of its own; ``drawn`` from any."""

    def __init__(
        self,
        section: HeadsSection,
        folder: Path,
        journal: Hashes,
        signer: Signer,
        clock: Clock,
        tell: Tell = lambda _level, _code, _text: None,
    ) -> None:
        self._section, self._folder = section, folder
        self._journal, self._signer, self._clock = journal, signer, clock
        self._tell = tell
        self._tree = merkle.Growing()
        self.latest: Daily | None = None
        self.problem = ""
        #: What the kitchen's command did not take yet.
        self._owed: Daily | None = None

    def run(self, stop: threading.Event) -> None:
        """Until ``stop``: make each head when it is due."""
        while not stop.is_set():
            wait = LOOK_S
            try:
                self.look(stop)
                wait = LOOK_S if self._owed is None else RETRY_S
            except (WeighdError, OSError) as error:
                wait = RETRY_S
                self._failed(str(error))
            except Exception as error:
                wait = RETRY_S
                log.exception("daily head failed")
                self._failed(repr(error))
            stop.wait(wait)

    def look(self, stop: threading.Event | None = None) -> Daily | None:
        """Make the head that is due, if it is not there; what was made.

        Raises :class:`OperatorError` or ``OSError`` where it cannot be written.
        """
        due = due_day(self._clock.utc(), self._section.at_utc)
        kept = self._kept()
        if self.latest is None and kept:
            self.latest = self._read(max(kept))
        if due in kept or not self._journal.tail().seq:
            if self._owed is not None:
                self._hand_over(self._owed)
            return None
        days = tuple(one.isoformat() for one in missed(kept, due))
        made = Daily(due, self._head(stop or threading.Event()), days)
        self._write(made)
        self.latest, self.problem = made, ""
        log.info("daily head", day=due.isoformat(), entries=made.head.entries, missed=len(days))
        if days:
            self._tell("info", "heads-missed", ", ".join(days))
        self._hand_over(made)
        return made

    def drawn(self) -> Mapping[str, Any]:
        """The newest head, when the next one is due, and what is wrong."""
        upcoming = next_due(self._clock.utc(), self._section.at_utc)
        return {
            "head": self.latest.as_json() if self.latest else None,
            "next": upcoming.isoformat().replace("+00:00", "Z"),
            "folder": str(self._folder),
            "problem": self.problem,
        }

    def _head(self, stop: threading.Event) -> Head:
        """The head as the journal stands; only what is new since the last one is read."""
        upto = self._journal.tail().seq
        for count, one in enumerate(self._journal.hashes(upto, after=self._tree.size), start=1):
            self._tree.add(bytes.fromhex(one))
            if count % PAGE == 0:
                stop.wait(0.005)
        size, root = self._tree.size, self._tree.root.hex()
        return signed_head(self._signer, self._journal.station, size, root, self._clock.utc())

    # --- files --------------------------------------------------------------------------------

    def _stem(self, day: date) -> str:
        return f"head-{self._journal.station}-{day.isoformat()}"

    def _kept(self) -> dict[date, Path]:
        """The heads of this station that are in the folder, by day."""
        start, out = self._stem(date.min)[:-10], {}
        if not self._folder.is_dir():
            return {}
        for path in self._folder.glob(f"{start}????-??-??.json"):
            try:
                out[date.fromisoformat(path.stem[len(start) :])] = path
            except ValueError:
                continue
        return out

    def _read(self, day: date) -> Daily | None:
        path = self._folder / f"{self._stem(day)}.json"
        try:
            with path.open("rb") as stream:
                return Daily(day, read_head(json.loads(stream.read(LARGEST)), str(path)))
        except (OSError, ValueError, RecordError):
            return None

    def _write(self, made: Daily) -> None:
        """The page and the text first, then the JSON: with that it is there."""
        self._folder.mkdir(parents=True, exist_ok=True)
        stem, day = self._folder / self._stem(made.day), made.day.isoformat()
        lines = head_lines(made.head, day, made.missed)
        _put(stem.with_name(stem.name + ".txt"), "\n".join(lines) + "\n")
        if self._section.pdf:
            try:
                page = head_pdf(made.head, day, made.missed)
                stem.with_name(stem.name + ".pdf").write_bytes(page)
            except WeighdError as error:  # the head is worth more than its page
                log.warning("daily head not on paper", why=str(error))
        text = json.dumps(made.head.as_json(), ensure_ascii=False, indent=1) + "\n"
        _put(stem.with_name(stem.name + ".json"), text)

    def _hand_over(self, made: Daily) -> None:
        """Run the kitchen's command with the head as its input; owed until it went well."""
        if not self._section.command:
            return
        self._owed = made
        told = {
            "{day}": made.day.isoformat(),
            "{short}": made.as_json()["short"],
            "{file}": str(self._folder / f"{self._stem(made.day)}.json"),
            "{station}": made.head.station,
        }
        argv = [_filled(one, told) for one in self._section.command]
        text = "\n".join(head_lines(made.head, made.day.isoformat(), made.missed)) + "\n"
        try:
            done = subprocess.run(  # noqa: S603 -- whoever configures the station names it
                argv, input=text.encode(), capture_output=True, timeout=COMMAND_S, check=False
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            self._failed(f"{argv[0]}: {getattr(error, 'strerror', None) or error}")
            return
        if done.returncode:
            said = done.stderr.decode("utf-8", "replace").strip().split("\n")[-1][:200]
            self._failed(f"{argv[0]} ended with {done.returncode}. {said}".strip())
            return
        self._owed, self.problem = None, ""

    def _failed(self, why: str) -> None:
        if why != self.problem:
            log.warning("daily head", why=why)
            self._tell("warn", "head-failed", why)
        self.problem = why


def _filled(argument: str, told: Mapping[str, str]) -> str:
    for name, value in told.items():
        argument = argument.replace(name, value)
    return argument


def _put(path: Path, text: str) -> None:
    replace_file(path, text, tag_of(path))
